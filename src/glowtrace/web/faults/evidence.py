"""What the visitor told, as the ranking takes it."""

from __future__ import annotations

import numpy as np

from glowtrace.faults import (
    PHOTOGRAPHED,
    SKETCHED,
    Advice,
    Ranking,
    Sighting,
    Suspects,
    next_checks,
    rank,
    update,
)
from glowtrace.faults.variations import AS_SET
from glowtrace.web.faults.cause_picture import spot_ring
from glowtrace.web.faults.told import Places, Told


def ranked(suspects: Suspects, told: Told) -> Ranking:
    """Rank the causes after what is seen and what checks have shown.

    An answer to a check that these suspects do not have, as an old address may tell, counts for
    nothing.
    """
    ranking = rank(suspects, sighting(suspects, told))
    outcomes = {check.key: check.outcomes for check in suspects.checks}
    for check, outcome in told.checked:
        if outcome in outcomes.get(check, ()):
            ranking = update(ranking, check, outcome)
    return ranking


def open_checks(ranking: Ranking, told: Told) -> tuple[Advice, ...]:
    """Give the checks that neither an answer nor a drawn line has told, the next one first."""
    drawn = {state for state, _ in told.sketches}
    return tuple(each for each in next_checks(ranking) if each.check.key not in drawn)


def sighting(suspects: Suspects, told: Told) -> Sighting:
    """Give what is seen, in m; of a spot that is drawn, points round its edge."""
    is_spot = suspects.bench.plane.is_spot
    lines = {state: _line(places, is_spot) for state, places in told.sketches}
    return Sighting(
        seen=told.said,
        not_seen=told.denied,
        line=lines.pop(AS_SET, ()),
        line_error=PHOTOGRAPHED if told.is_photographed else SKETCHED,
        other_lines=tuple(lines.items()),
    )


def _line(places: Places, is_spot: bool) -> Places:
    points = np.array(places, dtype=float).reshape(-1, 2)
    if is_spot and len(points) > 1:
        points = spot_ring(points[0], points[1])
    return tuple((u, v) for u, v in (1e-3 * points).tolist())
