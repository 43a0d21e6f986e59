"""Handouts: the worksheets to take away."""

from __future__ import annotations

import secrets
from base64 import b64encode
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Final

from nicegui import background_tasks, context, ui
from nicegui.events import GenericEventArguments
from pydantic import Field

from glowtrace.bench.prepared import PreparedBench
from glowtrace.report.sheet_print import Paper
from glowtrace.report.worksheets.content import LEVELS, Level, Worksheet
from glowtrace.report.worksheets.markdown import worksheets_markdown
from glowtrace.report.worksheets.print import print_worksheets, show_first_pages
from glowtrace.report.worksheets.worksheet import MOST_LEARNERS, MOST_SEED, build_worksheet
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.address import fragment, read_state, told_state
from glowtrace.web.controls import VALUE, Choice, box, button, hint, put_prop, words
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.made_files import MadeFiles
from glowtrace.web.handouts.making import Making
from glowtrace.web.served import file_name

NAMES: Final[dict[str, str]] = {"proportion": "proportion", "algebra": "algebra, vectors"}
SHEET: Final = "sheet."
PAPERS: Final = {"a4": "A4", "us-letter": "Letter"}


@dataclass(frozen=True)
class SheetsForm:
    """Which worksheets are made."""

    level: Level = "algebra"
    seed: Annotated[int, Field(ge=0, le=MOST_SEED)] = 1
    learners: Annotated[int, Field(ge=1, le=MOST_LEARNERS)] = 1


