"""How surely limits are kept, with what is known about the numbers of the bench and its meters.

Linear: each line's margin is looked at with every uncertain number a little smaller and larger, and
the changes are brought together as the numbers are known together (GUM, JCGM 100:2008, 5.2.2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.knowledge import knowledge_of, moved
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.findings import Quantity, finding
from glowtrace.safety.lines import SafetyLine

Lines = Callable[[Bench, Settings], tuple[SafetyLine, ...]]
ONE_SIDED: Final = 1.644854
"""Standard uncertainties above which 5 % of a normal distribution lie."""
_METERS: Final = {
    "slack.accelerating_meter": "accelerating_voltage",
    "slack.plate_meter": "plate_voltage",
    "slack.coil_meter": "coil_current",
}
_STEP: Final = 0.1
"""Part of its uncertainty by which a number is moved."""
_NOT_SURE: Final = finding("safety.advice.not_sure")


def with_sureness(lines_of: Lines, bench: Bench, settings: Settings) -> tuple[SafetyLine, ...]:
    """Give the lines of a bench at its settings, each with what is left of it with 95 %.

    A limit that is kept, but not with 95 %, wants attention. Lines of a bench that tells no
    uncertainty stay as they are.
    """
    lines, knowledge = lines_of(bench, settings), knowledge_of(bench)
    kept = [
        n
        for n, name in enumerate(knowledge.names)
        if name in _METERS or not name.startswith("slack.")
    ]
    if not kept:
        return lines
    here = _seen(lines)
    sizes = knowledge.uncertainties[kept]
    slopes = np.zeros((len(lines), len(kept)))
    for column, (n, size) in enumerate(zip(kept, sizes.tolist(), strict=True)):
        name, step = knowledge.names[n], _STEP * size
        there = [_seen(lines_of(*_moved(bench, settings, name, by))) for by in (-step, step)]
        for row, line in enumerate(lines):
            slopes[row, column] = _slope(line.topic.key, here, there, step)
    covariance = knowledge.covariance[np.ix_(kept, kept)]
    spreads = np.sqrt(np.maximum(np.einsum("ln,nm,lm->l", slopes, covariance, slopes), 0.0))
    return tuple(_told(*each) for each in zip(lines, spreads.tolist(), strict=True))


def _moved(bench: Bench, settings: Settings, name: str, by: float) -> tuple[Bench, Settings]:
    if name not in _METERS:
        return moved(bench, name, by), settings
    knob = _METERS[name]
    acting = (1.0 + by) * getattr(settings, knob)
    return bench, settings.model_copy(update={knob: acting})


def _seen(lines: tuple[SafetyLine, ...]) -> dict[str, float]:
    """Give the number of each line that has one: its margin, or its value where it has none."""
    numbers = {
        line.topic.key: line.value_si if line.margin is None else line.margin for line in lines
    }
    return {key: each for key, each in numbers.items() if each is not None and math.isfinite(each)}


def _slope(
    key: str, here: Mapping[str, float], there: list[dict[str, float]], step: float
) -> float:
    """Give the change for one unit of a number, by those sides on which the line has a number."""
    low, high = (each.get(key) for each in there)
    if key not in here:
        return 0.0
    low_step, high_step = (0.0 if each is None else step for each in (low, high))
    if not low_step + high_step:
        return 0.0
    low, high = (here[key] if each is None else each for each in (low, high))
    return (high - low) / (low_step + high_step)


def _told(line: SafetyLine, spread: float) -> SafetyLine:
    if spread == 0.0:
        return line
    if line.margin is None:
        if line.verdict == "ok" or line.value_si is None:
            return line
        reach = Quantity(line.value_si + ONE_SIDED * spread, "m")
        return replace(line, advice=(*line.advice, finding("safety.advice.reach_95", reach=reach)))
    sure = line.margin - ONE_SIDED * spread
    if line.verdict != "ok" or sure >= 0.0:
        return replace(line, sure_margin=sure)
    return replace(line, sure_margin=sure, verdict="attention", advice=(_NOT_SURE, *line.advice))
