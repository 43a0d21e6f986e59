"""The left side of the page: method, readings and instruments as they are written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.model import Bench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.suiting import SAYS, TITLES, why_not
from glowtrace.measure.tables.heads import Head, UnsureColumnsError
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import read_table, write_table
from glowtrace.measure.usual_meters import meter_names, stepped
from glowtrace.web.controls import Picker, box, button, file_button, hint, read_text, words
from glowtrace.web.measure.cells import Cells
from glowtrace.web.measure.draft import (
    Draft,
    Mark,
    draft_of,
    empty_draft,
    is_unsure,
    marks_of,
    names_columns,
    put_texts,
    rows_from,
    table_of,
)
from glowtrace.web.measure.heads_form import HeadsForm
from glowtrace.web.measure.meters_form import MetersForm

LARGEST_FILE = 1_000_000
_MOST_UNDONE = 50


class ReadingsPart:
    """Method, readings and instruments.

    Parameters
    ----------
    bench, method
        What stands there, and how it is measured first.
    say
        Shows one message; an empty one removes it.
    on_method
        Called with another method that was chosen.
    on_change
        Called when the readings have changed.
    on_invent
        Called when made-up readings are wanted.
    on_photograph
        Called when a photograph is to be read.
    on_save
        Called when the readings are to be kept.
    on_saved
        Called with the JSON text of a whole measurement that was saved and is opened again.
    """

    def __init__(
        self,
        bench: Bench,
        method: Method,
        *,
        say: Callable[[str], None],
        on_method: Callable[[Method], object],
        on_change: Callable[[], object],
        on_invent: Callable[[], object],
        on_photograph: Callable[[], object],
        on_save: Callable[[], object],
        on_saved: Callable[[str], object],
    ) -> None:
        self._bench = bench
        self._say, self._on_method, self._on_change = say, on_method, on_change
        self._on_saved = on_saved
        self.draft = empty_draft(method)
        self._earlier: list[Draft] = []
        with box("method-row"):
            self._picker = Picker("Method", self._picked)
            self._says = hint("")
            with box("fold", "details"):
                words("Methods that do not suit this bench", "summary")
                self._unsuited = box("untold", "ul")
        with box("row readings-ways"):
            button("Made-up readings to try", on_invent, "plain")
            button("From a photograph", on_photograph, "plain")
            kinds = ".csv,.tsv,.txt,.json,text/csv"
            take = read_text(LARGEST_FILE)
            file_button("Open a file (CSV, JSON)", kinds, take, self._opened)
            button("Save as CSV", self._save_csv, "plain")
            button("Copy all", self._copy, "plain")
            button("Save to the logbook", on_save, "plain")
            button("Clear", self._clear, "plain")
        self._invented = words(
            "Invented readings: made up for trying, measured by nobody.", "p", "attention"
        )
        self._wrong = words("", "p", "attention").props('role="alert"')
        self._heads = HeadsForm(self._take_told)
        self._asked = ""
        self._cells = Cells(self._written, self._pasted)
        with box("row below-cells"):
            button("Add a row", self._cells.add_row)
            self._undo = button("Undo", self._take_back)
            self._undo.props["title"] = "Take back the last change of the readings"
            self._undo.set_visibility(False)
            self._runs = button("Several runs or observers", self._with_runs, "plain")
            self._count = hint("").props('role="status"')
        self._meters = MetersForm(self._set_meter)
        self._show()

    @property
    def table(self) -> Table:
        """The readings as they are now; a GlowtraceError where they make no table."""
        return table_of(self.draft)

    def put(self, readings: Table) -> None:
        """Show other readings."""
        self.put_draft(draft_of(readings))

    def put_draft(self, draft: Draft) -> None:
        """Show other readings as they were written."""
        self._remember(draft)
        self.draft = draft
        self._show()
        self._on_change()

    def tell(self, text: str) -> None:
        """Say something under the table."""
        self._count.text = text

    def point(self, rows: Sequence[int]) -> None:
        """Point out rows of the table."""
        written = self.draft.written
        self._cells.point([written[n] for n in rows if n < len(written)])

    def _show(self) -> None:
        draft = self.draft
        suited: dict[str, str] = {
            each: TITLES[each] for each in TITLES if why_not(each, self._bench) is None
        }
        self._picker.offer({"Suits this bench": suited}, draft.method)
        others = [
            f"{TITLES[each]}: {why_not(each, self._bench)}" for each in TITLES if each not in suited
        ]
        self._says.text = SAYS[draft.method]
        self._unsuited.clear()
        with self._unsuited:
            for each in others:
                words(each, "li")
        self._cells.set_columns(draft.columns, has_runs=draft.has_runs)
        self._meters.put(
            draft.method, meter_names(draft.method, draft.instruments), draft.instruments
        )
        self._cells.put(draft.rows, self._marks())

    def _marks(self) -> list[list[Mark]]:
        """Give what is said about each cell, and tell how many rows count."""
        draft = self.draft
        self._invented.set_visibility(draft.is_invented)
        try:
            readings = table_of(draft)
        except GlowtraceError as error:
            self._say(str(error))
            return []
        usable, written = len(readings.usable), len(draft.written)
        left = written - usable
        self._count.text = (
            f"{usable} of {written} rows count; {left} cannot be used, for the reason in the cell."
            if left
            else f"{usable} {'row counts' if usable == 1 else 'rows count'}."
        )
        return marks_of(draft, readings)

    def _remember(self, new: Draft) -> None:
        """Keep what was there before a change, to bring it back; other methods' is kept apart."""
        if new.method != self.draft.method:
            self._earlier.clear()
        elif new.rows != self.draft.rows and self.draft.written:
            self._earlier = [*self._earlier[1 - _MOST_UNDONE :], self.draft]
        self._undo.set_visibility(bool(self._earlier))

    def _take_back(self) -> None:
        if not self._earlier:
            return
        self._say("")
        self.draft = self._earlier.pop()
        self._undo.set_visibility(bool(self._earlier))
        self._show()
        self._on_change()

    def _changed(self, draft: Draft) -> None:
        self._say("")
        self._remember(draft)
        self.draft = draft
        self._cells.put_marks(self._marks())
        self._on_change()

    def _written(self, rows: Sequence[Sequence[object]]) -> None:
        texts = rows_from(rows, self.draft.width)
        # Readings that somebody changed are no longer purely made up, but stay marked.
        self._changed(replace(self.draft, rows=texts))

    def _pasted(self, text: str, row: int, column: int) -> None:
        draft = self.draft
        is_new = not draft.written and row == column == 0
        if names_columns(text) or (is_new and is_unsure(text, draft.method)):
            self._take(text)
            return
        try:
            rows = put_texts(draft.rows, row, column, text, draft.width)
        except GlowtraceError as error:
            self._tell_wrong(str(error))
            return
        self._tell_wrong("")
        self.put_draft(replace(draft, rows=rows))

    def _tell_wrong(self, text: str) -> None:
        """Say beside the table what is wrong with what was put in; nothing takes it away."""
        self._say("")
        self._heads.clear()
        self._wrong.text = text

    def _take_told(self, heads: Sequence[Head], same: Mapping[str, str]) -> None:
        """Take the table that was asked about."""
        self._take(self._asked, heads, same)

    def _take(
        self,
        text: str,
        heads: Sequence[Head] | None = None,
        same: Mapping[str, str] | None = None,
    ) -> None:
        """Take a whole table from text; its own method and instruments count where it has some."""
        method = None if "method:" in text[:400] else self.draft.method
        try:
            readings = read_table(text, method, heads, same)
            reason = why_not(readings.method, self._bench)
            if reason is not None:
                raise GlowtraceError(f'The table is for "{TITLES[readings.method]}": {reason}.')
        except UnsureColumnsError as error:
            self._tell_wrong("")
            self._asked = text
            self._heads.ask(error.columns, error.guess, error.body)
            return
        except GlowtraceError as error:
            self._tell_wrong(str(error))
            return
        self._tell_wrong("")
        if not readings.instruments and readings.method == self.draft.method:
            instruments = stepped(readings, self.draft.instruments)
            readings = replace(readings, instruments=instruments)
        self.put(readings)

    def _set_meter(self, name: str, instrument: Instrument) -> None:
        instruments = {**self.draft.instruments, name: instrument}
        self._changed(replace(self.draft, instruments=instruments))

    def _with_runs(self) -> None:
        """Give the table a column for the name of a run or observer, or take an empty one away."""
        self.put_draft(self.draft.with_runs(not self.draft.has_runs))

    def _clear(self) -> None:
        self._tell_wrong("")
        empty = empty_draft(self.draft.method, self.draft.plate_tie)
        self.put_draft(replace(empty, instruments=self.draft.instruments))

    def _save_csv(self) -> None:
        try:
            text = write_table(self.table, ",")
        except GlowtraceError as error:
            self._say(str(error))
            return
        name = f"readings-{self.draft.method.replace(' ', '-')}.csv"
        ui.download.content(text, name, "text/csv")

    def _copy(self) -> None:
        try:
            readings = self.table
        except GlowtraceError as error:
            self._say(str(error))
            return
        ui.clipboard.write(write_table(readings))
        self.tell("Copied, with heads and meters: paste it into a spreadsheet.")

    def _opened(self, event: GenericEventArguments) -> None:
        name, text = event.args
        if text is None:
            allowed = f"a table has at most {LARGEST_FILE // 1_000_000} MB"
            self._say(f'"{name}": {allowed}; is it the right file?')
            return
        if str(text).lstrip().startswith("{"):
            self._on_saved(str(text))
        else:
            self._take(str(text))

    def _picked(self, method: str) -> object:
        return self._on_method(next(each for each in TITLES if each == method))
