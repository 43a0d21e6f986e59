"""How the errors of a photograph's map move all its points together.

A map from pixels to the screen is fitted to a few clicks. An error of theirs shifts, turns,
stretches and tilts the whole grid, which no number of points averages out. To first order such an
error is a polynomial of the place (x, y) on the grid: of second degree for a plane seen through a
projective map, of third degree where a lens's distortion was fitted as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]
Coefficients = tuple[float, ...]
"""Of 1, x, y, x^2, xy, y^2, x^3, x^2 y, x y^2, y^3, as many as there are; SI units."""

_SECOND_DEGREE = 6
_THIRD_DEGREE = 10
_ALIKE = 0.002
"""What a polynomial may miss, relative to the errors, before it gets more terms."""


def sway_at(errors: Sequence[Coefficients], x: Array, y: Array) -> Array:
    """Errors (e, r) at places x and y (r,) from a polynomial for each error."""
    terms = _terms(x, y)
    return np.array([np.asarray(each) @ terms[: len(each)] for each in errors])


def fitted_sway(places: Array, errors: Array) -> tuple[tuple[Coefficients, ...], Array]:
    """Give the polynomials for errors (e, n) at places (n, 2), and what they miss (n,).

    What they miss is the root of the sum of squares of all errors at a place. Few places get
    fewer terms than there are places.
    """
    x, y = places.T
    size = float(np.sqrt((errors**2).sum(axis=0).mean()))
    coefficients, missed = np.zeros((len(errors), 1)), np.sqrt((errors**2).sum(axis=0))
    for count in (1, 3, _SECOND_DEGREE, _THIRD_DEGREE):
        if count > len(places) or np.sqrt(np.mean(missed**2)) <= _ALIKE * size:
            break
        terms = _terms(x, y)[:count]
        scale = np.maximum(np.abs(terms).max(axis=1, keepdims=True), 1e-300)
        solved = np.linalg.lstsq((terms / scale).T, errors.T, rcond=1e-10)[0].T
        coefficients = solved / scale.T
        missed = np.sqrt(((errors - coefficients @ terms) ** 2).sum(axis=0))
    return tuple(tuple(map(float, each)) for each in coefficients), missed


def sway_text(errors: Sequence[Coefficients]) -> str:
    """Write polynomials as text: numbers with spaces, slashes between the errors."""
    return " / ".join(" ".join(map(repr, each)) for each in errors)


def sway_from_text(text: str) -> tuple[Coefficients, ...]:
    """Read polynomials from text.

    Raises
    ------
    GlowtraceError
        If it is no text of `sway_text`.
    """
    try:
        found = tuple(tuple(map(float, each.split())) for each in text.split("/"))
    except ValueError:
        found = ()
    if not found or not all(
        0 < len(each) <= _THIRD_DEGREE and all(map(math.isfinite, each)) for each in found
    ):
        given = f'"{text[:30]}"'
        allowed = f"give 1 to {_THIRD_DEGREE} numbers for each error, slashes between the errors"
        raise GlowtraceError(Problem("sway", given, allowed))
    return found


def _terms(x: Array, y: Array) -> Array:
    one = np.ones_like(x)
    return np.stack([one, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3])
