"""Choose the knobs of a map, their ranges, and the polarities."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import cast

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Knob
from glowtrace.errors import GlowtraceError
from glowtrace.web.controls import Choice, Picker, box, button, complaint, field, words
from glowtrace.web.naming import knob_text, read_field
from glowtrace.web.plan.outcome_axes import Axes, Side, offered_knobs, whole_range
from glowtrace.web.wiring import settle
from glowtrace.words.bench import knob_name

SIDES: dict[Side, str] = {"across": "Across", "up": "Up"}
SENSES = {"no": "normal", "yes": "reversed"}


class AxesForm:
    """The form.

    Parameters
    ----------
    bench, settings, axes
        What stands there, what is set, and the axes that are shown first.
    on_change
        Called with the settings and the axes when either was changed.
    """

    def __init__(
        self,
        bench: Bench,
        settings: Settings,
        axes: Axes,
        on_change: Callable[[Settings, Axes], None],
    ) -> None:
        self._bench, self._settings, self._axes = bench, settings, axes
        self._on_change = on_change
        self._choices: dict[str, Choice] = {}
        with box("axes across", "fieldset").props('aria-label="The map"'):
            self._sides = box("row")
            with box("row"):
                if bench.plates is not None:
                    self._sense("Plates", "plate_reversed")
                if bench.coils is not None:
                    self._sense("Coil", "coil_reversed")
                button("Whole range", self._reset)
            self._hint = complaint()
        self._fill()

    def put(self, settings: Settings, axes: Axes) -> None:
        """Show other axes and polarities."""
        self._settings, self._axes = settings, axes
        for name, choice in self._choices.items():
            choice.put("yes" if getattr(settings, name) else "no")
        self._fill()

    def _fill(self) -> None:
        self._sides.clear()
        axes = self._axes
        with self._sides:
            for side, knob, reach in (
                ("across", axes.across, axes.reach_across),
                ("up", axes.up, axes.reach_up),
            ):
                self._put_side(cast(Side, side), knob, reach)
        self._hint.text = self._advice()

    def _put_side(self, side: Side, knob: Knob, reach: tuple[float, float]) -> None:
        with box("axes-side"):
            words(SIDES[side], css="capital")
            picker = Picker(f"Knob {side}", partial(self._pick, side))
            knobs: dict[str, str] = {each: knob_name(each) for each in offered_knobs(self._bench)}
            picker.offer({"Knobs": knobs}, knob)
            for end, value in enumerate(reach):
                words("from" if end == 0 else "to", css="capital")
                text = knob_text(knob, value) if value else f"0 {KNOBS[knob]}"
                label = f"{SIDES[side]} {'from' if end == 0 else 'to'}"
                field(text, partial(self._typed, side, end), label)

    def _pick(self, side: Side, name: str) -> None:
        knob, axes, bench = cast(Knob, name), self._axes, self._bench
        other = axes.up if side == "across" else axes.across
        if knob == other:  # the two change places
            axes = Axes(axes.up, axes.across, axes.reach_up, axes.reach_across)
        else:
            axes = axes.with_side(side, knob, whole_range(bench, knob))
        self._tell(self._settings, axes)

    def _typed(self, side: Side, end: int, text: str) -> None:
        knob = self._axes.across if side == "across" else self._axes.up
        ends = list(self._axes.reach_across if side == "across" else self._axes.reach_up)
        try:
            ends[end] = read_field(text, KNOBS[knob], KNOBS[knob])
        except GlowtraceError as error:
            self._hint.text = f"{SIDES[side]}: {error}"
            return
        if not ends[0] < ends[1] or (ends[0] < 0 and knob == "accelerating_voltage"):
            least = "0 or more, " if knob == "accelerating_voltage" else ""
            self._hint.text = (
                f"{SIDES[side]}: {knob_text(knob, ends[0])} to {knob_text(knob, ends[1])} is not "
                f"allowed; give {least}the lower value first"
            )
            return
        self._tell(self._settings, self._axes.with_side(side, knob, (ends[0], ends[1])))

    def _reset(self) -> None:
        axes = self._axes
        reaches = (whole_range(self._bench, knob) for knob in (axes.across, axes.up))
        self._tell(self._settings, Axes(axes.across, axes.up, *reaches))

    def _sense(self, label: str, name: str) -> None:
        bench = self._bench

        def choose(chosen: str) -> None:
            wanted = self._settings.model_copy(update={name: chosen == "yes"})
            self._tell(settle(bench, knob_ranges(bench), wanted, name), self._axes)

        choice = self._choices[name] = Choice(label, SENSES, choose)
        choice.put("yes" if getattr(self._settings, name) else "no")

    def _tell(self, settings: Settings, axes: Axes) -> None:
        self._settings, self._axes = settings, axes
        self._fill()
        self._on_change(settings, axes)

    def _advice(self) -> str:
        """Say so where plates and coil pair push the same way, so that nothing can cancel."""
        bench, settings = self._bench, self._settings
        are_crossed = bench.plates is not None and bench.coils is not None
        if not are_crossed or settings.plate_reversed != settings.coil_reversed:
            return ""
        return "Plates and coils push the same way here: reverse one to see where they cancel."
