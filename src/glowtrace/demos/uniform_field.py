"""Exact motion of an electron in uniform, constant electric and magnetic fields together.

In the electron's proper time tau the equation of motion is linear in its four-velocity
u = gamma (c, v):  du/dtau = M u, with the 4 x 4 matrix

    M = (q/m) [[0, E/c], [E/c, -[B]x]]      ([B]x w = B x w, q = -e).

So u(tau) = exp(M tau) u(0), and the event (c t, r) is its integral. The eigenvalues of M are
+-a and +-i b, which follow from the two invariants E^2/c^2 - B^2 and E.B/c of the field
(J. D. Jackson, *Classical Electrodynamics*, chapters 11 and 12, has equation and invariants).
M^2 therefore has only the two eigenvalues a^2 and -b^2, and any power series f(M^2) equals
f(-b^2) + D_f (M^2 + b^2), with D_f the divided difference of f between them. The three series
that occur are cosh, sinh/x and (cosh - 1)/x^2 of x = M tau, numbered k = 0, 1, 2.

Every closed form of this package (parabola, circle, trochoid, helix) is a special case.
Symbols: E V/m, B T, M 1/s, tau s.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import FloatArray, lorentz_factor

_SERIES_TERMS = 11  # for arguments up to 1 the next term is below 1e-19
_ORDERS = np.arange(3)[:, None, None]
_INVERSE_FACTORIALS = np.array(
    [[1 / math.factorial(2 * n + k) for n in range(1, _SERIES_TERMS + 1)] for k in range(3)]
)


class Motion(NamedTuple):
    """Where an electron is, and how fast, at each of t proper times."""

    time: FloatArray
    """(t,) laboratory time in s since the start."""
    position: FloatArray
    """(t, 3) m."""
    velocity: FloatArray
    """(t, 3) m/s."""


def uniform_field_motion(
    E: ArrayLike,
    B: ArrayLike,
    position: ArrayLike,
    velocity: ArrayLike,
    proper_times: ArrayLike,
    *,
    specific_charge: float = SPECIFIC_CHARGE,
) -> Motion:
    """Time, position and velocity of an electron in uniform E and B, at given proper times.

    Holds for every strength and direction of the two fields, either or both zero, E larger or
    smaller than c B, and for every speed below that of light. Negative proper times give the past.

    Parameters
    ----------
    E, B
        (3,) electric field in V/m and magnetic flux density in T.
    position, velocity
        (3,) at proper time 0, in m and m/s.
    proper_times
        (t,) or a single number, in s.
    specific_charge
        Magnitude of charge over mass in C/kg of the negative particle.

    Returns
    -------
    Motion
        (time (t,), position (t, 3), velocity (t, 3)).

    Raises
    ------
    GlowtraceError
        If the speed reaches that of light.

    Examples
    --------
    The null: with E = v B the electron does not notice the two fields.

    >>> motion = uniform_field_motion([0, 3e4, 0], [0, 0, 1e-3], [0, 0, 0], [3e7, 0, 0], 1e-8)
    >>> bool(abs(motion.position[0, 1]) < 1e-15)
    True
    """
    tau = np.atleast_1d(np.asarray(proper_times, dtype=float))
    start_velocity = np.asarray(velocity, dtype=float)
    gamma = lorentz_factor(float(np.linalg.norm(start_velocity)))
    start = gamma * np.array([SPEED_OF_LIGHT, *start_velocity])

    M = field_matrix(E, B, specific_charge=specific_charge)
    growth, turning = _rates(M)
    rate = M @ start
    rest = M @ rate + turning**2 * start
    basis = np.stack([start, rest, rate, M @ rest])
    turned = _turning_series(turning * tau)
    differences = _divided_differences(growth * tau, turning * tau, turned) * tau**2
    coefficients = np.stack([turned, differences], axis=1) * tau**_ORDERS
    (c0, d0), (c1, d1), (c2, d2) = coefficients
    four_velocity = np.stack([c0, d0, c1, d1], axis=1) @ basis
    event = np.stack([c1, d1, c2, d2], axis=1) @ basis
    return Motion(
        time=event[:, 0] / SPEED_OF_LIGHT,
        position=np.asarray(position, dtype=float) + event[:, 1:],
        velocity=SPEED_OF_LIGHT * four_velocity[:, 1:] / four_velocity[:, :1],
    )


def field_matrix(
    E: ArrayLike, B: ArrayLike, *, specific_charge: float = SPECIFIC_CHARGE
) -> FloatArray:
    """Give the (4, 4) matrix M in 1/s of du/dtau = M u for a negative charge in uniform E and B."""
    push = np.asarray(E, dtype=float) / SPEED_OF_LIGHT
    Bx, By, Bz = np.asarray(B, dtype=float)
    M = np.zeros((4, 4))
    M[0, 1:] = M[1:, 0] = push
    M[1:, 1:] = [[0, Bz, -By], [-Bz, 0, Bx], [By, -Bx, 0]]
    return -specific_charge * M


def _rates(M: FloatArray) -> tuple[float, float]:
    """Rates (a, b), both >= 0, of growth and of turning, in 1/s."""
    E = M[0, 1:]
    B = np.array([M[2, 3], M[3, 1], M[1, 2]])
    size_E, size_B = math.hypot(*E), math.hypot(*B)
    difference = (size_E - size_B) * (size_E + size_B)
    product = float(E @ B)
    larger = math.sqrt((math.hypot(difference, 2 * product) + abs(difference)) / 2)
    smaller = abs(product) / larger if larger > 0 else 0.0
    return (larger, smaller) if difference > 0 else (smaller, larger)


def _turning_series(x: FloatArray) -> FloatArray:
    """Sums of (-x^2)^n / (2n + k)! over n for k = 0, 1, 2: cos x, sin x / x, (1 - cos x) / x^2."""
    return np.stack([np.cos(x), np.sinc(x / np.pi), np.sinc(x / (2 * np.pi)) ** 2 / 2])


def _growth_series(x: FloatArray) -> FloatArray:
    """Sums of x^2n / (2n + k)! over n for k = 0, 1, 2: cosh x, sinh x / x, (cosh x - 1) / x^2."""
    halves = np.stack([x, x / 2])
    ratio, half_ratio = np.divide(
        np.sinh(halves), halves, out=np.ones_like(halves), where=halves != 0
    )
    return np.stack([np.cosh(x), ratio, half_ratio**2 / 2])


def _divided_differences(grown: FloatArray, turning: FloatArray, turned: FloatArray) -> FloatArray:
    """(f(a) - f(-b)) / (a + b) of the three series f, at a = grown^2 and b = turning^2.

    `turned` is the three series f(-b). Near a = b = 0 (weak field, short time, or E = c B) the
    quotient would cancel: there the series itself is divided, term by term.
    """
    a, minus_b = grown**2, -(turning**2)
    is_small = np.maximum(a, -minus_b) < 1.0
    quotients = (_growth_series(grown) - turned) / np.where(is_small, 1.0, a - minus_b)
    if not is_small.any():
        return quotients
    small_a, small_b = np.where(is_small, a, 0.0), np.where(is_small, minus_b, 0.0)
    terms = np.ones((_SERIES_TERMS, len(a)))  # (a^n - (-b)^n) / (a + b) for n = 1, 2, ...
    power = np.ones_like(a)
    for n in range(1, _SERIES_TERMS):
        power = power * small_b
        terms[n] = small_a * terms[n - 1] + power
    return np.where(is_small, _INVERSE_FACTORIALS @ terms, quotients)
