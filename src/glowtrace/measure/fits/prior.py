"""What is known beforehand about the parameters of a fit, with its correlations.

Index letter: p parameters. Correlations stand between parameters that are known beforehand; two
factors of one calibration, say.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.parameters import Parameter, with_changes

Array = NDArray[np.float64]


def are_known(parameters: Sequence[Parameter]) -> NDArray[np.bool_]:
    """Say which parameters (p,) are known beforehand with an uncertainty."""
    return np.array([not (each.is_exact or each.is_free) for each in parameters], dtype=bool)


def checked_correlation(parameters: Sequence[Parameter], correlation: ArrayLike | None) -> Array:
    """Give the correlation (p, p) of what is known beforehand; none when left out.

    Raises
    ------
    GlowtraceError
        If it is no correlation matrix, or ties a parameter that is free or exact.
    """
    count = len(parameters)
    if correlation is None:
        return np.eye(count)
    matrix = np.asarray(correlation, dtype=float)
    is_sound = (
        matrix.shape == (count, count)
        and np.allclose(matrix, matrix.T)
        and np.allclose(np.diag(matrix), 1.0)
        and float(np.linalg.eigvalsh(matrix)[0]) > 0
    )
    if not is_sound:
        allowed = f"give a symmetric ({count}, {count}) with 1 on the diagonal, positive definite"
        raise GlowtraceError(Problem("correlation", f"shape {matrix.shape}", allowed))
    tied = np.any(matrix != np.eye(count), axis=1) & ~are_known(parameters)
    if tied.any():
        name = parameters[int(np.flatnonzero(tied)[0])].name
        allowed = "only what is known beforehand with an uncertainty can be correlated"
        raise GlowtraceError(Problem("correlation", f"one of {name}", allowed))
    return matrix


def whitening(parameters: Sequence[Parameter], correlation: Array) -> Array:
    """Matrix (p, p) that makes distances from what is known, in spreads, independent.

    The rows and columns of parameters that are free or exact are 0.
    """
    known = are_known(parameters)
    within = np.ix_(known, known)
    matrix = np.zeros((len(known), len(known)))
    root = np.linalg.cholesky(correlation[within])
    matrix[within] = linalg.solve_triangular(root, np.eye(len(root)), lower=True)
    return matrix


def drawn_together(correlation: Array, draws: Array) -> Array:
    """Give independent standard draws (p,) the correlation (p, p)."""
    together: Array = np.linalg.cholesky(correlation) @ draws
    return together


def held(
    parameters: Sequence[Parameter], correlation: Array, position: int, value: float
) -> tuple[tuple[Parameter, ...], Array]:
    """Give what is known beforehand about the others where one parameter is held at a value.

    The conditional distribution of jointly normal quantities (any text on statistics).
    """
    it = parameters[position]
    others = tuple(parameters)
    ties = correlation[position].copy()
    ties[position] = 0.0
    for n in np.flatnonzero(ties).tolist():
        other = parameters[n]
        moved = other.value + ties[n] * other.spread * (value - it.value) / it.spread
        narrowed = other.spread * float(np.sqrt(1.0 - ties[n] ** 2))
        moved = float(np.clip(moved, other.low, other.high))
        others = with_changes(others, other.name, value=moved, spread=narrowed)
    rest = correlation - np.outer(ties, ties)
    size = np.sqrt(np.diag(rest))
    rest = rest / np.outer(size, size)
    rest[position, :] = rest[:, position] = 0.0
    rest[position, position] = 1.0
    return with_changes(others, it.name, value=value, spread=0.0), rest
