"""What the visitor told, as the ranking takes it."""

from __future__ import annotations

import numpy as np

from glowtrace.bench.model import EndFace
from glowtrace.faults import PHOTOGRAPHED, SKETCHED, Ranking, Sighting, Suspects, rank, update
from glowtrace.web.faulting.cause_picture import spot_ring
from glowtrace.web.faulting.told import Told


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


def sighting(suspects: Suspects, told: Told) -> Sighting:
    """Give what is seen, in m; of a spot that is drawn, points round its edge."""
    places = np.array(told.sketch, dtype=float).reshape(-1, 2)
    if isinstance(suspects.bench.screen, EndFace) and len(places) > 1:
        places = spot_ring(places[0], places[1])
    line = tuple((u, v) for u, v in (1e-3 * places).tolist())
    error = PHOTOGRAPHED if told.is_photographed else SKETCHED
    return Sighting(seen=told.said, line=line, line_error=error)
