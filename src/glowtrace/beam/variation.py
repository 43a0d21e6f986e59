"""How an electron's path changes when its start or the fields change by a little.

The variational equation of the Lorentz force along a known path: linear in the change, and solved
for all changes in one pass. In the electron's own time tau, with u = gamma v = dr/dtau,

    d(dr)/dtau = du
    d(du)/dtau = -(e/m) [ d(gamma E) + du x B + u x dB ]

where dE and dB hold what the fields change by at a fixed place and what they change by because the
place does. The stations lie at equal lengths s of the known path, ds = |u| dtau. A change may shift
places along the path too: what is seen is the part across it.

Index letters: n changes, s stations, 3 is x, y, z.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT

Array = NDArray[np.float64]

_CHARGE = -SPECIFIC_CHARGE
_SPEED = SPEED_OF_LIGHT


def vary_path(
    states: Array,
    fields: tuple[Array, Array],
    gradients: tuple[Array, Array],
    changes: tuple[Array, Array],
    starts: Array,
    spacing: float,
) -> Array:
    """Give how far each change moves the path.

    Parameters
    ----------
    states
        (s, 6) places in m and gamma v in m/s of the path, an odd number of stations at equal
        distances along it.
    fields
        E and B there (s, 3), in V/m and T.
    gradients
        Of E and B (s, 3, 3): [s, j] is the derivative along coordinate j.
    changes
        Of E and B at fixed places (n, s, 3).
    starts
        Changes of the first state (n, 6).
    spacing
        Distance in m between stations.

    Returns
    -------
    Array
        (n, (s + 1) / 2, 3) in m at every second station.
    """
    moved = np.zeros((len(starts), (len(states) + 1) // 2, 3))
    electric, flux = fields
    _vary(
        np.ascontiguousarray(states), np.ascontiguousarray(electric), np.ascontiguousarray(flux),
        np.ascontiguousarray(gradients[0]), np.ascontiguousarray(gradients[1]),
        np.ascontiguousarray(changes[0]), np.ascontiguousarray(changes[1]),
        np.ascontiguousarray(starts), spacing, moved,
    )  # fmt: skip
    return moved


@compiled(inlined=True)
def _push(gamma: float, u: Array, e: Array, b: Array, out: Array) -> None:
    """Set ``out`` to -(e/m) gamma (E + v x B)."""
    out[0] = _CHARGE * (gamma * e[0] + u[1] * b[2] - u[2] * b[1])
    out[1] = _CHARGE * (gamma * e[1] + u[2] * b[0] - u[0] * b[2])
    out[2] = _CHARGE * (gamma * e[2] + u[0] * b[1] - u[1] * b[0])


@compiled()
def _vary(
    states: Array,
    electric: Array,
    flux: Array,
    of_electric: Array,
    of_flux: Array,
    d_electric: Array,
    d_flux: Array,
    starts: Array,
    spacing: float,
    moved: Array,
) -> None:
    stations, count = len(states), len(starts)
    by_place, by_speed = np.zeros((stations, 3, 3)), np.zeros((stations, 3, 3))
    inverse, push = np.zeros(stations), np.zeros((count, stations, 3))
    column = np.zeros(3)
    for s in range(stations):
        u = states[s, 3:]
        square = u[0] * u[0] + u[1] * u[1] + u[2] * u[2]
        inverse[s] = 1.0 / math.sqrt(square)
        gamma = math.sqrt(1.0 + square / _SPEED**2)
        for j in range(3):
            _push(gamma, u, of_electric[s, j], of_flux[s, j], column)
            for i in range(3):
                by_place[s, i, j] = column[i] * inverse[s]
                grows = u[j] / (gamma * _SPEED**2)
                by_speed[s, i, j] = _CHARGE * electric[s, i] * grows * inverse[s]
        b, turn = flux[s], _CHARGE * inverse[s]
        by_speed[s, 0, 1] += turn * b[2]
        by_speed[s, 0, 2] -= turn * b[1]
        by_speed[s, 1, 2] += turn * b[0]
        by_speed[s, 1, 0] -= turn * b[2]
        by_speed[s, 2, 0] += turn * b[1]
        by_speed[s, 2, 1] -= turn * b[0]
        for n in range(count):
            _push(gamma, u, d_electric[n, s], d_flux[n, s], column)
            for i in range(3):
                push[n, s, i] = column[i] * inverse[s]
    step = 2.0 * spacing
    slopes, now, tried = np.zeros((4, 6)), np.zeros(6), np.zeros(6)
    for n in range(count):
        now[:] = starts[n]
        moved[n, 0, :] = now[:3]
        for m in range((stations - 1) // 2):
            for stage in range(4):
                s = 2 * m + (0 if stage == 0 else 2 if stage == 3 else 1)
                part = 0.0 if stage == 0 else step if stage == 3 else 0.5 * step
                for i in range(6):
                    tried[i] = now[i] + part * slopes[stage - 1, i]
                for i in range(3):
                    slopes[stage, i] = tried[3 + i] * inverse[s]
                    total = push[n, s, i]
                    for j in range(3):
                        total += by_place[s, i, j] * tried[j] + by_speed[s, i, j] * tried[3 + j]
                    slopes[stage, 3 + i] = total
            for i in range(6):
                now[i] += (
                    step
                    / 6.0
                    * (slopes[0, i] + 2.0 * slopes[1, i] + 2.0 * slopes[2, i] + slopes[3, i])
                )
            moved[n, m + 1, :] = now[:3]
