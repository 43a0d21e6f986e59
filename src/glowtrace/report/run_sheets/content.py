"""The run sheet: one demonstration on paper, from the wiring to the discharge.

`build_run_sheet` gathers what is to be told, with every number as text; the PDF and the Markdown
show the same content. A verdict "stop" of the safety check is part of it and cannot be left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, check_settings, knob_ranges, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Goal
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.plan.answer import Plan
from glowtrace.plan.diagram import wiring_diagram
from glowtrace.plan.leads import Earthed, Lead
from glowtrace.plan.wiring import Wiring, wire
from glowtrace.report.caption import quantity_words
from glowtrace.report.run_sheets.bench import Fact, bench_facts, switch_words
from glowtrace.report.run_sheets.safety import PrintedLine, printed_lines
from glowtrace.report.run_sheets.steps import Step, run_steps
from glowtrace.safety.lines import Verdict
from glowtrace.safety.review import check_safety
from glowtrace.units import format_quantity
from glowtrace.words.bench import knob_name
from glowtrace.words.telling import tell

_MINUTES_A_LEAD, _MINUTES_A_STEP = 1.0, 1.0
REHEARSED = "Rehearsed settings"
"""Title of a sheet without a goal."""


@dataclass(frozen=True)
class KnobSetting:
    """A knob's final setting: value, the range in which it works, and the range of its ratings."""

    name: str
    value: str
    window: str
    """Empty where no plan tells it."""
    ratings: str


@dataclass(frozen=True)
class RunSheet:
    """The content of a run sheet, every number as text.

    Attributes
    ----------
    title, purpose
        What is shown, and why.
    bench, is_invented, facts
        The name of the bench, whether it is made up, and its data.
    knobs, switches, figures
        The final settings, ties and reversing switches, and the figures of the goal.
    verdict
        The gravest verdict of the safety check.
    stops
        The lines that forbid to switch on.
    lines, sources
        Every line of the safety check; its `PrintedLine.source` is a letter of `sources`.
    cautions
        What holds always, then what holds for this goal.
    diagram
        The wiring as SVG; empty where the settings are beyond a rating.
    leads, reversals, notes
        The lead table, polarity changes by hand, and what else is to be known; empty likewise.
    steps
        In order; empty likewise.
    switch_off
        The end, with the discharge.
    minutes
        Time that it takes, from the first lead to the discharge.
    readings
        What is written down while the picture stands.
    model
        How the predictions were made.
    """

    title: str
    purpose: str
    bench: str
    is_invented: bool
    facts: tuple[Fact, ...]
    knobs: tuple[KnobSetting, ...]
    switches: tuple[str, ...]
    figures: tuple[str, ...]
    verdict: Verdict
    stops: tuple[PrintedLine, ...]
    lines: tuple[PrintedLine, ...]
    sources: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    diagram: str
    leads: tuple[Lead, ...]
    reversals: tuple[str, ...]
    notes: tuple[str, ...]
    steps: tuple[Step, ...]
    switch_off: tuple[str, ...]
    minutes: int
    readings: tuple[str, ...]
    model: str


