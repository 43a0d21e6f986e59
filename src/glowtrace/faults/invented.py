"""Invented cases: a fault drawn at random, what an onlooker would say of it, and the answers.

For practice, and to measure how often the ranking is right. The onlooker errs as real ones do:
statements are missed and made wrongly, and a dragged line is off as a whole, askew and shaky.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.check import Check
from glowtrace.faults.drawn_lines import ASKEW, OFF, SHAKES
from glowtrace.faults.fault import Fault
from glowtrace.faults.looks import Look
from glowtrace.faults.sighting import SKETCHED, SMALLEST_RADIUS, Points, Sighting
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.suspects import Suspects, draw_changes, look_at
from glowtrace.faults.variations import (
    ACCELERATING_VOLTAGE,
    AS_SET,
    COIL_CURRENT,
    FIELDS_OFF,
    PLATE_VOLTAGE,
)

Array = NDArray[np.float64]

_TRIES = 60
_TRIED = AS_SET, COIL_CURRENT, PLATE_VOLTAGE, FIELDS_OFF, ACCELERATING_VOLTAGE
_POINTS = 9


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
    is_noticed
        Whether the onlooker says anything true that a bench in order would not have said of it.
    passed_over
        How many other sizes of the fault were drawn before, of which nobody noticed anything.
    """

    fault: Fault
    truth: Suspect
    sighting: Sighting
    seed: int
    is_noticed: bool
    passed_over: int = 0

    def answer(self, check: Check) -> str:
        """Give the outcome that the onlooker reports for a check; always the same one."""
        chances = check.likelihood(self.truth)[0]
        rng = np.random.default_rng([self.seed, *check.key.encode()])
        return check.outcomes[int(rng.choice(len(chances), p=chances / chances.sum()))]


def invent_case(
    suspects: Suspects,
    fault: Fault,
    seed: int,
    *,
    tries_knobs: bool = True,
    line_error: float = SKETCHED,
) -> InventedCase:
    """Invent a case of a fault that somebody has noticed: nobody asks about a picture that is fine.

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
        Whether the onlooker goes the whole round: turns coil current and plate voltage to zero,
        each alone and both together, lowers the accelerating voltage, draws the line each time,
        waits two minutes, and says of every statement whether it holds. Else it is one look at
        the picture, drawn once, and at the meters, and nothing is denied but what these show.
    line_error
        Of the lines that are drawn, m: `SKETCHED` by hand, `PHOTOGRAPHED` off a photograph.
    """
    rng = np.random.default_rng([seed, 1, *fault.key.encode()])
    states = tuple(suspects.variations.values())
    passed_over = 0
    for change in draw_changes(suspects.tube, suspects.settings, fault, _TRIES, -1 - seed):
        truth = look_at(suspects.tube, states, fault, [change])
        sighting = onlooker_says(suspects, truth, rng, tries_knobs, line_error)
        if _is_noticed(suspects, truth, sighting):
            return InventedCase(fault, truth, sighting, seed, True, passed_over)
        passed_over += 1
    return InventedCase(fault, truth, sighting, seed, False, passed_over)


def _is_noticed(suspects: Suspects, truth: Suspect, sighting: Sighting) -> bool:
    """Say whether anything that is said holds of this picture, and not of the usual one."""
    usual = suspects.usual
    for one in suspects.statements:
        holds = bool(one.holds(truth.looks, usual)[0] > 0.5)
        differs = holds != bool(one.holds(usual, usual)[0] > 0.5)
        if differs and one.key in (sighting.seen if holds else sighting.not_seen):
            return True
    return False


def onlooker_says(
    suspects: Suspects,
    truth: Suspect,
    rng: np.random.Generator,
    tries_knobs: bool,
    line_error: float = SKETCHED,
) -> Sighting:
    """Say what an onlooker would who looks, reads the meters, and may try each knob once."""
    seen, not_seen = [], []
    for one in suspects.statements:
        if one.about in {"knobs", "waiting"} and not tries_knobs:
            continue
        is_made = rng.random() < one.chance(truth.looks, suspects.usual)[0]
        if is_made:
            seen.append(one.key)
        elif tries_knobs or one.about == "meters":
            not_seen.append(one.key)
    is_spot = suspects.bench.plane.is_spot
    tried = [key for key in (_TRIED if tries_knobs else (AS_SET,)) if key in truth.looks]
    lines = {key: drawn_line(truth.looks[key], is_spot, rng, line_error) for key in tried}
    others = tuple((key, line) for key, line in lines.items() if line and key != AS_SET)
    return Sighting(tuple(seen), tuple(not_seen), lines[AS_SET], line_error, others)


def drawn_line(
    look: Look, is_spot: bool, rng: np.random.Generator, error: float = SKETCHED
) -> Points:
    """Drag a line over the one that is seen, or round the spot, as a hand does; none when dark."""
    if look.lit[0] == 0.0:
        return ()
    offset = rng.normal(0.0, OFF * error, 2)
    shake = rng.normal(0.0, SHAKES * error, (_POINTS, 2))
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
        points[:, 1] += ASKEW * error * rng.normal() * (points[:, 0] - points[0, 0])
    return tuple((float(u), float(v)) for u, v in points)
