"""The safety check of a bench at its settings, line by line, with what to do in which order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import show
from glowtrace.bench.ratings import KNOBS, check_settings, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, Problem
from glowtrace.findings import Finding, finding
from glowtrace.safety.coils import coil_lines
from glowtrace.safety.lines import Limit, SafetyLine, Verdict, compare
from glowtrace.safety.order import CAUTIONS, switch_off_steps, switch_on_steps
from glowtrace.safety.outputs import output_lines
from glowtrace.safety.sureness import with_sureness
from glowtrace.safety.tube import heater_line, x_ray_lines

_LONGEST_RUN: Final = 24 * 60.0
_ROOM: Final = (233.15, 323.15)
_CHANGE_FIRST: Final = finding("safety.advice.change_first")
_SEVERITY: Final[dict[Verdict, int]] = {"ok": 0, "attention": 1, "stop": 2}


@dataclass(frozen=True)
class SafetyReport:
    """What was found, and how to go about it.

    Attributes
    ----------
    lines
        The findings.
    switch_on, switch_off
        Steps in their order.
    cautions
        What holds always, whatever the lines say.
    """

    lines: tuple[SafetyLine, ...]
    switch_on: tuple[Finding, ...]
    switch_off: tuple[Finding, ...]
    cautions: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The gravest verdict of all lines."""
        return max((line.verdict for line in self.lines), key=_SEVERITY.__getitem__)

    @property
    def has_stop(self) -> bool:
        """Whether some line says: do not switch on."""
        return self.verdict == "stop"


def check_safety(
    bench: Bench,
    settings: Settings,
    *,
    run_minutes: float = 15.0,
    room_temperature: float = 293.15,
) -> SafetyReport:
    """Hold a bench at its settings against its ratings and against published limits.

    Parameters
    ----------
    bench, settings
        What stands there, and what is set on it. Settings beyond a rating are reported.
    run_minutes
        How long the coils carry the current without a pause, in minutes: above 0, up to a day.
    room_temperature
        K, from -40 °C to 50 °C; the coils start from it.

    Returns
    -------
    SafetyReport
        Lines with value, limit, source, margin, verdict and advice; "ok" means only that the
        limit named in the line is kept, with 95 % where the bench tells how well it is known.

    Raises
    ------
    BenchError
        A run or a room temperature out of range.
    """
    require_kind(bench, Bench)
    require_kind(settings, Settings)
    _require_sense(run_minutes, room_temperature)

    def lines_of(bench: Bench, settings: Settings) -> tuple[SafetyLine, ...]:
        return (
            *_rating_lines(bench, settings),
            *output_lines(bench, settings),
            heater_line(bench),
            *x_ray_lines(bench, settings),
            *coil_lines(bench, settings, 60.0 * run_minutes, room_temperature),
        )

    lines = with_sureness(lines_of, bench, settings)
    return SafetyReport(
        lines, switch_on_steps(bench, settings), switch_off_steps(bench, settings), CAUTIONS
    )


def _rating_lines(bench: Bench, settings: Settings) -> Iterator[SafetyLine]:
    """Report each rating that is passed, and how far each other knob stays below its own."""
    problems = check_settings(bench, settings)
    for problem in problems:
        too_low = _is_too_low(bench, settings, problem.field)
        yield SafetyLine(
            finding(f"safety.topic.rating.{problem.field}"),
            problem.given,
            problem.allowed,
            finding("safety.source.ratings"),
            None,
            "attention" if too_low else "stop",
            (finding("safety.advice.too_low") if too_low else _CHANGE_FIRST,),
        )
    wrong = {problem.field for problem in problems}
    for knob, reach in knob_ranges(bench).items():
        if knob not in wrong and reach.high > 0.0:
            yield compare(
                finding(f"safety.topic.rating.{knob}"),
                getattr(settings, knob),
                Limit(reach.high, KNOBS[knob], finding("safety.source.rating", why=reach.why)),
                "stop",
                (finding("safety.advice.stay_below"),),
                (_CHANGE_FIRST,),
            )


def _is_too_low(bench: Bench, settings: Settings, knob: str) -> bool:
    """Whether a knob stands below what gun or supply need, rather than above a rating."""
    if knob == "accelerating_voltage":
        return settings.accelerating_voltage < knob_ranges(bench)[knob].low
    supply = bench.supplies.plates
    if knob != "plate_voltage" or settings.plate_source != "own supply" or supply is None:
        return False
    return settings.plate_voltage < supply.min_voltage


def _require_sense(run_minutes: float, room_temperature: float) -> None:
    problems = []
    if not 0.0 < run_minutes <= _LONGEST_RUN:
        allowed = f"give a time above 0 and up to {_LONGEST_RUN:.0f} minutes"
        problems.append(Problem("run_minutes", f"{run_minutes} min", allowed))
    if not _ROOM[0] <= room_temperature <= _ROOM[1]:
        allowed = "choose between -40 °C and 50 °C, in kelvins"
        problems.append(Problem("room_temperature", show(room_temperature, "K"), allowed))
    if problems:
        raise BenchError("safety check", problems)
