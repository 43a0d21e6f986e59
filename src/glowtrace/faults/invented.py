"""Invented cases: a fault drawn at random, what an onlooker would say of it, and the answers.

For practice, and to measure how often the ranking is right. The onlooker errs as real ones do:
statements are missed and made wrongly, and a dragged line is off as a whole, askew and shaky.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import EndFace
from glowtrace.faults.check import Check
from glowtrace.faults.fault import Fault
from glowtrace.faults.looks import Look
from glowtrace.faults.sighting import SKETCHED, SMALLEST_RADIUS, Points, Sighting
from glowtrace.faults.statement import differs
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.suspects import Suspects, draw_changes, look_at
from glowtrace.faults.variations import AS_SET, COIL_CURRENT, FIELDS_OFF, PLATE_VOLTAGE

Array = NDArray[np.float64]

_NOTICEABLE = 0.5
"""Chance of being noticed from which a case is worth asking about."""
_TRIES = 60
_TRIED = AS_SET, COIL_CURRENT, PLATE_VOLTAGE, FIELDS_OFF
_POINTS = 9
_OFFSET, _SLOPE, _SHAKE = 0.5, 0.02, 0.5
"""A dragged line's common offset and its shake, as parts of its error, and its slope."""


@dataclass(frozen=True, eq=False)
class InventedCase:
    """A fault of known kind and size, and what is said about it.

    Attributes
    ----------
    fault
        What is wrong.
    truth
        The fault at its one size, with what it looks like.
    sighting
        What the onlooker says.
    seed
        From which it was made.
    is_noticeable
        Whether a careful eye finds that something is wrong at all.
    """

    fault: Fault
    truth: Suspect
    sighting: Sighting
    seed: int
    is_noticeable: bool

    def answer(self, check: Check) -> str:
        """Give the outcome that the onlooker reports for a check; always the same one."""
        chances = check.likelihood(self.truth)[0]
        rng = np.random.default_rng([self.seed, *check.key.encode()])
        return check.outcomes[int(rng.choice(len(chances), p=chances / chances.sum()))]


def invent_case(
    suspects: Suspects, fault: Fault, seed: int, *, tries_knobs: bool = True
) -> InventedCase:
    """Invent a case of a fault that can be noticed at these settings.

    Where none of the sizes drawn is noticed, the last one is taken.

    Parameters
    ----------
    suspects
        The bench at its settings.
    fault
        What is wrong; not "something else".
    seed
        Another seed gives another size and another onlooker.
    tries_knobs
        Whether the onlooker turns each knob to zero once before saying what is seen.
    """
    for change in draw_changes(suspects.tube, suspects.settings, fault, _TRIES, -1 - seed):
        truth = look_at(suspects.tube, tuple(suspects.variations.values()), fault, [change])
        is_noticeable = _is_noticeable(suspects, truth)
        if is_noticeable:
            break
    rng = np.random.default_rng([seed, 1, *fault.key.encode()])
    sighting = onlooker_says(suspects, truth, rng, tries_knobs)
    return InventedCase(fault, truth, sighting, seed, is_noticeable)


def _is_noticeable(suspects: Suspects, truth: Suspect) -> bool:
    return bool(differs(suspects.statements, truth.looks, suspects.usual)[0] > _NOTICEABLE)


def onlooker_says(
    suspects: Suspects, truth: Suspect, rng: np.random.Generator, tries_knobs: bool
) -> Sighting:
    """Say what an onlooker would who looks, reads the meters, and may try each knob once."""
    seen, not_seen = [], []
    for one in suspects.statements:
        if one.about == "knobs" and not tries_knobs:
            continue
        is_made = rng.random() < one.chance(truth.looks, suspects.usual)[0]
        if is_made:
            seen.append(one.key)
        elif one.about == "meters":
            not_seen.append(one.key)
    is_spot = isinstance(suspects.bench.screen, EndFace)
    tried = [key for key in (_TRIED if tries_knobs else (AS_SET,)) if key in truth.looks]
    lines = {key: drawn_line(truth.looks[key], is_spot, rng) for key in tried}
    others = tuple((key, line) for key, line in lines.items() if line and key != AS_SET)
    return Sighting(tuple(seen), tuple(not_seen), lines[AS_SET], other_lines=others)


def drawn_line(look: Look, is_spot: bool, rng: np.random.Generator) -> Points:
    """Drag a line over the one that is seen, or round the spot, as a hand does; none when dark."""
    if look.lit[0] == 0.0:
        return ()
    offset = rng.normal(0.0, _OFFSET * SKETCHED, 2)
    shake = rng.normal(0.0, _SHAKE * SKETCHED, (_POINTS, 2))
    if is_spot:
        angle = np.linspace(0.0, 2.0 * np.pi, _POINTS, endpoint=False)
        edge = max(float(look.width[0]), SMALLEST_RADIUS) * np.stack(
            [np.cos(angle), np.sin(angle)], axis=1
        )
        points = look.centre[0] + edge + offset + 0.3 * shake
    else:
        line = look.line[0]
        last = int(rng.integers(len(line) * 2 // 3, len(line) + 1))
        chosen = np.linspace(0, last - 1, _POINTS).round().astype(int)
        points = line[chosen] + offset + shake
        points[:, 1] += _SLOPE * rng.normal() * (points[:, 0] - points[0, 0])
    return tuple((float(u), float(v)) for u, v in points)
