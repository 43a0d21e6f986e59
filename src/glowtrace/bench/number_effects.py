"""What each uncertain number of a bench does to its fields, its beam and its readings.

Which of them a number does is found by moving it: a number that moves a conductor has a table for
the potential, one that moves a winding a table for the flux density, and so on. Nothing here knows
the parts of a bench by name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.knowledge import knowledge_of, moved, number_at
from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.layout import bench_conductors, bench_windings, field_problem
from glowtrace.bench.model import Bench
from glowtrace.fields.field_changes import (
    FieldChanges,
    Moved,
    Runner,
    at_once,
    build_field_changes,
)
from glowtrace.fields.interpolation import Grid
from glowtrace.fields.map_files import field_map_folder, kept_tables
from glowtrace.fields.maps import FieldProblem

Array = NDArray[np.float64]

_VERSION: Final = "glowtrace number effects 1"
_TABLES: Final = ("potentials", "flux", "of_potentials", "of_flux")
_CELL: Final = 0.003
_MOST_NODES: Final = 30_000
_CELLS_ACROSS_GAP: Final = 16
_ASIDE: Final = 0.008
"""Distance in m to either side of the axis within which paths are followed."""
_REACH: Final = 2.0
"""Gaps around narrow plates that have finer cells."""
_STEP: Final = 5e-4
"""By how far a number is moved, in m or rad; less where it is small itself."""
_SMALL: Final = 0.02


@dataclass(frozen=True, eq=False)
class NumberEffects:
    """What one unit (SI) of each of the n uncertain numbers does."""

    names: tuple[str, ...]
    fields: FieldChanges
    electric: tuple[int, ...]
    """Which numbers the tables of the potential belong to, by their place in ``names``."""
    magnetic: tuple[int, ...]
    """The same for those of the flux density."""
    uniform: Array
    """(n, 3) change in T of the flux density that is the same everywhere."""

    def moves(self, name: str) -> int | None:
        """Give the place of a number; None where it is taken for exact."""
        return self.names.index(name) if name in self.names else None


def number_effects(
    bench: Bench, folder: Path | None = None, run: Runner = at_once
) -> NumberEffects:
    """Find what the uncertain numbers of a bench do; from disk where that was found before.

    Takes one to three seconds the first time; ``run`` runs the pieces of that.
    """
    names = knowledge_of(bench).names
    problem = field_problem(bench)
    grids = change_grids(bench, problem.grids[0])
    steps = [_step(bench, name) for name in names]
    changed = [_moved(bench, name, step) for name, step in zip(names, steps, strict=True)]
    electric = tuple(n for n, each in enumerate(changed) if each.electrodes is not None)
    magnetic = tuple(n for n, each in enumerate(changed) if each.windings is not None)

    def build() -> dict[str, Array]:
        tables = build_field_changes(
            grids, problem.electrodes, problem.windings, changed, problem.glass,
            problem.mirror_radius, run,
        )  # fmt: skip
        return {name: getattr(tables, name) for name in _TABLES}

    key = _key(problem, grids, [names[n] for n in (*electric, *magnetic)])
    path = (folder or field_map_folder()) / f"changes-{key}.npz"
    stored = kept_tables(path, _TABLES, build)
    uniform = np.array([_uniform(bench, each, s) for each, s in zip(names, steps, strict=True)])
    fields = FieldChanges(grids, **stored)
    return NumberEffects(names, fields, electric, magnetic, uniform.reshape(-1, 3))


def change_grids(bench: Bench, outer: Grid) -> tuple[Grid, ...]:
    """Choose where changes are tabulated: along the beam, with finer cells in a narrow gap."""
    low, high = np.array(outer.lowest), np.array(outer.highest)
    low[2], high[2] = max(low[2], -_ASIDE), min(high[2], _ASIDE)
    coarse = _grid(low, high, np.full(3, _CELL))
    plates = bench.plates
    if plates is None or plates.gap / _CELLS_ACROSS_GAP >= 0.9 * float(coarse.spacing[1]):
        return (coarse,)
    cell = plates.gap / _CELLS_ACROSS_GAP * np.array([2.0, 1.0, 4.0])
    around = _REACH * plates.gap
    first, last = plates.start - around, plates.start + plates.length + around
    middle = plates.height_offset
    inner_low = np.maximum(low, [first, middle - around, low[2]])
    inner_high = np.minimum(high, [last, middle + around, high[2]])
    return coarse, _grid(inner_low, inner_high, cell)


def _grid(low: Array, high: Array, cell: Array) -> Grid:
    stretch = max(1.0, (float(np.prod((high - low) / cell)) / _MOST_NODES) ** (1 / 3))
    counts = np.maximum(np.ceil((high - low) / (cell * stretch) - 1e-9), 4).astype(int)
    return Grid(tuple(low.tolist()), tuple(high.tolist()), tuple(counts.tolist()))


def _step(bench: Bench, name: str) -> float:
    if name == "coils.turns":
        return 1.0
    value = abs(number_at(bench, name))
    return min(_STEP, _SMALL * value) if value > 0.0 else _STEP


def _moved(bench: Bench, name: str, step: float) -> Moved:
    if name.startswith("slack."):
        return Moved(None, None, step)
    down, up = moved(bench, name, -step), moved(bench, name, step)
    conductors = bench_conductors(down), bench_conductors(up)
    windings = bench_windings(down), bench_windings(up)
    same_metal = all(np.array_equal(a.panels, b.panels) for a, b in zip(*conductors, strict=True))
    return Moved(
        None if same_metal else conductors,
        None if windings[0] == windings[1] else windings,
        step,
    )


def _uniform(bench: Bench, name: str, step: float) -> Array:
    if name.startswith("slack.stray_field["):
        return np.asarray(np.eye(3)[int(name[-2])])
    if not name.startswith("place.") or bench.place.ignore_earth:
        return np.zeros(3)
    down, up = (earth_at(moved(bench, name, side * step).place) for side in (-1.0, 1.0))
    return np.asarray((up - down) / (2 * step))


def _key(problem: FieldProblem, grids: Sequence[Grid], names: Sequence[str]) -> str:
    digest = hashlib.blake2b(_VERSION.encode(), digest_size=16)
    told: list[Any] = [problem.electrodes_key(), problem.coils_key(), list(names)]
    told += [astuple(grid) for grid in grids]
    digest.update(repr(told).encode())
    return digest.hexdigest()
