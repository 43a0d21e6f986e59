"""Each number's share of a variance: by an evenly spread plan, or by what is linear in a sample.

The plan and its shares come from SALib, kept apart here.

References
----------
A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto, S. Tarantola, "Variance based
sensitivity analysis of model output. Design and estimator for the total sensitivity index",
Comput. Phys. Commun. 181 (2010) 259-270.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import MissingPackageError

Array = NDArray[np.float64]

_EDGE = 1e-9
"""Part at either end that is left out: a normal distribution has no value at 0 and 1."""


class Share(NamedTuple):
    """One number's part of the variance of what is read."""

    name: str
    alone: float
    """What it makes by itself (first-order index)."""
    alone_within: float
    """95 % of repetitions would be within this of it; NaN where that is not known."""
    total: float
    """With all it does together with others (total index); NaN where that is not known."""
    total_within: float

    @property
    def size(self) -> float:
        """By which shares are put in order."""
        return self.alone if math.isnan(self.total) else self.total


def sample_plan(names: Sequence[str], base: int, seed: int) -> Array:
    """Give places (base (n + 2), n) between 0 and 1, block after block of n + 2 rows."""
    sobol = _salib("sample.sobol")
    places = sobol.sample(_problem(names), base, calc_second_order=False, scramble=True, seed=seed)
    return np.asarray(np.clip(places, _EDGE, 1.0 - _EDGE))


def variance_shares(names: Sequence[str], read: Array, seed: int = 0) -> tuple[Share, ...]:
    """Give the shares of what was read (rows,) on a whole `sample_plan`; it has no gaps."""
    if np.ptp(read) == 0.0:
        return tuple(Share(name, 0.0, 0.0, 0.0, 0.0) for name in names)
    sobol = _salib("analyze.sobol")
    found = sobol.analyze(_problem(names), read, calc_second_order=False, seed=seed)
    columns = (found[key].tolist() for key in ("S1", "S1_conf", "ST", "ST_conf"))
    return tuple(Share(*each) for each in zip(names, *columns, strict=True))


def linear_shares(
    names: Sequence[str], values: Array, read: Array
) -> tuple[tuple[Share, ...], float]:
    """Give the shares of the straight-line part in any sample, and how much that part explains.

    Shares of numbers that vary together can be negative. Nothing where the rows are too few.

    Parameters
    ----------
    names, values
        What varies (n,), and its values (rows, n).
    read
        What was read (rows,), without gaps.
    """
    rows, n = values.shape
    if rows < 2 * (n + 1) or np.ptp(read) == 0.0:
        return (), np.nan
    spread = values.std(axis=0)
    moves = spread > 0.0
    centred = (values - values.mean(axis=0)) / np.where(moves, spread, 1.0)
    off = read - read.mean()
    slopes = np.linalg.lstsq(centred, off, rcond=None)[0] * moves
    parts = slopes * (centred.T @ off) / (off @ off)
    shares = (
        Share(name, part, np.nan, np.nan, np.nan)
        for name, part in zip(names, parts.tolist(), strict=True)
    )
    return tuple(shares), float(parts.sum())


def _problem(names: Sequence[str]) -> dict[str, Any]:
    return {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}


def _salib(module: str) -> Any:
    from importlib import import_module

    try:
        return import_module(f"SALib.{module}")
    except ImportError as error:
        raise MissingPackageError("Shares of the variance", "SALib", "studies") from error
