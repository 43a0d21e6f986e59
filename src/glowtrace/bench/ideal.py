"""The ideal model of a bench: the uniform fields that a textbook draws for it.

Between the plates, sharply from their near to their far edge, E_y = -V_p / d; nowhere else any
electric field. Everywhere in the tube the flux density that the coils have at their centre, by the
on-axis formula of thin coils, straight along the axis that they are meant to have. No Earth field,
and no tilts, shifts or ties: whatever makes a difference there is in the `bench` model only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from glowtrace.bench.model import Bench, CoilPair, LongCoil
from glowtrace.bench.settings import Settings
from glowtrace.constants import VACUUM_PERMEABILITY

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class IdealFields:
    """A uniform electric field in a box, and a uniform magnetic field everywhere."""

    electric_field: Vector
    """V/m, inside the box only."""
    x_from: float
    """The box in m; it has no size where a bench has no plates, and no limits along z."""
    x_to: float
    y_from: float
    y_to: float
    flux_density: Vector
    """T, inside and outside the box."""


def ideal_fields(bench: Bench, settings: Settings) -> IdealFields:
    """Give the uniform fields that a textbook assumes for this bench at these settings."""
    current = settings.signed_coil_current
    x, y, z = flux_density_per_ampere(bench)
    flux_density = (current * x, current * y, current * z)
    plates = bench.plates
    if plates is None:
        return IdealFields((0.0, 0.0, 0.0), 0.0, 0.0, 0.0, 0.0, flux_density)
    return IdealFields(
        electric_field=(0.0, -settings.signed_plate_voltage / plates.gap, 0.0),
        x_from=plates.start,
        x_to=plates.start + plates.length,
        y_from=plates.height_offset - plates.gap / 2,
        y_to=plates.height_offset + plates.gap / 2,
        flux_density=flux_density,
    )


def flux_density_per_ampere(bench: Bench) -> Vector:
    """Flux density in T/A at the centre of the bench's coils; zero without coils.

    A pair in the sense "aiding" gives a field along z, at the spacing of one radius
    (4/5)^(3/2) mu_0 n / R; a pair in the sense "opposing" has none at its centre.
    A long coil gives mu_0 n / sqrt(4 R^2 + L^2) along x.
    """
    coils = bench.coils
    if isinstance(coils, CoilPair):
        if coils.sense == "opposing":
            return (0.0, 0.0, 0.0)
        one = loop_flux_density(coils.mean_radius, coils.spacing / 2)
        return (0.0, 0.0, 2 * coils.turns * one)
    if isinstance(coils, LongCoil):
        length = coils.x_to - coils.x_from
        across = math.hypot(2 * coils.mean_radius, length)
        return (VACUUM_PERMEABILITY * coils.turns / across, 0.0, 0.0)
    return (0.0, 0.0, 0.0)


def loop_flux_density(radius: float, distance: float) -> float:
    """Flux density in T/A on the axis of one turn, `distance` m from its plane.

    mu_0 R^2 / (2 (R^2 + z^2)^(3/2)), with the radius R in m more than 0.
    """
    return VACUUM_PERMEABILITY * radius**2 / (2 * math.hypot(radius, distance) ** 3)
