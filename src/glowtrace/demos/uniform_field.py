"""Exact motion of an electron in uniform, constant electric and magnetic fields together.

In the electron's proper time tau the equation of motion is linear in its four-velocity
u = gamma (c, v):  du/dtau = M u, with the 4 x 4 matrix

    M = (q/m) [[0, E/c], [E/c, -[B]x]]      ([B]x w = B x w, q = -e).

So u(tau) = exp(M tau) u(0), and the event (c t, r) is its integral. The eigenvalues of M are
+-a and +-i b, which follow from the two invariants E^2/c^2 - B^2 and E.B/c of the field
(J. D. Jackson, *Classical Electrodynamics*, chapters 11 and 12, has equation and invariants).
M^2 therefore has only the two eigenvalues a^2 and -b^2, and any power series f(M^2) equals
f(-b^2) + D_f (M^2 + b^2), with D_f the divided difference of f between them. The three series
that occur are cosh, sinh/x and (cosh - 1)/x^2 of x = M tau.

Every closed form of this package (parabola, circle, trochoid, helix) is a special case.
Symbols: E V/m, B T, M 1/s, tau s, k the order of a series.
"""

from __future__ import annotations

from math import factorial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import BoolArray, FloatArray, lorentz_factor

_SERIES_TERMS = 11  # for arguments up to 1 the next term is below 1e-19


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
    growth, turning = _squared_rates(M)
    a, b = growth * tau**2, -turning * tau**2

    rate = M @ start
    rest = M @ rate + turning * start
    basis = np.stack([start, rest, rate, M @ rest])
    c0, c1, c2 = (_series(k, b) for k in range(3))
    d0, d1, d2 = (_divided_difference(k, a, b) * tau**2 for k in range(3))
    four_velocity = np.stack([c0, d0, tau * c1, tau * d1], axis=1) @ basis
    event = np.stack([tau * c1, tau * d1, tau**2 * c2, tau**2 * d2], axis=1) @ basis
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


def _squared_rates(M: FloatArray) -> tuple[float, float]:
    """Squares (a^2, b^2), both >= 0, of the rates of growth and of turning; 1/s^2."""
    E = M[0, 1:]
    B = np.array([M[2, 3], M[3, 1], M[1, 2]])
    size_E, size_B = float(np.linalg.norm(E)), float(np.linalg.norm(B))
    difference = (size_E - size_B) * (size_E + size_B)
    product = float(E @ B)
    larger = (np.hypot(difference, 2 * product) + abs(difference)) / 2
    smaller = product**2 / larger if larger > 0 else 0.0
    return (larger, smaller) if difference > 0 else (smaller, larger)


def _series(k: int, z: FloatArray) -> FloatArray:
    """Sum of z^n / (2n + k)! over n >= 0, for k = 0, 1, 2 and any real z.

    In x = sqrt(z): cosh x, sinh x / x and (cosh x - 1) / x^2, with cos and sin for negative z.
    """
    x = np.sqrt(np.abs(z))
    if k == 0:
        return np.where(z > 0, np.cosh(np.where(z > 0, x, 0.0)), np.cos(x))
    if k == 1:
        return _sine_ratio(x, z > 0)
    return _sine_ratio(x / 2, z > 0) ** 2 / 2


def _sine_ratio(x: FloatArray, is_growth: BoolArray) -> FloatArray:
    """Give sinh(x) / x where `is_growth`, sin(x) / x elsewhere; 1 at x = 0."""
    divisor = np.where(x == 0, 1.0, x)
    growth = np.sinh(np.where(is_growth, x, 0.0)) / divisor
    return np.where(is_growth, growth, np.sinc(x / np.pi))


def _divided_difference(k: int, a: FloatArray, b: FloatArray) -> FloatArray:
    """(f(a) - f(b)) / (a - b) of the series of order k, for b <= 0 <= a.

    Near a = b = 0 (weak field, short time, or E = c B) the quotient would cancel: there the
    series itself is divided, term by term.
    """
    is_small = np.maximum(a, -b) < 1.0
    small_a, small_b = np.where(is_small, a, 0.0), np.where(is_small, b, 0.0)
    total = np.zeros_like(a)
    term = np.zeros_like(a)
    for n in range(1, _SERIES_TERMS + 1):
        term = small_a * term + small_b ** (n - 1)
        total += term / factorial(2 * n + k)
    quotient = (_series(k, a) - _series(k, b)) / np.where(is_small, 1.0, a - b)
    return np.where(is_small, total, quotient)
