"""Benches that differ in a few numbers, prepared one after the other.

What does not change from one to the next is kept: the coils' part of a map where only plates
change, the plates' part where only coils do.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Final, TypeVar

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.layout import field_problem
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.fields.maps import (
    FluxMap,
    PotentialMap,
    all_cores,
    build_flux,
    build_potentials,
    join_maps,
    split_map,
)

Part = TypeVar("Part", PotentialMap, FluxMap)

_KEPT: Final = 4
"""Parts of maps of either kind that are kept: 5 MB each."""


class BenchSeries:
    """Prepares benches like a first one, in memory alone."""

    def __init__(self, first: PreparedBench) -> None:
        self._first = first
        problem = field_problem(first.bench)
        electric, magnetic = split_map(first.fields)
        self._potentials = OrderedDict({problem.electrodes_key(): electric})
        self._flux = OrderedDict({problem.coils_key(): magnetic})

    def prepare(self, bench: Bench) -> PreparedBench:
        """Give a bench with its fields.

        Raises
        ------
        FieldMapError
            There is no such field: a winding in the glass, plates that touch.
        """
        first = self._first
        if bench == first.bench:
            return first
        problem = field_problem(bench)
        with all_cores():
            electric = _kept(
                self._potentials, problem.electrodes_key(), lambda: build_potentials(problem)
            )
            magnetic = _kept(self._flux, problem.coils_key(), lambda: build_flux(problem))
        place = bench.place
        earth = np.zeros(3) if place.ignore_earth else earth_at(place)
        return PreparedBench(bench, join_maps(problem, electric, magnetic), earth, first.cache_dir)


def _kept(parts: OrderedDict[str, Part], key: str, build: Callable[[], Part]) -> Part:
    """Give a part that was used lately, or build it."""
    if key not in parts:
        parts[key] = build()
        if len(parts) > _KEPT:
            parts.popitem(last=False)
    parts.move_to_end(key)
    return parts[key]
