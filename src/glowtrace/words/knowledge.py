"""How well a bench is known, in words: the band, the shares of the doubt, what was learnt."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from glowtrace.bench.doubts import mark_of
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.meanings import MEANINGS, PARTS
from glowtrace.bench.prediction import FACTOR
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.ratings import KNOBS
from glowtrace.units import exact_text, format_measurement, format_quantity, percent, significant
from glowtrace.words.bench import knob_name
from glowtrace.words.language import say

if TYPE_CHECKING:
    from glowtrace.bench.doubts import Seen
    from glowtrace.bench.learning import Learnt
    from glowtrace.bench.model import Bench
    from glowtrace.bench.observing import Observation
    from glowtrace.bench.prediction import Height, Prediction, Share
    from glowtrace.bench.settings import Settings
    from glowtrace.plan import Certainty

_AXES = ("x", "y", "z")
_MOST_ROWS: Final = 10
_SMALLEST_SHARE: Final = 0.005
_MOVED: Final = 0.3
"""Standard uncertainties from which on a number is said to have moved."""
_MOST_MOVED: Final = 5


def number_name(bench: Bench, path: str) -> str:
    """Name a number of a bench as its form does: "Plates: Gap", "Stray field, z"."""
    bare, _, place = path.partition("[")
    part, _, name = bare.rpartition(".")
    if part == "slack":
        from glowtrace.bench.doubts import Slack

        called = MEANINGS[Slack][name].name
    else:
        called = MEANINGS[type(attrgetter(part)(bench))][name].name
        if part == "place" or called.partition(",")[0] not in PARTS[part]:
            called = f"{PARTS[part]}: {called}" if part != "place" else called
    return f"{called}, {_AXES[int(place[0])]}" if place else called


def number_text(bench: Bench, path: str, value: float, uncertainty: float = 0.0) -> str:
    """Write a number of a bench for people, with its uncertainty where it has one."""
    unit = _unit(bench, path)
    if path.startswith("slack."):  # about nothing: the sign is all there is to the value
        size = uncertainty or value
        shown = percent(size, 1) if unit == "1" else format_quantity(size, unit, 2, style="typeset")
        return f"± {shown}" if uncertainty else shown
    if uncertainty > 0.0:
        return format_measurement(value, uncertainty, unit, style="typeset")
    return format_quantity(value, unit, style="typeset")


def _unit(bench: Bench, path: str) -> str:
    bare = path.partition("[")[0]
    part, _, name = bare.rpartition(".")
    if part == "slack":
        from glowtrace.bench.doubts import Slack

        mark = mark_of(Slack.model_fields[name])
    else:
        mark = mark_of(type(attrgetter(part)(bench)).model_fields[name])
    return mark.unit if isinstance(mark, Quantity) else "1"


def exact_words() -> str:
    """Say that nothing is known about how well the bench is known."""
    return say("knowledge.exact")


def band_words(found: Prediction, x: float) -> str:
    """Say where the line may lie at x in m."""
    height = found.height(x)
    low, high = _limits(height)
    told = say(
        "knowledge.height",
        x=_mm(x),
        y=format_measurement(height.value, height.uncertainty, "mm", style="typeset"),
        low=_mm(low),
        high=_mm(high),
    )
    return " ".join([told, *way_words(found)])


def short_words(found: Prediction, x: float | None) -> str:
    """Say the same in one sentence, and more only where it is not as simple; no place: x None."""
    told = list(way_words(found)) if found.way == "rays" or found.elsewhere > 0.0 else []
    if x is None:
        return " ".join(told)
    height = found.height(x)
    low, high = _limits(height)
    return " ".join([say("knowledge.between", x=_mm(x), low=_mm(low), high=_mm(high)), *told])


def _limits(height: Height) -> tuple[float, float]:
    """Give between what 95 % of the tubes have it, m."""
    half = FACTOR * height.uncertainty
    return height.value - half, height.value + half


def way_words(found: Prediction) -> Iterator[str]:
    """Say how the band was found, and what else may happen."""
    if found.way == "rays":
        yield say("knowledge.way.rays")
    else:
        checked = found.way == "linear"
        yield say("knowledge.way.linear" if checked else "knowledge.way.unchecked")
    if found.elsewhere > 0.0:
        yield say("knowledge.elsewhere", share=percent(found.elsewhere))


def measure_words(found: Prediction, x: float) -> str:
    """Say which number is worth measuring better for the line at x in m."""
    best, now = found.shares(x)[0], found.belief.size(found.response.at_x(x)[:, 0])  # type: ignore[index]
    return say(
        "knowledge.measure",
        name=number_name(found.prepared.bench, best.name),
        left=_mm(best.without, 2),
        now=_mm(now, 2),
    )


class ShareRow(NamedTuple):
    """A number, how it is known, its share of the doubt, and what is left without it (m)."""

    name: str
    known: str
    share: float
    without: float


def share_rows(bench: Bench, shares: Sequence[Share]) -> Iterator[ShareRow]:
    """Give the numbers that make most of the doubt, the largest share first."""
    known = knowledge_of(bench)
    sizes = dict(zip(known.names, known.uncertainties.tolist(), strict=True))
    means = dict(zip(known.names, known.means.tolist(), strict=True))
    for each in shares[:_MOST_ROWS]:
        if abs(each.share) >= _SMALLEST_SHARE:
            text = number_text(bench, each.name, means[each.name], sizes[each.name])
            yield ShareRow(number_name(bench, each.name), text, each.share, each.without)


def share_words(x: float, uncertainty: float, *, is_circle: bool) -> str:
    """Say what the shares are of, and what stands beside them."""
    what = say("knowledge.seen.circle") if is_circle else say("knowledge.line_at", x=_mm(x))
    return say("knowledge.shares", what=what, now=half_width_words(uncertainty))


def half_width_words(uncertainty: float) -> str:
    """Write half the width of a 95 % band."""
    return f"± {_mm(FACTOR * uncertainty, 2)}"


def learnt_words(learnt: Learnt, before: Prediction, after: Prediction, x: float) -> Iterator[str]:
    """Say what was learnt, seen at the line of two predictions at x in m."""
    bench = before.prepared.bench
    old, new = before.height(x), after.height(x)
    yield say(
        "knowledge.learnt",
        n=len(learnt.residuals),
        x=_mm(x),
        before=_mm(old.uncertainty, 2),
        after=_mm(new.uncertainty, 2),
        y_before=_mm(old.value),
        y_after=_mm(new.value),
    )
    for each in learnt.combinations:
        names = ", ".join(number_name(bench, name) for name, _ in each.numbers)
        yield say("knowledge.combination", left=percent(each.left), names=names)
    if not learnt.is_linear:
        yield say("knowledge.nonlinear")
    if learnt.is_contradicted:
        yield from contradiction_words(bench, learnt)


def moved_numbers(bench: Bench, learnt: Learnt) -> Iterator[tuple[str, str]]:
    """Give the numbers that moved: name, and value before and after."""
    known = knowledge_of(bench)
    sizes = [np.sqrt(np.diag(each.covariance)) for each in (learnt.before, learnt.after)]
    parts = learnt.after.shift / sizes[0]
    for n in np.argsort(-np.abs(parts))[:_MOST_MOVED].tolist():
        if abs(parts[n]) < _MOVED:
            break
        name, mean, by = known.names[n], float(known.means[n]), float(learnt.after.shift[n])
        was, now = (float(size[n]) for size in sizes)
        before = number_text(bench, name, mean, was)
        after = number_text(bench, name, mean + by, 0.0 if name.startswith("slack.") else now)
        yield number_name(bench, name), f"{before} → {after}"


def seen_words(seen: Seen) -> str:
    """Write one thing that was seen."""
    size = abs(seen.y) if seen.what == "circle" else seen.y
    read = format_measurement(size, seen.uncertainty, "mm", style="typeset")
    where = say("knowledge.seen.circle") if seen.what == "circle" else f"x = {_mm(seen.x)}"
    return f"{where}: {read} · {knobs_words(seen.settings)}"


def contradiction_words(bench: Bench, learnt: Learnt) -> Iterator[str]:
    """Say what does not fit, and which number is likely wrong."""
    chance = f"less than {percent(0.0001, 2)}"
    if learnt.probability >= 0.0001:
        chance = percent(learnt.probability, 2)
    yield say("knowledge.contradicted", chance=chance)
    suspect = learnt.suspect
    if suspect is not None:
        name = number_name(bench, suspect.name)
        value = number_text(bench, suspect.name, suspect.value)
        away = significant(abs(suspect.away), 2)
        if suspect.name.startswith("slack."):
            yield say("knowledge.suspect_slack", name=name, value=value, away=away)
        else:
            yield say("knowledge.suspect", name=name, value=value, away=away)
    if learnt.odd is not None:
        yield say("knowledge.odd", n=str(learnt.odd + 1))
    if suspect is None and learnt.odd is None:
        yield say("knowledge.unexplained")


def sureness_words(bench: Bench, found: Certainty) -> Iterator[str]:
    """Say how surely what is planned works, and what to do where it does not hold."""
    yield say("knowledge.plan.share", share=percent(found.share))
    for each in found.expected:
        if math.isfinite(each.off):
            length = each.unit == "m"
            off = _mm(each.off, 2) if length else significant(each.off, 2)
            yield say("knowledge.plan.off", measure=each.measure, off=off)
    if not found.holds:
        name, part = number_name(bench, found.worth_measuring), percent(found.part)
        yield say("knowledge.plan.none", name=name, part=part)


def possible_words(share: float) -> str:
    """Say on how many of the possible tubes a refused goal is reached all the same."""
    return say("knowledge.plan.possible", share=percent(share))


def next_words(bench: Bench, best: Observation | None, uncertainty: float) -> str:
    """Say what is worth looking at next."""
    if best is None or best.narrower < 1.05:
        return say("knowledge.next_none")
    return say(
        "knowledge.next",
        x=_mm(best.x),
        settings=knobs_words(best.settings),
        reading=_mm(uncertainty, 2),
        factor=significant(best.narrower, 2),
    )


def knobs_words(settings: Settings) -> str:
    """Write the knobs that are not at zero."""
    signs = {"plate_voltage": settings.plate_reversed, "coil_current": settings.coil_reversed}
    told = []
    for knob, unit in KNOBS.items():
        value = getattr(settings, knob)
        if value:
            reversed_ = " (reversed)" if signs.get(knob) else ""
            told.append(f"{knob_name(knob)} {exact_text(value, unit)}{reversed_}")
    return ", ".join(told)


def _mm(length: float, digits: int = 3) -> str:
    return format_quantity(length, "mm", digits, style="typeset")
