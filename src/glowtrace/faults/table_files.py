"""Pictures of faults on disk, computed once: a table for each bench, its settings and the draws.

A table is kept under a hash of all that it depends on, the program's own text included, so that a
changed fault finds no old pictures. The folder holds no more than `MOST_BYTES`: the tables that
were not used for longest go first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np
import platformdirs
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.disk import read_arrays, write_arrays
from glowtrace.faults.looks import Look

Array = NDArray[np.float64]

MOST_BYTES: Final = 100_000_000
"""Of all tables together; one of the usual size takes some 5 MB."""
_MAKERS: Final = "beam", "bench", "demos", "fields", "faults"
"""Packages that the pictures depend on."""


@dataclass(frozen=True, eq=False)
class Table:
    """Pictures by state of the knobs: of the bench in order, and of each fault."""

    expected: Mapping[str, Look]
    faults: Mapping[str, Mapping[str, Look]]


def table_folder() -> Path:
    """Give the folder in which tables are kept unless another one is named."""
    return Path(platformdirs.user_cache_dir("glowtrace")) / "faults"


def table_key(bench: Bench, settings: Settings, seed: int, draws: int) -> str:
    """Give the content hash of what a table depends on."""
    digest = hashlib.blake2b(_program().encode(), digest_size=16)
    for part in (bench.model_dump_json(), settings.model_dump_json(), f"{seed} {draws}"):
        digest.update(part.encode() + b"\0")
    return digest.hexdigest()


def has_table(folder: Path, key: str) -> bool:
    """Say whether a table is there, sound or not."""
    return _path(folder, key).is_file()


def load_table(folder: Path, key: str) -> Table | None:
    """Read a table; a file that is missing, cut short or damaged counts as not there."""
    path = _path(folder, key)
    table = read_arrays(path, _table)
    if table is not None:
        with suppress(OSError):
            path.touch()  # it was used now
    return table


def store_table(folder: Path, key: str, table: Table) -> None:
    """Keep a table, and let the oldest ones go; with a `GlowtraceWarning` where that fails."""
    what = "What faults look like"
    write_arrays(_path(folder, key), _content(table), what=what, is_packed=True)
    trim(folder)


def trim(folder: Path, most: int = MOST_BYTES) -> None:
    """Remove the tables that were not used for longest until the others take ``most`` bytes."""
    with suppress(OSError):  # another program may be at it too
        tables = [(path.stat(), path) for path in folder.glob("*.npz")]
        left = sum(status.st_size for status, _ in tables)
        for status, path in sorted(tables, key=lambda each: each[0].st_mtime):
            if left <= most:
                break
            path.unlink(missing_ok=True)
            left -= status.st_size


def _path(folder: Path, key: str) -> Path:
    return folder / f"{key}.npz"


def _content(table: Table) -> dict[str, NDArray[Any]]:
    """Give all pictures as one array for each quantity: (states, pictures, ...)."""
    states = list(table.expected)
    rows = [table.expected, *table.faults.values()]
    counts = [len(row[states[0]].lit) for row in rows]
    arrays = {
        each.name: np.stack(
            [np.concatenate([getattr(row[state], each.name) for row in rows]) for state in states]
        )
        for each in fields(Look)
    }
    return {
        "states": np.array(states),
        "faults": np.array(list(table.faults)),
        "counts": np.array(counts),
        **arrays,
    }


def _table(stored: Mapping[str, NDArray[np.generic]]) -> Table:
    states, names = (list(map(str, stored[name])) for name in ("states", "faults"))
    ends = np.cumsum(np.asarray(stored["counts"], dtype=int)).tolist()
    rows = [
        _row(stored, states, slice(begin, end))
        for begin, end in zip([0, *ends], ends, strict=False)
    ]
    return Table(rows[0], dict(zip(names, rows[1:], strict=True)))


def _row(
    stored: Mapping[str, NDArray[np.generic]], states: Sequence[str], where: slice
) -> dict[str, Look]:
    return {
        state: Look(
            **{
                each.name: np.asarray(stored[each.name][n, where], dtype=np.float64)
                for each in fields(Look)
            }
        )
        for n, state in enumerate(states)
    }


@cache
def _program() -> str:
    """Give the content hash of the program's text that makes the pictures."""
    digest = hashlib.blake2b(digest_size=16)
    top = files("glowtrace")
    for package in _MAKERS:
        folder = Path(str(top.joinpath(package)))
        for path in sorted(folder.rglob("*.py")):
            digest.update(str(path.relative_to(folder)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()
