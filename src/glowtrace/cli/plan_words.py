"""A plan in words and tables: settings, windows, sensitivities, margins; or why there is none."""

from __future__ import annotations

import math
from collections.abc import Iterator

import typer

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS
from glowtrace.bench.settings import Settings
from glowtrace.cli.printing import print_paragraph, print_table
from glowtrace.demos.goals import Goal, StraightBeam
from glowtrace.plan import Certainty, Plan, Planned, Refusal, SureWindow, Window
from glowtrace.report.caption import other_tie_words, quantity_words, settings_words
from glowtrace.report.null_words import null_words
from glowtrace.units import format_quantity
from glowtrace.words.bench import bench_name, knob_name
from glowtrace.words.knowledge import possible_words, sureness_words
from glowtrace.words.language import say

_PLANNED_IDEAL = "Planned in the ideal model, with uniform fields: the real bench differs."


def tell_plan(planned: Planned, bench: Bench, goal_name: str, *, is_full: bool = True) -> None:
    """Tell every answer, the best first, or the refusal; in short only settings and windows."""
    if planned.refusal is not None:
        _tell_refusal(planned.refusal, bench, goal_name)
        return
    first = planned.answers[0]
    typer.echo(bench_name(bench))
    print_paragraph(f"{first.goal.title}: {targets_words(first.goal)}")
    for number, plan in enumerate(planned.answers, start=1):
        heading = f"Answer {number} of {len(planned.answers)}"
        typer.echo(f"\n{heading}\n{'=' * len(heading)}")
        _tell_answer(plan, bench, is_full)
    if len(planned.answers) > 1:
        typer.echo()
        print_paragraph(f"Ranked by {first.criterion}.")
    if not is_full:
        typer.echo("Sensitivities, margins and the textbook's answer: --full")


def targets_words(goal: Goal) -> str:
    """Give a goal's targets with their units."""
    return ", ".join(f"{each.name} {each.written(each.value)}"
                     for each in goal.targets())  # fmt: skip


def _tell_answer(plan: Plan, bench: Bench, is_full: bool) -> None:
    print_paragraph(" · ".join(settings_words(plan.settings, bench)))
    for figure in plan.check.figures:
        print_paragraph(str(figure), lead="  ")
    typer.echo()
    print_table(
        ("knob", "set to", "works from", "to", "stopped by"),
        [(knob_name(knob), _set(plan.settings, knob), *_ends(window, KNOBS[knob]), _stops(window))
         for knob, window in plan.windows.items()],
        numbers=(1, 2, 3),
    )  # fmt: skip
    if plan.certainty is not None:
        _tell_sureness(plan.certainty, bench)
    if isinstance(plan.goal, StraightBeam):
        print_paragraph(null_words(bench, plan.settings))
    if not is_full:
        if plan.model == "ideal":
            print_paragraph(_PLANNED_IDEAL)
        return
    typer.echo()
    print_table(
        ("knob", "moves", "per +1 %", "by ripple", "meter 1 % off"),
        [(knob_name(each.knob), each.measure, _change(each.per_percent, each.unit, "+"),
          _change(each.ripple, each.unit), _change(each.meter, each.unit, "±"))
         for each in plan.sensitivities],
        numbers=(2, 3, 4),
    )  # fmt: skip
    typer.echo()
    print_table(
        ("knob", "set to", "left", "of the rating"),
        [(knob_name(each.knob), quantity_words(each.value, KNOBS[each.knob]),
          f"{100 * each.share:.0f} %", each.why) for each in plan.margins],
        numbers=(1, 2),
    )  # fmt: skip
    typer.echo()
    for words in _ideal_words(plan):
        print_paragraph(words)
    for other in plan.other_ties:
        print_paragraph(other_tie_words(plan, other))


def _tell_sureness(found: Certainty, bench: Bench) -> None:
    """Tell how surely it works, and the windows in which it holds."""
    typer.echo()
    print_paragraph(" ".join(sureness_words(bench, found)))
    for knob, window in found.windows.items():
        low, high = _ends(window, KNOBS[knob])
        words = say("knowledge.plan.window", low=low, high=high)
        print_paragraph(f"{knob_name(knob)}: {words}", lead="  ")


def _ideal_words(plan: Plan) -> Iterator[str]:
    """Compare with what a textbook would set."""
    if plan.model == "ideal":
        yield _PLANNED_IDEAL
        return
    if plan.ideal is None:
        yield "The ideal model, with uniform fields, has no answer here."
        return
    off = [
        f"{knob_name(knob)} {100 * abs(share):.1f} % {'higher' if share > 0 else 'lower'}"
        for knob, share in plan.ideal.difference.items()
        if abs(share) >= 0.0005
    ]
    if off:
        yield f"The ideal model, with uniform fields, would set: {', '.join(off)}."
    else:
        yield "The ideal model, with uniform fields, would set the same."
    if not plan.ideal.on_bench.ok:
        wrong = "; ".join(str(figure) for figure in plan.ideal.on_bench.shortcomings)
        yield f"On this bench that would miss the goal: {wrong}."
    elif off:
        yield "On this bench that would still do."


def _tell_refusal(refusal: Refusal, bench: Bench, goal_name: str) -> None:
    if refusal.is_sure:
        print_paragraph(f'The bench "{bench.name}" cannot show this: {goal_name}.')
    else:
        print_paragraph(f'The bench "{bench.name}" can perhaps show this: {goal_name}.')
    if refusal.possible_on is not None:
        print_paragraph(possible_words(refusal.possible_on))
    print_paragraph(f"What stops it: {_binding_words(refusal)}.")
    goal, settings, check = refusal.nearest_goal, refusal.nearest_settings, refusal.nearest_check
    if goal is not None and settings is not None and check is not None:
        typer.echo("\nNearest that works")
        print_paragraph(targets_words(goal), lead="  ")
        print_paragraph(" · ".join(settings_words(settings, bench)), lead="  ")
        for figure in check.figures:
            print_paragraph(str(figure), lead="    ")
    if refusal.remedies:
        typer.echo("\nWhat would help, each tried on the changed bench")
        for number, remedy in enumerate(refusal.remedies, start=1):
            print_paragraph(remedy.text, lead=f"  {number}. ")
            print_paragraph(" · ".join(settings_words(remedy.settings, bench)), lead="     ")
    typer.echo("\nA refusal is a result, not an error; the exit code is 1.")


def _binding_words(refusal: Refusal) -> str:
    binding = refusal.binding
    if binding.knob is None or binding.needed is None:
        return binding.text
    needed = format_quantity(binding.needed, KNOBS[binding.knob])
    return f"{binding.text}, and a {knob_name(binding.knob)} of {needed} would be needed"


def _set(settings: Settings, knob: str) -> str:
    return quantity_words(float(getattr(settings, knob)), KNOBS[knob])


def _ends(window: Window | SureWindow, unit: str) -> tuple[str, str]:
    return format_quantity(window.low, unit), format_quantity(window.high, unit)


def _stops(window: Window) -> str:
    if window.low_stop == window.high_stop:
        return window.low_stop
    return f"below: {window.low_stop}; above: {window.high_stop}"


def _change(value: float, unit: str, sign: str = "") -> str:
    """Write a small change, lengths in mm, with its sign or another one before it."""
    if not math.isfinite(value):
        return "–"
    number, name = (1e3 * value, " mm") if unit == "m" else (value, "")
    figures = f"{abs(number):.2f}" if unit == "m" else f"{abs(number):.4f}"
    if not float(figures):
        return f"0{name}"
    before = {"+": "+" if number > 0 else "-"}.get(sign, sign)
    return f"{before}{figures}{name}"
