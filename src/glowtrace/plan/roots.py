"""Several knobs turned until as many measures are right: Broyden's method from a good first guess.

References
----------
C. G. Broyden, "A class of methods for solving nonlinear simultaneous equations", Math. Comp. 19
(1965) 577-593; with one knob it is the secant method.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from glowtrace.demos.kinematics import FloatArray

_FIRST_STEP = 1e-3
_LARGEST_FACTOR = 1.6
"""How much a knob may be turned up or down in one step."""
_HALVINGS = 6


def solve(
    function: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    *,
    tolerance: float = 1e-7,
    most_steps: int = 25,
) -> tuple[FloatArray, FloatArray]:
    """Give positive x (n,) at which a function (n,) is zero, and what it is there.

    Parameters
    ----------
    function
        Of x; NaN where it is not defined, from which the search turns back.
    start
        First guess (n,), more than 0.
    tolerance
        Largest component of the function that counts as zero.
    most_steps
        After which the best x found is given.
    """
    x = np.array(start, dtype=float)
    value = function(x)
    if not np.isfinite(value).all():
        return x, value
    slopes: FloatArray = _slopes(function, x, value)
    is_fresh = True
    for _ in range(most_steps):
        if np.abs(value).max() < tolerance:
            break
        step = _limited(_newton(slopes, value), x)
        new, new_value = _backtrack(function, x, step, value)
        if new is None or new_value is None:
            if is_fresh:
                break
            slopes, is_fresh = _slopes(function, x, value), True
            continue
        moved = new - x
        slopes += np.outer(new_value - value - slopes @ moved, moved) / (moved @ moved)
        is_fresh = False
        x, value = new, new_value
    return x, value


def _slopes(
    function: Callable[[FloatArray], FloatArray], x: FloatArray, value: FloatArray
) -> FloatArray:
    columns = []
    for n in range(len(x)):
        step = np.zeros_like(x)
        step[n] = _FIRST_STEP * x[n]
        ahead = function(x + step)
        if not np.isfinite(ahead).all():
            step = -step
            ahead = function(x + step)
        columns.append((ahead - value) / step[n])
    slopes: FloatArray = np.nan_to_num(np.stack(columns, axis=1))
    return slopes


def _newton(slopes: FloatArray, value: FloatArray) -> FloatArray:
    return np.asarray(-np.linalg.lstsq(slopes, value, rcond=1e-12)[0], dtype=np.float64)


def _limited(step: FloatArray, x: FloatArray) -> FloatArray:
    """Shorten a step so that no knob is turned by more than the largest factor."""
    most = np.where(step > 0, x * (_LARGEST_FACTOR - 1), x * (1 - 1 / _LARGEST_FACTOR))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.nanmax(np.abs(step) / most)
    shortened: FloatArray = step / max(1.0, float(ratio))
    return shortened


def _backtrack(
    function: Callable[[FloatArray], FloatArray], x: FloatArray, step: FloatArray, value: FloatArray
) -> tuple[FloatArray | None, FloatArray | None]:
    """Halve a step until it brings the function nearer to zero; None where it never does."""
    before = float(np.linalg.norm(value))
    for halving in range(_HALVINGS):
        new = x + step / 2**halving
        if np.array_equal(new, x):
            break
        new_value = function(new)
        if np.isfinite(new_value).all() and np.linalg.norm(new_value) < before:
            return new, new_value
    return None, None
