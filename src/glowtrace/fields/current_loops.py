"""Flux density of a circular loop and of a cylindrical current sheet, exact and compiled.

Both need complete elliptic integrals. The textbook forms subtract nearly equal terms and lose all
digits near the axis. Here the integrals are taken in Bulirsch's general form, whose first step is
done on paper so that the small factor k^2 (proportional to rho) comes out in front: the radial
field is then right to rounding down to the axis itself.

Symbols: a radius, rho distance from the axis, z along the axis; Q = (a + rho)^2 + z^2,
k^2 = 4 a rho / Q, kc^2 = 1 - k^2 = ((a - rho)^2 + z^2) / Q.

References
----------
R. Bulirsch, "Numerical calculation of elliptic integrals and elliptic functions III", Numer. Math.
13 (1969) 305-315: the algorithm cel.
M. Ortner, P. Leitner, F. Slanovc, "Numerically stable and computationally efficient expression for
the magnetic field of a current loop", Magnetism 3 (2023) 11-31: the idea of the stable form.
N. Derby, S. Olbert, "Cylindrical magnets and ideal solenoids", Am. J. Phys. 78 (2010) 229-235: the
current sheet.
"""

from __future__ import annotations

from math import copysign, pi, sqrt

from glowtrace.compiled import compiled
from glowtrace.constants import VACUUM_PERMEABILITY

_PRECISION = 1e-8
"""The iteration converges quadratically: its square is what is left."""
_CLOSEST = 1e-14
"""Relative distance from the sheet's radius below which a point counts as just beside it."""


@compiled(inlined=True)
def loop_flux_density(a: float, rho: float, z: float) -> tuple[float, float]:
    """Give (B_rho, B_z) in T for 1 A in a loop of radius ``a`` in m around the z axis at z = 0."""
    Q = (a + rho) ** 2 + z * z
    k2 = 4.0 * a * rho / Q
    kc = sqrt(((a - rho) ** 2 + z * z) / Q)
    # one iteration serves two integrals that share p = kc^2: of 1/Delta^3 and of
    # (sin^2 - cos^2)/Delta^3 divided by k^2; the latter's first step is done here
    upper, lower = 1.0 + 1.0 / (kc * kc), 2.0 * (1.0 / kc + 1.0)
    upper_radial, lower_radial = 1.0 / (kc * kc), 2.0 / (kc * (1.0 + kc))
    p, m, g, e = 1.0 + kc, 1.0 + kc, 1.0, kc
    while abs(g - kc) > g * _PRECISION:
        kc = 2.0 * sqrt(e)
        e = kc * m
        ratio = e / p
        upper, lower = upper + lower / p, 2.0 * (lower + upper * ratio)
        upper_radial, lower_radial = (
            upper_radial + lower_radial / p,
            2.0 * (lower_radial + upper_radial * ratio),
        )
        p += ratio
        g = m
        m += kc
    scale = 0.5 * pi / (m * (m + p))
    whole = scale * (lower + upper * m)
    radial = scale * (lower_radial + upper_radial * m) * k2
    factor = VACUUM_PERMEABILITY * a / (pi * Q * sqrt(Q))
    return factor * z * radial, factor * (a * whole - rho * radial)


@compiled(inlined=True)
def sheet_flux_density(a: float, half_length: float, rho: float, z: float) -> tuple[float, float]:
    """Give (B_rho, B_z) in T for 1 A altogether around a cylinder of radius ``a`` about the z axis.

    The current is spread evenly from z = -half_length to z = half_length (m).
    """
    radial_high, axial_high = _sheet_end(a, rho, z + half_length)
    radial_low, axial_low = _sheet_end(a, rho, z - half_length)
    factor = VACUUM_PERMEABILITY / (2.0 * half_length * pi)
    return factor * (radial_high - radial_low), factor * (axial_high - axial_low)


@compiled(inlined=True)
def _sheet_end(a: float, rho: float, z: float) -> tuple[float, float]:
    """Contribution of a sheet's end at axial distance z, in units of mu_0 current / (pi length)."""
    root = sqrt((a + rho) ** 2 + z * z)
    kc = sqrt((a - rho) ** 2 + z * z) / root
    gamma = (a - rho) / (a + rho)
    gamma = copysign(max(abs(gamma), _CLOSEST), gamma)
    # radial: cel(kc, 1, 1, -1), axial: cel(kc, gamma^2, 1, gamma); the first step done on paper
    p, upper, lower = abs(gamma), 1.0 + 1.0 / gamma, 2.0 * (copysign(1.0, gamma) + kc / abs(gamma))
    p += kc / p
    p_radial, upper_radial, lower_radial = (
        1.0 + kc,
        0.0,
        -8.0 * a * rho / (root * root * (1.0 + kc)),
    )
    m, g, e = 1.0 + kc, 1.0, kc
    while abs(g - kc) > g * _PRECISION:
        kc = 2.0 * sqrt(e)
        e = kc * m
        ratio = e / p
        upper, lower = upper + lower / p, 2.0 * (lower + upper * ratio)
        p += ratio
        ratio = e / p_radial
        upper_radial, lower_radial = (
            upper_radial + lower_radial / p_radial,
            2.0 * (lower_radial + upper_radial * ratio),
        )
        p_radial += ratio
        g = m
        m += kc
    axial = 0.5 * pi * (lower + upper * m) / (m * (m + p))
    radial = 0.5 * pi * (lower_radial + upper_radial * m) / (m * (m + p_radial))
    return a / root * radial, a / (a + rho) * z / root * axial
