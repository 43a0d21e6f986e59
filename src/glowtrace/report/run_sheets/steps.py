"""The steps of a run sheet: what to do, what must be seen, what to say, and what if not.

The first steps are the switch-on checks of the wiring (heater, straight beam, coils, plates, each
alone at a low voltage); the last ones raise each knob to its setting in the order of safety:
accelerating voltage, plates, coils. Every picture is computed for its own settings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Goal, StraightBeam
from glowtrace.demos.goals.deflection import Deflection
from glowtrace.plan.leads import needs_divider
from glowtrace.plan.wiring import Wiring
from glowtrace.report.caption import quantity_words
from glowtrace.report.null_words import null_words
from glowtrace.report.run_sheets.words import goal_words, say_words, see_words
from glowtrace.report.sheet_picture import SheetPicture, draw_sheet_picture
from glowtrace.safety.review import SafetyReport
from glowtrace.words.bench import knob_label, knob_name, knob_short
from glowtrace.words.telling import tell

ELECTRONS = 2000
"""Electrons of a predicted picture."""


@dataclass(frozen=True)
class KnobState:
    """A knob after a step: its name, its value with unit, and whether this step turns it."""

    name: str
    value: str
    is_turned: bool


@dataclass(frozen=True)
class Step:
    """One step.

    Attributes
    ----------
    number
        From 1.
    do, see, say, otherwise
        What to do, what must be seen, what to say, and what to do if it is not seen; empty where
        there is nothing.
    knobs
        How every knob stands after the step.
    picture
        The predicted picture; None where there is no beam.
    settings
        How the bench is set after the step.
    """

    number: int
    do: str
    see: str
    say: str
    otherwise: str
    knobs: tuple[KnobState, ...]
    picture: SheetPicture | None
    settings: Settings


@dataclass(frozen=True)
class _Draft:
    """A step before it is put in its place."""

    do: str
    settings: Settings
    otherwise: str
    see: str | None = None
    """What must be seen; None where the picture tells."""


def run_steps(
    prepared: PreparedBench,
    settings: Settings,
    wiring: Wiring,
    safety: SafetyReport,
    goal: Goal | None,
) -> tuple[Step, ...]:
    """Give the steps from the check of the leads to the picture that is wanted.

    Parameters
    ----------
    prepared, settings
        The bench, and what is set on it in the end.
    wiring, safety
        What `glowtrace.plan.wiring.wire` and `glowtrace.safety.review.check_safety` gave for both.
    goal
        What the final picture is to show; None for plain settings.
    """
    bench = prepared.bench
    place = goal.x if isinstance(goal, Deflection) else wiring.checks[-1].at_x or 0.0
    ready = tell(safety.switch_on[:2])
    untouched = wiring.checks[0].settings.model_copy(update={"heater_on": False})
    states = knob_states(bench, untouched, untouched)
    steps = [Step(1, ready, "", "", "", states, None, untouched)]
    before, earlier = untouched, prepared.picture(untouched, electrons=ELECTRONS)
    for draft in _drafts(bench, settings, wiring):
        now, is_goal = draft.settings, goal is not None and draft.settings == settings
        picture = prepared.picture(now, electrons=ELECTRONS)
        see = draft.see or see_words(prepared, picture, place)
        if goal is not None and is_goal:
            see = goal_words(bench, goal, goal.is_met(prepared, settings)) or see
        say = _goal_says(bench, goal, now) if goal is not None and is_goal else ""
        say = say or say_words(bench, before, now)
        if any(say == step.say for step in steps):
            say = ""
        steps.append(
            Step(
                len(steps) + 1,
                _back_to_zero(before, now) + draft.do,
                see,
                say,
                draft.otherwise,
                knob_states(bench, before, now),
                _drawn(picture, earlier, bench, see),
                now,
            )
        )
        before, earlier = now, picture
    return tuple(steps)


def _drafts(bench: Bench, settings: Settings, wiring: Wiring) -> Iterator[_Draft]:
    """Give the checks as they are, and the last of them knob by knob."""
    *checks, whole = wiring.checks
    for check in checks:
        # Printed behind "If not", which says it already.
        otherwise = check.if_wrong.removeprefix("Otherwise: ")
        otherwise = otherwise[0].upper() + otherwise[1:]
        yield _Draft(check.do, check.settings, otherwise, check.expect)
    turns = list(_turns(settings, checks[-1].settings))
    if len(turns) > 1 and turns[0].settings == checks[-1].settings:
        turns = turns[1:]
    yield from turns[:-1]
    yield _Draft(turns[-1].do, settings, whole.if_wrong)


def _turns(settings: Settings, before: Settings) -> Iterator[_Draft]:
    """Raise the knobs one after the other; plates on the accelerating supply rise with it."""
    shared = settings.plate_source == "accelerating supply"
    alone = {"plate_voltage": settings.plate_voltage if shared else 0.0, "coil_current": 0.0}
    now = settings.model_copy(update=alone)
    rises = now.accelerating_voltage != before.accelerating_voltage
    verb = "slowly to" if rises else "stays at"
    do = f"Accelerating voltage {verb} {quantity_words(now.accelerating_voltage, 'V')}"
    if shared and settings.plate_voltage:
        divided = f", their divider to {quantity_words(settings.plate_voltage, 'V')}"
        do += f"; the plates share it{divided if needs_divider(settings) else ''}"
    again = "Every knob to zero, then once more from the step with the straight beam."
    yield _Draft(f"{do}.", now, again)
    for knob in ("plate_voltage", "coil_current"):
        wanted = float(getattr(settings, knob))
        if wanted != getattr(now, knob):
            now = now.model_copy(update={knob: wanted})
            words = quantity_words(wanted, KNOBS[knob])
            yield _Draft(f"{knob_label(knob)} slowly to {words}.", now, again)


def _back_to_zero(before: Settings, now: Settings) -> str:
    names = [
        knob_name(knob)
        for knob in ("coil_current", "plate_voltage")
        if getattr(before, knob) > 0 and getattr(now, knob) == 0
    ]
    return f"{' and '.join(names).capitalize()} back to zero. " if names else ""


def knob_states(bench: Bench, before: Settings, now: Settings) -> tuple[KnobState, ...]:
    """Give the heater and the knobs under short names, for they stand side by side."""
    heater = KnobState(
        "heater", "on" if now.heater_on else "off", now.heater_on != before.heater_on
    )
    return heater, *(_knob_state(knob, before, now) for knob in knobs_of(bench))


def _knob_state(knob: str, before: Settings, now: Settings) -> KnobState:
    value = float(getattr(now, knob))
    words = quantity_words(value, KNOBS[knob]) if value else "0"
    return KnobState(knob_short(knob), words, value != getattr(before, knob))


def _goal_says(bench: Bench, goal: Goal, settings: Settings) -> str:
    """Give the physics of a goal, and for a null what it means on this bench."""
    here = null_words(bench, settings) if isinstance(goal, StraightBeam) else ""
    return f"{goal.says} {here}".rstrip()


def _drawn(picture: Picture, earlier: Picture, bench: Bench, words: str) -> SheetPicture | None:
    if not picture.ends:
        return None
    return draw_sheet_picture(picture, bench, earlier if earlier.ends else None, words)
