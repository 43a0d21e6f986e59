"""Benches that differ in a few numbers, prepared one after the other.

What does not change from one to the next is kept: the coils' part of a map where only plates
change, the plates' part where only coils do.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.layout import field_problem
from glowtrace.bench.map_grids import aperture_grid, coarser
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.fields.interpolation import Grid
from glowtrace.fields.maps import (
    FieldProblem,
    FluxMap,
    PotentialMap,
    build_flux,
    build_potentials,
    join_maps,
)

Part = TypeVar("Part", PotentialMap, FluxMap)

_KEPT: Final = 4
"""Parts of maps of either kind that are kept: 2 MB each."""
_FINER: Final = 1.25
"""How many times finer cells a bench may want than those that it gets."""


class BenchSeries:
    """Prepares benches like a first one, in memory alone.

    Their maps have `COARSER` cells, and are not compared with the exact sums: the accuracy of E is
    told as NaN.
    """

    def __init__(self, first: PreparedBench) -> None:
        self._first = first
        self._like = field_problem(first.bench)
        self._grids = _coarser(self._like.grids)
        self._potentials: OrderedDict[str, PotentialMap] = OrderedDict()
        self._flux: OrderedDict[str, FluxMap] = OrderedDict()
        self._lock = threading.Lock()  # two threads of a worker may ask at once

    def prepare(self, bench: Bench) -> PreparedBench:
        """Give a bench with its fields.

        Raises
        ------
        FieldMapError
            There is no such field: a winding in the glass, plates that touch.
        """
        first, problem = self._first, self._problem(bench)
        with self._lock:
            electric = _kept(
                self._potentials,
                problem.electrodes_key(),
                lambda: build_potentials(problem, is_checked=False),
            )
            magnetic = _kept(self._flux, problem.coils_key(), lambda: build_flux(problem))
        place = bench.place
        earth = np.zeros(3) if place.ignore_earth else earth_at(place)
        return PreparedBench(bench, join_maps(problem, electric, magnetic), earth, first.cache_dir)

    def _problem(self, bench: Bench) -> FieldProblem:
        """Give its problem on the grids of the first bench where these fit.

        What does not depend on a number then has the same key whatever that number is.
        """
        problem, like = field_problem(bench), self._like
        grids = _coarser(problem.grids)
        if _fits(problem.grids, like.grids):
            grids = self._grids
        aperture = problem.aperture and coarser(aperture_grid(bench.gun, grids[-1]))
        return replace(problem, grids=grids, aperture=aperture, probes=like.probes)


def _coarser(grids: tuple[Grid, ...]) -> tuple[Grid, ...]:
    """Let the outermost box have coarser cells; one of the plates keeps its nodes on them."""
    return (coarser(grids[0]), *grids[1:])


def _fits(own: tuple[Grid, ...], others: tuple[Grid, ...]) -> bool:
    """Say whether one box alone, of the same size, has about the same cells for both."""
    (box, *more), (other, *others_more) = own, others
    if more or others_more or (box.lowest, box.highest) != (other.lowest, other.highest):
        return False
    return bool((box.spacing > other.spacing / _FINER).all())


def _kept(parts: OrderedDict[str, Part], key: str, build: Callable[[], Part]) -> Part:
    """Give a part that was used lately, or build it."""
    if key not in parts:
        parts[key] = build()
        if len(parts) > _KEPT:
            parts.popitem(last=False)
    parts.move_to_end(key)
    return parts[key]
