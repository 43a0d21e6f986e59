"""Names of the parts of a bench, and where in its picture plane they are pointed at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from glowtrace.bench.model import Bench


class PartPlace(NamedTuple):
    """A part in the picture plane; m."""

    name: str
    u: float
    v: float


def part_places(bench: Bench) -> Iterator[PartPlace]:
    """Give the parts that can be pointed at in the plane of the screen, as the bench has them."""
    plane = bench.plane
    u0, v0, u1, _ = plane.rectangle
    yield PartPlace("screen", u0 + 0.8 * (u1 - u0), v0)
    if plane.is_spot:
        return
    yield PartPlace("anode", plane.u_of(0.0), 0.0)
    plates = bench.plates
    if plates is not None:
        middle = plane.u_of(plates.start + plates.length / 2)
        half, lift = plates.gap / 2, plates.height_offset
        yield PartPlace("upper plate", middle, lift + half)
        yield PartPlace("lower plate", middle, lift - half)
