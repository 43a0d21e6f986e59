"""Handouts: the picture to take away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from nicegui import ui

from glowtrace.web.controls import Choice, Switch, box, words
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.picture_files import KINDS, PATH, PictureForm
from glowtrace.words.bench import model_choices

LOOKS: Final = {"dark": "dark room", "print": "paper"}


class PicturePart:
    """The part of the page.

    Parameters
    ----------
    frame
        The page around it.
    form
        How the picture is drawn at first.
    on_change
        Called after something else was chosen.
    """

    def __init__(self, frame: Frame, form: PictureForm, on_change: Callable[[], None]) -> None:
        self._frame, self._form, self._on_change = frame, form, on_change
        with box("columns part handout", "section").props('aria-labelledby="handout-picture"'):
            with box("stack handout-asked"):
                words("Picture", "h2").props('id="handout-picture"')
                Choice("For the", LOOKS, self._look).put(self._form.look)
                Choice("Fields", model_choices(), self._model).put(self._form.model)
                textbook = Switch("Line of the textbook, dashed", self._textbook)
                textbook.put(self._form.has_textbook)
                Switch("Arrows of the forces", self._forces).put(self._form.has_forces)
                with box("ways-on"):
                    self._links = {kind: words(kind.upper(), "a", "key") for kind in KINDS}
            with box("handout-shown"):
                self._shown = ui.element("img").classes("handout-picture")
                self._shown.props["alt"] = "The picture as it will be saved"
        self._show()

    @property
    def query(self) -> str:
        """What is chosen, for the page's address."""
        return self._form.query

    def _look(self, look: str) -> None:
        self._put(replace(self._form, look="print" if look == "print" else "dark"))

    def _model(self, model: str) -> None:
        self._put(replace(self._form, model="ideal" if model == "ideal" else "bench"))

    def _textbook(self, is_on: bool) -> None:
        self._put(replace(self._form, has_textbook=is_on))

    def _forces(self, is_on: bool) -> None:
        self._put(replace(self._form, has_forces=is_on))

    def _put(self, form: PictureForm) -> None:
        self._form = form
        self._show()
        self._on_change()

    def _show(self) -> None:
        """Show the picture as it is asked for, and let the links lead to it."""
        preparation = self._frame.preparation
        for kind, link in self._links.items():
            link.props["href"] = f"{preparation.at(f'{PATH}.{kind}')}{self._form.query}&save=1"
            link.props["download"] = True
            link.props["aria-label"] = f"Save the picture as {kind.upper()}"
        self._shown.classes(
            add="is-paper" if self._form.look == "print" else "",
            remove="" if self._form.look == "print" else "is-paper",
        )
        self._shown.props["src"] = f"{preparation.at(f'{PATH}.png')}{self._form.query}"
        self._shown.update()
