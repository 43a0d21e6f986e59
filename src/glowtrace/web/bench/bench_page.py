"""The page that describes a bench: form, drawing, the tube in space, and what is kept."""

from __future__ import annotations

from functools import partial
from typing import Final

from nicegui import ui

from glowtrace.bench.beginnings import beginnings, own_copy
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.meanings import PARTS
from glowtrace.bench.model import Bench
from glowtrace.report.bench_drawing import draw_bench
from glowtrace.report.measuring_sheet import print_measuring_sheet
from glowtrace.web.bench.bench_form import BenchForm
from glowtrace.web.bench.browser_memory import BrowserMemory
from glowtrace.web.bench.draft import Draft, Verdict, draft_of, judged
from glowtrace.web.controls import box, button, put_prop, words
from glowtrace.web.frame import Frame
from glowtrace.web.rack import READY_MADE, SAVED
from glowtrace.web.served import file_name
from glowtrace.web.surface import surface_of
from glowtrace.web.tube import TubeView

MOST_UNDONE: Final = 300
LIGHT_UP: Final = """
document.addEventListener("focusin", (event) => {
  const number = event.target.dataset?.number?.replace(/\\[.*/, "");
  for (const each of document.querySelectorAll(".describing-drawing [data-number]"))
    each.classList.toggle("is-lit", each.dataset.number === number);
});
"""


