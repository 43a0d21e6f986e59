"""Handouts: the picture to take away."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nicegui import ui

from glowtrace.web.controls import Choice, Switch, box, words
from glowtrace.web.frame import Frame
from glowtrace.web.handing.picture_files import KINDS, PATH, PictureForm

LOOKS: Final = {"dark": "dark room", "print": "paper"}
MODELS: Final = {"bench": "bench: real geometry", "ideal": "ideal: uniform fields"}


class PicturePart:
    """The part of the page.

    Parameters
    ----------
    frame
        The page around it.
    """

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._form = PictureForm()
        with box("handout", "section").props('aria-labelledby="handout-picture"'):
            with box("handout-asked"):
                words("Picture", "h3").props('id="handout-picture"')
                Choice("For the", LOOKS, self._look).put(self._form.look)
                Choice("Model", MODELS, self._model).put(self._form.model)
                textbook = Switch("Line of the textbook, dashed", self._textbook)
                textbook.put(self._form.has_textbook)
                Switch("Arrows of the forces", self._forces)
                with box("ways-on"):
                    self._links = {kind: words(kind.upper(), "a", "key") for kind in KINDS}
            with box("handout-shown"):
                self._shown = ui.element("img").classes("handout-picture")
                self._shown.props["alt"] = "The picture as it will be saved"
        self._put()

    def _look(self, look: str) -> None:
        self._put(replace(self._form, look="print" if look == "print" else "dark"))

    def _model(self, model: str) -> None:
        self._put(replace(self._form, model="ideal" if model == "ideal" else "bench"))

    def _textbook(self, is_on: bool) -> None:
        self._put(replace(self._form, has_textbook=is_on))

    def _forces(self, is_on: bool) -> None:
        self._put(replace(self._form, has_forces=is_on))

    def _put(self, form: PictureForm | None = None) -> None:
        """Show the picture as it is asked for, and let the links lead to it."""
        self._form = form or self._form
        preparation = self._frame.preparation
        for kind, link in self._links.items():
            link.props["href"] = f"{preparation.at(f'{PATH}.{kind}')}{self._form.query}&save=1"
            link.props["download"] = True
            link.props["aria-label"] = f"Save the picture as {kind.upper()}"
        self._shown.props["src"] = f"{preparation.at(f'{PATH}.png')}{self._form.query}"
        self._shown.update()
