"""Field maps on disk, computed once: the electrodes' part and the coils' part each in a file.

A part is kept under a hash of all that it depends on: a changed bench finds no map, an unchanged
one finds its own, and one with other coils keeps the potentials of its plates.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np
import platformdirs
from numpy.typing import NDArray

from glowtrace.disk import read_arrays, write_arrays
from glowtrace.fields.maps import (
    FieldMap,
    FieldProblem,
    FluxMap,
    PotentialMap,
    build_flux,
    build_potentials,
    join_maps,
)
from glowtrace.watching import Progress

Array = NDArray[np.float64]
Part = TypeVar("Part", PotentialMap, FluxMap)
Stored = dict[str, NDArray[np.generic]]
_WHAT: Final = "The field map"


def field_map_folder() -> Path:
    """Give the folder in which field maps are kept unless another one is named."""
    return Path(platformdirs.user_cache_dir("glowtrace")) / "fields"


def load_or_build(
    problem: FieldProblem, folder: Path | None = None, progress: Progress | None = None
) -> FieldMap:
    """Give the field map of a problem: its parts from disk where they are sound, else computed.

    Two processes may do this at once: each writes to a file of its own and puts it in place in one
    step. A part that cannot be written is used all the same, with a `GlowtraceWarning`.
    """
    folder = folder or field_map_folder()
    potentials = folder / f"plates-{problem.electrodes_key()}.npz"
    electric = _part(potentials, _potentials, lambda: build_potentials(problem, progress))
    flux = folder / f"coils-{problem.coils_key()}.npz"
    magnetic = _part(flux, _flux, lambda: build_flux(problem, progress))
    return join_maps(problem, electric, magnetic)


def kept_tables(
    path: Path, names: Sequence[str], build: Callable[[], dict[str, Array]]
) -> dict[str, Array]:
    """Give the tables of these names from their file where it is sound, else build them."""

    def read(stored: Stored) -> dict[str, Array]:
        return {name: np.asarray(stored[name], dtype=float) for name in names}

    stored = read_arrays(path, read)
    if stored is None:
        stored = build()
        write_arrays(path, stored, what=_WHAT)
    return stored


@cache
def _one_builder() -> threading.Lock:
    return threading.Lock()


def _part(path: Path, read: Callable[[Stored], Part], build: Callable[[], Part]) -> Part:
    """Give one part of a map from its file, or build it and keep it there."""
    stored = read_arrays(path, read)
    if stored is not None:
        return stored
    with _one_builder():  # whoever waited may find the map ready
        stored = read_arrays(path, read)
        built = stored or build()
    if stored is None:
        write_arrays(path, _as_stored(built), what=_WHAT)
    return built


def _potentials(stored: Stored) -> PotentialMap:
    names = tuple(str(name) for name in stored["names"])
    typical, largest = stored["errors"].tolist()
    return PotentialMap(names, np.asarray(stored["potentials"], dtype=float), typical, largest)


def _flux(stored: Stored) -> FluxMap:
    typical, largest = stored["errors"].tolist()
    return FluxMap(np.asarray(stored["flux"], dtype=float), typical, largest)


def _as_stored(built: PotentialMap | FluxMap) -> Mapping[str, NDArray[Any]]:
    errors = np.array([built.typical_error, built.largest_error])
    if isinstance(built, PotentialMap):
        names = np.array(built.names, dtype=np.str_)
        return {"names": names, "potentials": built.potentials, "errors": errors}
    return {"flux": built.flux, "errors": errors}