class BenchPage:
    """The page in its frame; it begins with the bench that the address tells.

    A ready-made bench begins a copy of one's own. What is typed is kept in the browser until it is
    saved, so that a reload or a server that was ended loses nothing.
    """

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        bench = frame.bench
        is_ready_made = frame.preparation.place.startswith(READY_MADE)
        self._first = draft_of(own_copy(bench) if is_ready_made else bench)
        self._draft, self._verdict = self._first, judged(self._first)
        self._memory = BrowserMemory(frame.body.client, frame.preparation.place)
        self._undone: list[Draft] = []
        self._is_drawn = False
        with frame.body, box("columns describing"):
            with box("describing-form"):
                self._put_beginnings()
                self._form = BenchForm(self._draft, self._changed)
            with box("stack describing-side", "aside"):
                self._put_ways_on()
                self._drawing = ui.html("", sanitize=False).classes("describing-drawing")
                self._tube = TubeView()
                self._put_kept()
        ui.add_body_html(f"<script>{LIGHT_UP}</script>")

    async def run(self) -> None:
        """Take up what the browser kept, and show it."""
        kept = await self._memory.kept()
        if kept is not None and kept != self._draft:
            self._draft = kept
            self._form.put(kept)
            self._frame.say("Not saved yet: this is what you typed last.")
        self._show()
        self._memory.type_again()

    # ---- on the page -----------------------------------------------------------------------------

    def _put_beginnings(self) -> None:
        with box("ways-on describing-beginnings"):
            words("Begin from:", css="hint")
            for name, bench in beginnings().items():
                button(name, partial(self._begin, draft_of(own_copy(bench))))

    def _put_ways_on(self) -> None:
        self._state = words("", "p", "describing-state").props('role="status"')
        with box("ways-on"):
            self._ways = [
                button("Rehearse this", self._rehearse, "key is-main"),
                button("Save", self._save),
            ]
            self._undo = button("Undo", self._take_back)
            button("Measuring sheet (PDF)", self._download_sheet)
        self._over = button("Overwrite (the earlier version is kept)", self._save_over)
        self._over.set_visibility(False)

    def _put_kept(self) -> None:
        """Put on the page what can be done with the bench as a file, and with its versions."""
        group, _, name = self._frame.preparation.place.partition("/")
        with box("fold", "details"):
            words("File, versions, delete", "summary")
            with box("ways-on"):
                button("Download the bench file", self._download)
                if group == SAVED:
                    button("Rename to the name above", self._rename)
                    button("Delete all versions", self._delete)
            store = self._frame.rack.store
            if group == SAVED and store is not None:
                with box("rows", "ol"):
                    for version in store.benches.versions(name):
                        with ui.element("li"):
                            when = f"{version.changed.astimezone():%d %b %Y, %H:%M}"
                            opened = partial(self._open, version.text)
                            button(f"Open the version of {when}", opened, "plain")

    # ---- what is typed ---------------------------------------------------------------------------

    def _changed(self, draft: Draft) -> None:
        self._undone = [*self._undone[-MOST_UNDONE:], self._draft]
        self._draft = draft
        self._show()
        self._memory.keep(draft)

    def _begin(self, draft: Draft) -> None:
        self._memory.drop_typed()
        self._changed(draft)
        self._form.put(draft)
        self._show()

    def _open(self, text: str) -> None:
        with self._frame.telling():
            self._begin(draft_of(bench_from_toml(text)))

    def _take_back(self) -> None:
        if self._undone:
            self._draft = self._undone.pop()
            self._form.put(self._draft)
            self._show()
            self._memory.drop_typed()
            self._memory.keep(self._draft)

    def _show(self) -> None:
        """Show what the draft makes."""
        before, self._verdict = self._verdict, judged(self._draft)
        verdict: Verdict = self._verdict
        drawing = draw_bench(verdict.parts, wrong=frozenset(verdict.problems))
        self._drawing.content = drawing.svg
        self._form.show_problems(verdict.problems, drawing.letters)
        count = len(verdict.problems)
        self._state.text = (
            f"{count} number{'s' if count > 1 else ''} to put right: see beside the fields."
            if count
            else "All numbers agree with each other."
        )
        self._state.classes(**{"add" if count else "remove": "is-off"})
        for way in self._ways:
            put_prop(way, "disabled", bool(count))
        self._over.set_visibility(False)
        if verdict.bench is not None and (before.bench != verdict.bench or not self._is_drawn):
            self._tube.set_up(verdict.bench, surface_of(verdict.bench).glow)
            self._is_drawn = True

    # ---- what is kept ----------------------------------------------------------------------------

    def _rehearse(self) -> None:
        bench = self._verdict.bench
        if bench is not None:
            place = self._frame.rack.take_in(bench)
            ui.navigate.to(self._frame.preparation.with_changed(place, bench).at("/"))

    def _save(self) -> None:
        self._keep(overwrite=self._frame.preparation.place == f"{SAVED}/{self._name}")

    def _save_over(self) -> None:
        self._keep(overwrite=True)

    def _keep(self, *, overwrite: bool) -> None:
        bench = self._verdict.bench
        if bench is None:
            return
        with self._frame.telling():
            benches = self._frame.rack.kept.benches
            self._over.set_visibility(True)  # offered until it is saved
            benches.save(bench.name, bench, overwrite=overwrite)
            self._leave(f"{SAVED}/{bench.name}", bench)

    def _rename(self) -> None:
        bench, frame = self._verdict.bench, self._frame
        if bench is None:
            frame.say("Put the numbers right first: a renamed bench is saved with them.")
            return
        with frame.telling():
            benches = frame.rack.kept.benches
            benches.rename(frame.preparation.place.partition("/")[2], bench.name)
            benches.save(bench.name, bench, overwrite=True)
            self._leave(f"{SAVED}/{bench.name}", bench)

    def _delete(self) -> None:
        name = self._frame.preparation.place.partition("/")[2]
        with ui.dialog() as dialog, box("sheet"):
            words(f"Delete “{name}” with all its versions?", "h2")
            with box("ways-on"):
                button("Delete", lambda: self._delete_now(name))
                button("Keep it", dialog.close)
        dialog.open()

    def _delete_now(self, name: str) -> None:
        with self._frame.telling():
            self._frame.rack.kept.benches.delete(name)
            self._memory.forget()
            ui.navigate.to("/bench")

    def _download(self) -> None:
        if self._verdict.bench is None:
            self._frame.say("Put the numbers right first: a bench file holds a sound bench.")
            return
        text = bench_to_toml(self._verdict.bench, is_explained=True)
        ui.download(text.encode(), f"{file_name(self._name)}.toml")

    def _download_sheet(self) -> None:
        paper = self._frame.preparation.paper
        numbers = [(PARTS[part], self._draft.numbers(part)) for part in PARTS]
        content = print_measuring_sheet(self._name, numbers, self._verdict.parts, paper)
        ui.download(content, f"measuring-sheet-{file_name(self._name)}.pdf")

    @property
    def _name(self) -> str:
        return self._draft.texts.get("name", "").strip()

    def _leave(self, place: str, bench: Bench) -> None:
        """Show the page of a saved bench; the browser forgets what is saved now."""
        self._memory.forget()
        ui.navigate.to(self._frame.preparation.with_changed(place, bench).at("/bench"))