class SheetsPart:
    """The part of the page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where sheets are kept for their visitors.
    query
        Of the page's address: what is chosen at first.
    on_change
        Called after something else was chosen.
    """

    def __init__(
        self,
        frame: Frame,
        files: MadeFiles,
        query: Mapping[str, str],
        on_change: Callable[[], None],
    ) -> None:
        self._frame, self._files, self._on_change = frame, files, on_change
        self._form = read_state(query, SheetsForm(), SHEET)
        self._paper: Paper = frame.preparation.paper
        self._made: list[str] = []
        with box("columns part handout", "section").props('aria-labelledby="handout-sheets"'):
            with box("stack handout-asked"):
                words("Worksheets", "h2").props('id="handout-sheets"')
                Choice("Mathematics", NAMES, self._choose_level).put(self._form.level)
                self._says = hint("")
                with box("row"):
                    self._learners_field = self._field(
                        "Learners", str(self._form.learners), self._type_learners
                    )
                    self._seed_field = self._field("Seed", str(self._form.seed), self._type_seed)
                    button("Other numbers", self._other, "plain")
                hint(
                    "Each learner has numbers of their own. The same seed gives the same sheets; "
                    "their numbers, such as 1–3, stand in the head of sheets and answers."
                )
                Choice("Paper", PAPERS, self._choose_paper).put(self._paper)
                self._making = Making("Make the worksheets", self._make)
                self._links = box("ways-on")
            with box("handout-shown"):
                self._shown = box("pair handout-pages is-paper")
        context.client.on_delete(self._forget)

    @property
    def query(self) -> str:
        """What is chosen, for the page's address, as far as it is not as usual."""
        return fragment(told_state(self._form, SheetsForm(), SHEET))

    async def show_first(self) -> None:
        """Show the first pages of the first learner's sheet and answers."""
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        asked = self._form.level, self._form.seed, self._paper
        self._says.text = f"Needs {LEVELS[self._form.level]}."

        def draw() -> tuple[bytes, bytes]:
            return show_first_pages(build_worksheet(prepared, asked[0], seed=asked[1]), asked[2])

        pages = await self._frame.compute("Drawing the first sheet", draw)
        if pages is None or asked != (self._form.level, self._form.seed, self._paper):
            return
        self._shown.clear()
        names = "The first page of the first sheet", "The first page of its answers"
        with self._shown:
            for name, page in zip(names, pages, strict=True):
                image = ui.element("img")
                image.props["src"] = f"data:image/png;base64,{b64encode(page).decode('ascii')}"
                image.props["alt"] = name

    def _field(
        self, label: str, value: str, on_change: Callable[[GenericEventArguments], None]
    ) -> ui.element:
        with box("asked", "label"):
            words(label)
            entry = ui.element("input").classes("field").props('type="text" inputmode="numeric"')
            entry.props["value"] = value
            entry.on("change", on_change, js_handler=VALUE)
        return entry

    def _choose_level(self, level: str) -> None:
        chosen: Level = "proportion" if level == "proportion" else "algebra"
        self._form = replace(self._form, level=chosen)
        self._renew()

    def _choose_paper(self, paper: str) -> None:
        self._paper = "us-letter" if paper == "us-letter" else "a4"
        self._frame.preparation = replace(self._frame.preparation, paper=self._paper)
        self._renew()

    def _type_learners(self, event: GenericEventArguments) -> None:
        number = self._whole("Learners", event, 1, MOST_LEARNERS)
        if number is not None:
            self._form = replace(self._form, learners=number)
            self._clear()
            self._on_change()

    def _type_seed(self, event: GenericEventArguments) -> None:
        number = self._whole("Seed", event, 0, MOST_SEED)
        if number is not None:
            self._form = replace(self._form, seed=number)
            self._renew()

    def _whole(self, name: str, event: GenericEventArguments, low: int, high: int) -> int | None:
        text = str(event.args).strip()
        number = whole(text, low, high)
        wanted = f"give a whole number from {low} to {high}"
        told = f'{name}: "{text}" is not allowed; {wanted}' if number is None else ""
        self._making.complain(told)
        return number

    def _other(self) -> None:
        self._form = replace(self._form, seed=secrets.randbelow(MOST_SEED + 1))
        put_prop(self._seed_field, "value", str(self._form.seed))
        self._renew()

    def _renew(self) -> None:
        self._clear()
        self._on_change()
        background_tasks.create(self.show_first(), name="first sheet")

    async def _make(self) -> None:
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        self._clear()
        asked = self._form.level, self._form.seed, self._form.learners, self._paper
        made = await self._making.run(partial(self._work, prepared, *asked))
        if not made:
            return
        with self._links:
            for label, path, name in made:
                link = words(label, "a", "key").props("download")
                link.props["href"] = f"{self._hold(path, name)}?save=1"

    def _work(
        self,
        prepared: PreparedBench,
        level: Level,
        seed: int,
        learners: int,
        paper: Paper,
        note: Progress,
        cancelled: Cancelled,
    ) -> tuple[tuple[str, Path, str], ...]:
        """Build sheet by sheet among all other work, then write the files; nothing if cancelled."""
        rack, sheets = self._frame.rack, []
        for learner in range(1, learners + 1):
            if cancelled():
                return ()
            build = partial(build_worksheet, prepared, level, seed=seed, learner=learner)
            sheets.append(rack.compute_in_turn(build))
            note(0.9 * learner / learners, f"sheet {learner} of {learners}")
        note(0.95, "printing")
        return tuple(self._write(sheets, paper))

    def _write(self, sheets: list[Worksheet], paper: Paper) -> list[tuple[str, Path, str]]:
        first = sheets[0]
        name = file_name("worksheets", first.bench, first.level, str(first.seed))
        contents = (
            ("Save the sheets (PDF)", "", ".pdf", print_worksheets(sheets, paper, "sheets")),
            (
                "Save the answers (PDF)",
                "-answers",
                ".pdf",
                print_worksheets(sheets, paper, "answers"),
            ),
            ("Sheets as Markdown", "", ".md", worksheets_markdown(sheets, "sheets").encode()),
            (
                "Answers as Markdown",
                "-answers",
                ".md",
                worksheets_markdown(sheets, "answers").encode(),
            ),
        )
        made = []
        for label, more, ending, content in contents:
            path = self._files.place(ending)
            path.write_bytes(content)
            made.append((label, path, f"{name}{more}{ending}"))
        return made

    def _hold(self, path: Path, name: str) -> str:
        address = self._files.hold(path, name)
        self._made.append(address)
        return address

    def _clear(self) -> None:
        self._links.clear()
        self._forget()

    def _forget(self) -> None:
        for address in self._made:
            self._files.drop(address)
        self._made.clear()


def whole(text: str, low: int, high: int) -> int | None:
    """Read a whole number between two others; None where it is none."""
    is_number = text.isascii() and text.isdecimal() and len(text) <= len(str(high))
    return int(text) if is_number and low <= int(text) <= high else None
