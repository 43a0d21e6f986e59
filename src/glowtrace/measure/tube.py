"""What the conditions of a measurement depend on: the constants of the tube."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.known_fields import coil_flux_density
from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.picture import Model
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.measure.tables.readings import Tie

Array = NDArray[np.float64]
Readings = Mapping[str, Array]
"""True readings by the name of their column, (r,) each."""


@dataclass(frozen=True)
class Tube:
    """The constants of the tube, and e/m: everything that is not read row by row. SI units."""

    specific_charge: float = SPECIFIC_CHARGE
    """e/m in C/kg, positive."""
    plate_gap: float = float("inf")
    """Effective gap in m: plate voltage over the field that acts in the middle of the plates."""
    plate_length: float = 0.0
    """Effective length in m of the plates' field with sharp edges; for the ideal model only."""
    plate_start: float = 0.0
    """x in m where that field begins."""
    coil_constant: float = 0.0
    """Flux density at the coils' centre for each ampere, in T/A."""
    grid_tilt: float = 0.0
    """Turn in rad of the grid against the beam's axis; positive makes the trace seem to rise."""
    grid_shift: float = 0.0
    """Height in m at which the undeflected trace is read."""
    grid_cosine: float = 1.0
    """Way along the beam for each metre on the grid: less than 1 on a sheet at an angle to it."""
    focus_shift: float = 0.0
    """What the distance of an axial focus has beside what is written, m."""
    contact_offset: float = 0.0
    """What contact potentials, and losses in gas, add to the accelerating voltage, V."""
    plate_offset: float = 0.0
    """What adds to the plate voltage whatever the meter shows, V."""
    current_offset: float = 0.0
    """What adds to the coil current whatever the meter shows, A."""
    earth_x: float = 0.0
    earth_y: float = 0.0
    earth_z: float = 0.0
    """Flux density in T that is there without any current in the coils."""
    plate_tie: Tie = "symmetric"

    @property
    def earth(self) -> Array:
        """The three components (3,) in T."""
        return np.array([self.earth_x, self.earth_y, self.earth_z])


TUBE_PARAMETERS: Final = {
    "specific_charge": ("e/m", "C/kg", 1e9),
    "plate_gap": ("effective gap of the plates", "m", 1e-4),
    "plate_length": ("effective length of the plates", "m", 1e-4),
    "coil_constant": ("coil constant", "T/A", 0.0),
    "grid_tilt": ("tilt of the grid", "rad", 1e-3),
    "grid_shift": ("height of the axis on the grid", "m", 1e-4),
    "focus_shift": ("error of the distance of the focus", "m", 1e-4),
    "contact_offset": ("contact potentials and losses", "V", 1.0),
    "plate_offset": ("offset of the plate voltage", "V", 1.0),
    "current_offset": ("offset of the coil current", "A", 1e-3),
    "earth_x": ("Earth's field along the beam", "T", 1e-6),
    "earth_y": ("Earth's field upwards", "T", 1e-6),
    "earth_z": ("Earth's field towards the audience", "T", 1e-6),
}
"""Title, SI unit and size of a small change (0: a hundredth of its value) of each constant that can
be fitted or be uncertain."""


def nominal_tube(
    bench: Bench, model: Model, *, earth: Sequence[float] = (0.0, 0.0, 0.0), tie: Tie = "symmetric"
) -> Tube:
    """Give the constants that a bench has by its drawing.

    The coil constant of the `ideal` model is that of thin coils, of the `bench` model that of the
    windings as they are, both at the middle of the coils.
    """
    plates = bench.plates
    constant = ideal_coil_constant(bench) if model == "ideal" else real_coil_constant(bench)
    tube = Tube(
        coil_constant=constant,
        earth_x=float(earth[0]),
        earth_y=float(earth[1]),
        earth_z=float(earth[2]),
        plate_tie=tie,
        grid_cosine=bench.plane.cosine or 1.0,
    )
    if plates is None:
        return tube
    return replace(tube, plate_gap=plates.gap, plate_length=plates.length, plate_start=plates.start)


def ideal_coil_constant(bench: Bench) -> float:
    """Flux density in T/A along the coils' axis at their centre, for thin coils; 0 without."""
    x, _, z = flux_density_per_ampere(bench)
    return x if isinstance(bench.coils, LongCoil) else z


def real_coil_constant(bench: Bench) -> float:
    """Flux density in T/A at the coils' centre for the windings as they are; 0 without coils."""
    coils = bench.coils
    if coils is None:
        return 0.0
    if isinstance(coils, LongCoil):
        centre = np.array([[(coils.x_from + coils.x_to) / 2, 0.0, 0.0]])
        return float(coil_flux_density(bench, centre)[0, 0])
    return float(coil_flux_density(bench, np.array([coils.centre]))[0, 2])


def tube_from(tube: Tube, names: Sequence[str], theta: Array) -> Tube:
    """Give the tube with the constants that stand in the parameters (p,)."""
    constants: dict[str, Any] = {
        name: float(value)
        for name, value in zip(names, theta, strict=True)
        if name in TUBE_PARAMETERS
    }
    return replace(tube, **constants)
