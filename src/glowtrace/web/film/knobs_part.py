"""Film: the knobs by time, noted, held or straight between, or one of them estimated."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.errors import GlowtraceError
from glowtrace.films.knob_times import Between
from glowtrace.report.films.description import Moment
from glowtrace.report.films.filmed_shots import relative_knobs
from glowtrace.web.controls import Choice, Picker, box, button, complaint, hint, words
from glowtrace.web.film.film_work import FilmWork
from glowtrace.web.film.row_list import Column, Row, RowList
from glowtrace.web.frame import Frame
from glowtrace.words.bench import knob_name

BETWEEN: Final[dict[str, str]] = {"straight": "turned evenly", "held": "held"}


class KnobsPart:
    """The part of the page."""

    def __init__(self, frame: Frame, work: FilmWork) -> None:
        self._frame, self._work = frame, work
        knobs = knobs_of(frame.bench)
        words("Knobs by time", "h2")
        hint("Where nothing is noted, the settings above hold throughout. Below zero: reversed.")
        columns = [Column("time", "time", "s")]
        columns += [Column(knob, knob_name(knob), KNOBS[knob]) for knob in knobs]
        self._rows = RowList(columns, self._put_moments, "moment")
        with box("ways-on"):
            button("Note the knobs here", self._note)
        self._between = Choice("Between", BETWEEN, self._choose_between)
        if frame.bench.plane.is_line:
            with box("labelled", "label"):
                words("Estimated from the line, for a knob that was not noted")
                self._estimate: Picker | None = Picker("Estimated knob", self._choose_estimate)
        else:
            self._estimate = None
        self._complaint = complaint()
        self.show()

    def show(self) -> None:
        """Show what the description tells."""
        told = self._work.told
        self._rows.put([_row(moment) for moment in told.moment])
        self._between.put(told.between)
        if self._estimate is not None:
            knobs = {knob: knob_name(knob) for knob in knobs_of(self._frame.bench)}
            self._estimate.offer({"Estimate": {"": "none", **knobs}}, told.estimate or "")

    def _put_moments(self, rows: Sequence[Row]) -> None:
        moments = tuple(Moment(**row) for row in rows)
        self._work.change(moment=tuple(sorted(moments, key=lambda moment: moment.time)))

    def _note(self) -> None:
        """Add a moment at the pointer, with the knobs as they are taken there now."""
        told, at = self._work.told, round(self._work.at, 3)
        values = relative_knobs(told.knobs.at(at), told.settings)
        shown = knobs_of(self._frame.bench)
        noted = {k: v for k, v in values.items() if k in shown and k != told.estimate}
        self._rows.add({"time": at, **noted})

    def _choose_between(self, between: str) -> None:
        chosen: Between = "held" if between == "held" else "straight"
        self._work.change(between=chosen)

    def _choose_estimate(self, knob: str) -> None:
        self._complaint.text = ""
        try:
            self._work.change(estimate=knob or None)
        except GlowtraceError as error:
            self._complaint.text = str(error)
            self.show()


def _row(moment: Moment) -> Row:
    return {"time": moment.time, **moment.knobs}