def build_run_sheet(
    prepared: PreparedBench,
    settings: Settings,
    *,
    plan: Plan | None = None,
    goal: Goal | None = None,
    run_minutes: float = 15.0,
    room_temperature: float = 293.15,
    earthed: Earthed = "anode",
) -> RunSheet:
    """Gather what a run sheet tells.

    Parameters
    ----------
    prepared
        The bench with its fields.
    settings
        What is set in the end. Settings beyond a rating give a sheet that says stop, without
        wiring and steps.
    plan
        The plan that they are from: it gives the goal and the window of each knob.
    goal
        What is to be shown, where there is no plan.
    run_minutes, room_temperature
        As for `glowtrace.safety.review.check_safety`.
    earthed
        Which point is joined to the protective earth.

    Raises
    ------
    GlowtraceError
        The plan has other settings or another goal, or the heater is off.
    """
    require_kind(prepared, PreparedBench)
    require_kind(settings, Settings)
    _require_match(settings, plan, goal)
    goal = plan.goal if plan is not None else goal
    bench = prepared.bench
    safety = check_safety(
        bench, settings, run_minutes=run_minutes, room_temperature=room_temperature
    )
    lines, sources = printed_lines(safety.lines)
    allowed = not check_settings(bench, settings)
    wiring = wire(bench, settings, earthed=earthed, prepared=prepared) if allowed else None
    figures = goal.is_met(prepared, settings).figures if goal is not None else ()
    steps = run_steps(prepared, settings, wiring, safety, goal) if wiring is not None else ()
    return RunSheet(
        title=goal.title if goal is not None else REHEARSED,
        purpose=_purpose(bench, goal),
        bench=bench.name,
        is_invented=bench.invented,
        facts=bench_facts(bench),
        knobs=tuple(_knob_setting(bench, settings, plan, knob) for knob in knobs_of(bench)),
        switches=switch_words(bench, settings),
        figures=tuple(str(figure) for figure in figures),
        verdict=safety.verdict,
        stops=tuple(line for line in lines if line.verdict == "stop"),
        lines=lines,
        sources=sources,
        cautions=(*map(tell, safety.cautions), *(goal.cautions if goal is not None else ())),
        diagram=wiring_diagram(bench, settings, wiring) if wiring is not None else "",
        leads=wiring.leads if wiring is not None else (),
        reversals=tuple(each.text for each in wiring.reversals) if wiring is not None else (),
        notes=wiring.notes if wiring is not None else (),
        steps=steps,
        switch_off=tuple(map(tell, safety.switch_off)),
        minutes=_minutes(wiring, len(steps) + len(safety.switch_off)),
        readings=(*(knob_name(knob) for knob in knobs_of(bench)), "seen at", "value"),
        model=_model_words(settings, run_minutes, room_temperature),
    )


def _minutes(wiring: Wiring | None, steps: int) -> int:
    """Give the time needed in min, a multiple of 5: common practice, no source."""
    leads = 0 if wiring is None else len(wiring.leads)
    return 5 * math.ceil((_MINUTES_A_LEAD * leads + _MINUTES_A_STEP * steps) / 5)


def _require_match(settings: Settings, plan: Plan | None, goal: Goal | None) -> None:
    problems = []
    if plan is not None and plan.settings != settings:
        problems.append(Problem("plan", "for other settings", "give the settings of the plan"))
    if plan is not None and goal is not None and plan.goal != goal:
        problems.append(Problem("goal", f'"{goal.name}"', "leave it out beside a plan"))
    if not settings.heater_on:
        problems.append(Problem("heater_on", "false", "a run sheet needs the heater on"))
    if problems:
        raise GlowtraceError(*problems)


_WANTED: Final = {"x": "at x = {}", "tolerance": "to within {}"}
"""How a target is told whose name alone says too little."""


def _purpose(bench: Bench, goal: Goal | None) -> str:
    if goal is None:
        return "Show the picture that was rehearsed at these settings."
    targets = ", ".join(
        _WANTED.get(each.name, each.name + " {}").format(each.written(each.value))
        for each in goal.targets()
    )
    return f"Wanted: {targets}." if targets else f"{goal.title}."


def _knob_setting(bench: Bench, settings: Settings, plan: Plan | None, knob: str) -> KnobSetting:
    unit, reach = KNOBS[knob], knob_ranges(bench)[knob]
    window = ""
    if plan is not None:
        found = next((each for name, each in plan.windows.items() if name == knob), None)
        if found is not None:
            window = f"{format_quantity(found.low, unit)} to {format_quantity(found.high, unit)}"
    low, high = (quantity_words(value, unit) if value else "0" for value in reach[:2])
    return KnobSetting(
        knob_name(knob),
        quantity_words(float(getattr(settings, knob)), unit),
        window,
        f"{low} to {high}",
    )


def _model_words(settings: Settings, run_minutes: float, room_temperature: float) -> str:
    off = [
        name
        for name, is_on in (
            ("thermal spread", settings.thermal_spread),
            ("ripple", settings.ripple),
            ("divergence", settings.divergence),
        )
        if not is_on
    ]
    without = f", without {' and '.join(off)}" if off else ""
    return (
        f"Predicted with the real geometry of the bench{without}; space charge is left out. "
        f"Safety check for a run of {run_minutes:g} min in a room of "
        f"{room_temperature - 273.15:.0f} °C."
    )
