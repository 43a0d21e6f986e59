"""An answer of the planner: picture, knobs with their windows, and what is behind them."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knobs_of
from glowtrace.demos.goals import Check, StraightBeam
from glowtrace.plan import Plan
from glowtrace.plan.answer import Sensitivity
from glowtrace.report.caption import other_tie_words
from glowtrace.report.null_words import null_words
from glowtrace.report.run_sheets.bench import switch_words
from glowtrace.units import format_quantity, percent
from glowtrace.web.controls import box, hint, put_rows, words
from glowtrace.web.naming import knob_text
from glowtrace.web.plan.window_bar import put_window
from glowtrace.web.preparation import Preparation
from glowtrace.words.bench import knob_name
from glowtrace.words.knowledge import sureness_words


def put_ways_on(preparation: Preparation) -> None:
    """Put the two ways on from settings: to the knobs, or on to the wiring."""
    with box("ways-on"):
        for label, path, css in (
            ("Rehearse this", "/", "key"),
            ("Prepare this", "/wiring", "key is-main"),
        ):
            words(label, "a", css).props["href"] = preparation.at(path)


def put_answer(
    bench: Bench, plan: Plan, rank: int, count: int, picture: str, preparation: Preparation
) -> None:
    """Put an answer on the page.

    Parameters
    ----------
    bench, plan
        What was planned.
    rank, count
        Its place among the answers, from 1.
    picture
        Its predicted picture, as SVG.
    preparation
        What "Rehearse this" and "Prepare this" go on with.
    """
    knobs = [knob for knob in plan.goal.knobs if knob in knobs_of(bench)]
    knobs.sort(key=knobs_of(bench).index)
    with box("pair part answer", "section") as section:
        section.props["aria-label"] = f"Answer {rank} of {count}"
        with box("row is-written across"):
            words("Best" if rank == 1 and count > 1 else f"Answer {rank}", "h2")
            words("  ·  ".join(switch_words(bench, plan.settings)), css="small quiet")
        with box("stack"):
            ui.html(picture, sanitize=False)
            put_ways_on(preparation)
        with box("answer-knobs"):
            for knob in knobs:
                put_window(bench, plan, knob)
        if plan.certainty is not None:
            sure = " ".join(sureness_words(bench, plan.certainty))
            words(sure, "p", f"across{'' if plan.certainty.holds else ' attention'}")
        for other in plan.other_ties:
            words(other_tie_words(plan, other), "p")
        if isinstance(plan.goal, StraightBeam):
            words(null_words(bench, plan.settings), "p", "across")
        with box("fold across", "details"):
            words("Figures, margins, sensitivities, textbook", "summary")
            with box("pair small"):
                _put_figures("In the picture", plan.check)
                _put_margins(plan)
                _put_sensitivities(plan)
                _put_ideal(plan)


def put_criterion(plan: Plan) -> None:
    """Say how answers are ranked."""
    hint(f"Ranked by {plan.criterion}.")


def _column(title: str, put: Callable[[], None]) -> None:
    with box("column"):
        words(title, "h3")
        put()


def _put_figures(title: str, check: Check) -> None:
    rows = []
    for figure in check.figures:
        rows.append((figure.label, figure.text if figure.is_right else f"✕ {figure.text}"))
    _column(title, lambda: put_rows(rows))


def _put_margins(plan: Plan) -> None:
    rows = [(margin.why, f"{100 * margin.share:.0f} % away") for margin in plan.margins]
    _column("Margins to the ratings", lambda: put_rows(rows))


def _put_sensitivities(plan: Plan) -> None:
    rows = [
        (f"{each.measure}, by 1 % more {knob_name(each.knob)}", _sensitivity(each))
        for each in plan.sensitivities
        if abs(each.per_percent) > 1e-9
    ]
    _column("How it follows the knobs", lambda: put_rows(rows))


def _sensitivity(each: Sensitivity) -> str:
    def signed(value: float) -> str:
        sign = "+" if value >= 0 else "−"
        return f"{sign}{_size(value, each.unit)}"

    return f"{signed(each.per_percent)} (ripple makes {_size(each.ripple, each.unit)})"


def _size(value: float, unit: str) -> str:
    """Write the size of a change, lengths in mm."""
    if unit == "m":
        return f"{1e3 * abs(value):.2f} mm"
    return format_quantity(abs(value), unit, 2)


def _put_ideal(plan: Plan) -> None:
    if plan.ideal is None:
        return
    ideal = plan.ideal
    rows = [
        (
            knob_name(knob),
            f"{knob_text(knob, float(getattr(ideal.settings, knob)))} "
            f"({percent(difference, 1, signed=True)})",
        )
        for knob, difference in ideal.difference.items()
    ]
    verdict = (
        "On the real bench that works too."
        if ideal.on_bench.ok
        else "On the real bench that misses: "
        + "; ".join(str(figure) for figure in ideal.on_bench.shortcomings)
        + "."
    )

    def put() -> None:
        put_rows(rows)
        words(verdict, "p")

    _column("Uniform textbook fields would set", put)
