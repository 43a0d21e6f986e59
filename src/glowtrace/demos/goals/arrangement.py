"""Ties and polarities: the ways in which plates and coils can be connected to push a beam."""

from __future__ import annotations

from collections.abc import Iterator

from glowtrace.bench.model import Bench
from glowtrace.demos.goals.goal import Arrangement


def plate_arrangements(bench: Bench, is_up: bool) -> Iterator[Arrangement]:
    """Give every way to feed the plates so that they push the beam up, or down.

    On a supply of their own any point of the plates' circuit may be tied to the anode. Fed from the
    accelerating supply, one plate is at the anode and the other negative (see
    `glowtrace.bench.ratings`).
    """
    if bench.supplies.plates is not None:
        for tie in ("symmetric", "lower at anode", "upper at anode"):
            yield {"plate_source": "own supply", "plate_tie": tie, "plate_reversed": not is_up}
    tie = "upper at anode" if is_up else "lower at anode"
    yield {"plate_source": "accelerating supply", "plate_tie": tie, "plate_reversed": not is_up}


def crossed_arrangements(bench: Bench) -> Iterator[Arrangement]:
    """Give every way to let plates and coils push against each other."""
    for plates_push_up in (True, False):
        for plates in plate_arrangements(bench, plates_push_up):
            yield {**plates, "coil_reversed": plates_push_up}
