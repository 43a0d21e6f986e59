"""The same flights written with general-purpose array libraries: vectorised NumPy, and JAX.

Both use the classical fourth-order Runge-Kutta step with x as the independent variable's end: a
fixed number of steps in proper time, the last one cut so that all electrons end on the plane. The
field is the same cubic spline of the same coefficients.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import Field

Array = Any
Run = Callable[[Array], Array]
GOAL = 1e-7
"""Error in m that the ends may have."""


def spline_field(xp: Any, field: Field, tables: Array, r: Array) -> tuple[Array, Array]:
    """Give E and B (n, 3) at positions r (n, 3); ``xp`` is numpy or jax.numpy."""
    low, per = xp.asarray(field.lowest), xp.asarray(field.boxes[0].per_spacing)
    place = (r - low) * per
    cell = xp.floor(place).astype(int)
    f = place - cell
    g = 1.0 - f
    weights = xp.stack(
        [g**3 / 6, (4 - 6 * f**2 + 3 * f**3) / 6, (4 - 6 * g**2 + 3 * g**3) / 6, f**3 / 6]
    )
    slopes = xp.stack([-(g**2) / 2, 1.5 * f**2 - 2 * f, 2 * g - 1.5 * g**2, f**2 / 2])
    offsets = xp.arange(4)
    i = cell[:, 0, None, None, None] + offsets[:, None, None]
    j = cell[:, 1, None, None, None] + offsets[None, :, None]
    k = cell[:, 2, None, None, None] + offsets[None, None, :]
    near = tables[i, j, k]  # (n, 4, 4, 4, 4): potential, then flux
    w = [weights[:, :, axis] for axis in range(3)]
    d = [slopes[:, :, axis] for axis in range(3)]
    gradient = xp.stack(
        [
            xp.einsum("nijk,in,jn,kn->n", near[..., 0], d[0], w[1], w[2]) * per[0],
            xp.einsum("nijk,in,jn,kn->n", near[..., 0], w[0], d[1], w[2]) * per[1],
            xp.einsum("nijk,in,jn,kn->n", near[..., 0], w[0], w[1], d[2]) * per[2],
        ],
        axis=1,
    )
    flux = xp.einsum("nijkc,in,jn,kn->nc", near[..., 1:], w[0], w[1], w[2])
    return -gradient, flux * field.current + xp.asarray(field.uniform_flux)


def runge_kutta(xp: Any, field: Field, tables: Array, state: Array, h: Array) -> Array:
    """Advance all electrons by one classical step of proper time h (n,)."""

    def slope(state: Array) -> Array:
        E, B = spline_field(xp, field, tables, state[:, :3])
        u = state[:, 3:]
        gamma = xp.sqrt(1.0 + (u**2).sum(axis=1, keepdims=True) / SPEED_OF_LIGHT**2)
        return xp.concatenate([u, -SPECIFIC_CHARGE * (gamma * E + xp.cross(u, B))], axis=1)

    h = h[:, None]
    first = slope(state)
    second = slope(state + h / 2 * first)
    third = slope(state + h / 2 * second)
    fourth = slope(state + h * third)
    return state + h / 6 * (first + 2 * second + 2 * third + fourth)


def fly(xp: Any, field: Field, tables: Array, face: float, states: Array, steps: int) -> Array:
    """Take ``steps`` steps towards the plane, each aimed at its share of the way left."""
    for step in range(steps):
        aimed = (face - states[:, 0]) / (steps - step)
        states = runge_kutta(xp, field, tables, states, aimed / states[:, 3])
    for _ in range(2):  # land on the plane itself
        states = runge_kutta(xp, field, tables, states, (face - states[:, 0]) / states[:, 3])
    return states


def fewest_steps(run: Callable[[int], Array], error: Callable[[Array], float]) -> int:
    """Find the fewest steps, of 8, 12, 16, ..., with which the ends are right to the goal."""
    return next(steps for steps in range(8, 200, 4) if error(run(steps)) < GOAL)


def outermost(field: Field) -> Field:
    """Give the field of the largest box alone: one table, which all solvers can read."""
    nowhere = field.boxes[0]._replace(lowest=(np.inf,) * 3, highest=(np.inf,) * 3)
    return field._replace(boxes=(field.boxes[0], nowhere, nowhere))


def combined(field: Field) -> Array:
    """Put potential and flux of the outermost box side by side, (i, j, k, 4)."""
    shape = field.boxes[0].shape
    count = int(np.prod(shape))
    potential = field.potential[:count].reshape(*shape, 1)
    flux = field.flux[: 3 * count].reshape(shape[0], shape[1], 3, shape[2])
    return np.concatenate([potential, np.moveaxis(flux, 2, 3)], axis=3)


def numpy_flight(
    field: Field, face: float, starts: Array, error: Callable[[Array], float]
) -> tuple[Run, int]:
    """Give a function that flies all electrons with NumPy, and its number of steps."""
    tables = combined(field)
    steps = fewest_steps(lambda n: fly(np, field, tables, face, starts, n), error)
    return lambda states: fly(np, field, tables, face, states, steps), steps


def jax_flight(
    field: Field, face: float, starts: Array, error: Callable[[Array], float]
) -> tuple[Run, int]:
    """Give a function that flies all electrons with JAX on the CPU, compiled, and its steps."""
    import jax
    import jax.numpy as jnp

    jax.config.update("jax_enable_x64", True)
    _, steps = numpy_flight(field, face, starts, error)
    tables = jnp.asarray(combined(field))
    compiled = jax.jit(lambda states: fly(jnp, field, tables, face, states, steps))
    return lambda states: np.asarray(compiled(states)), steps
