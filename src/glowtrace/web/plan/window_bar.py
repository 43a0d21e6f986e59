"""A knob of a plan: large value, window as a bar on the knob's range, and what stops it."""

from __future__ import annotations

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.demos.goals.goal import Knob
from glowtrace.plan.answer import Plan, Window
from glowtrace.plan.windows import BY_PICTURE
from glowtrace.units import percent
from glowtrace.web.controls import box, words
from glowtrace.web.naming import knob_text
from glowtrace.words.bench import knob_name
from glowtrace.words.language import say


def put_window(bench: Bench, plan: Plan, knob: Knob) -> None:
    """Put a knob of a plan on the page."""
    value = float(getattr(plan.settings, knob))
    reach, window = knob_ranges(bench)[knob], plan.windows.get(knob)
    span = max(reach.high, value) or 1.0
    with box("window-row"):
        words(knob_name(knob), css="capital quiet")
        words(knob_text(knob, value), css="window-value")
        if window is None:
            return
        with box("bar across").props('role="img"') as bar:
            bar.props["aria-label"] = f"{_works(knob, window)}; {_ends(knob, window)}"
            left, right = 100 * window.low / span, 100 * window.high / span
            right = max(right, left + 0.6)
            at = 100 * value / span
            bar.style(f"--low: {left:.2f}%; --high: {right:.2f}%; --at: calc({at:.2f}% - 1px)")
        with box("ends across"):
            words(knob_text(knob, 0.0))
            words(knob_text(knob, span))
        words(
            f"{_works(knob, window)} ({_share(window.low, value)}, {_share(window.high, value)})",
            "p",
            "small across",
        )
        sure = plan.certainty.windows.get(knob) if plan.certainty is not None else None
        if sure is not None:
            low, high = knob_text(knob, sure.low), knob_text(knob, sure.high)
            words(say("knowledge.plan.window", low=low, high=high), "p", "small across")
        if _ends(knob, window) != PICTURE_ENDS:
            words(_ends(knob, window), "p", "small attention across")


PICTURE_ENDS = "beyond it the picture is no longer right"


def _works(knob: Knob, window: Window) -> str:
    return f"works from {knob_text(knob, window.low)} to {knob_text(knob, window.high)}"


def _share(end: float, value: float) -> str:
    return percent(end / value - 1 if value else 0.0, 1, signed=True)


def _ends(knob: Knob, window: Window) -> str:
    """Say what ends a window on either side."""
    if window.low_stop == window.high_stop == BY_PICTURE:
        return PICTURE_ENDS
    no_longer = "the picture is no longer right"
    below = no_longer if window.low_stop == BY_PICTURE else window.low_stop
    above = no_longer if window.high_stop == BY_PICTURE else window.high_stop
    return f"lower: {below}; higher: {above}"
