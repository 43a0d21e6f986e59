"""The head of every page: name, menu of benches, bench files, saved settings, keys, steps."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.files import bench_from_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import BenchError, GlowtraceError, Problem, StoreError
from glowtrace.store import SavedSettings
from glowtrace.web.controls import Picker, box, button, file_button, read_text, words
from glowtrace.web.keys import KeysDialog
from glowtrace.web.preparation import Preparation
from glowtrace.web.rack import Rack
from glowtrace.web.saved import SavedDialog
from glowtrace.web.steps import Steps

LARGEST_FILE = 200_000
"""Bytes; a bench file has a few thousand."""


class Header:
    """The head of a page. Building it puts it there.

    Another bench, an opened file and reopened settings lead to the same page at another address.

    Parameters
    ----------
    rack, path
        The benches, and the page's path.
    prepared
        Gives what is prepared at the moment.
    bench
        The bench that the page is about.
    say
        Is told what went wrong.
    carried
        Gives what the address of this page carries to a bench at a place, with a leading "&".
    """

    def __init__(
        self,
        rack: Rack,
        path: str,
        prepared: Callable[[], Preparation],
        bench: Bench,
        say: Callable[[str], object],
        carried: Callable[[str], str],
    ) -> None:
        self._rack, self._path, self._prepared, self._say = rack, path, prepared, say
        self._carried = carried
        self._bench = bench
        saved = SavedDialog(rack.store, self._save, self._reopen)
        with box("header", "header"):
            words("Glowtrace", "p", "brand")
            self._picker = Picker("Bench", self._pick)
            file_button("Open a bench file", ".toml", read_text(LARGEST_FILE), self._read)
            words("an invented bench" if bench.invented else "", css="quiet")
            with box("header-end"):
                button("Saved settings", saved.open, "plain")
                KeysDialog(has_knobs=path == "/").button()
            self.steps = Steps(path)
        self._offer()

    def _offer(self) -> None:
        """Show the benches that there are."""
        place = self._prepared().place
        try:
            self._picker.offer(self._rack.offer(), place)
        except StoreError as error:
            self._picker.offer({"": {place: self._bench.name}}, place)
            ui.notify(str(error))

    def _go(self, bench: Bench, place: str, settings: Settings | None = None) -> None:
        wanted = self._prepared().moved_to(place, settings or opening_settings(bench))
        ui.navigate.to(wanted.at(self._path) + self._carried(place))

    def _pick(self, place: str) -> None:
        try:
            self._go(self._rack.bench(place), place)
        except GlowtraceError as error:
            self._say(str(error))
            self._offer()

    def _read(self, event: GenericEventArguments) -> None:
        name, text = event.args
        subject = f'bench file "{name}"'
        try:
            if text is None:
                allowed = (
                    f"a bench file has at most {LARGEST_FILE // 1000} kB: is it the right one?"
                )
                raise BenchError(subject, [Problem("file", "this file is too large", allowed)])
            bench = bench_from_toml(str(text), subject)
            place = self._rack.keep(bench)
            if bench.name == self._bench.name:  # the same one, corrected
                more = self._carried(self._prepared().place)
                ui.navigate.to(self._prepared().with_changed(place, bench).at(self._path) + more)
            else:
                self._go(bench, place)
        except GlowtraceError as error:
            self._say(str(error))

    def _save(self, name: str, *, overwrite: bool) -> None:
        settings = self._prepared().settings
        self._rack.kept.settings.save(name, settings, self._bench, overwrite=overwrite)

    def _reopen(self, saved: SavedSettings) -> None:
        try:
            self._go(saved.bench, self._rack.take_in(saved.bench), saved.settings)
        except GlowtraceError as error:
            self._say(str(error))
