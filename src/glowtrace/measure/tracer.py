"""Electrons traced through the real fields of a tube that differs a little from its drawing.

**Another e/m with the tracer's own.** The tracer knows the accepted e/m only. Let an electron have
s times as much. In its proper time its motion is

    du/dtau = -s (e/m) (gamma E + u x B),    gamma - 1 = s (e/m) V / c^2  behind the gun,

so in both equations s stands beside a voltage or a field and nowhere else. An electron of the
accepted e/m in fields, and behind a gun, of s times the strength therefore flies the very same
path, relativity included: all voltages, the coil current and Earth's field are multiplied by s.
(Slow electrons know only the ratio V / B^2, so there B times sqrt(s) alone would do.)

The trace is that of the electron which draws the line (`glowtrace.bench.electron`); the spread of
the beam widens it but moves its middle very little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.electron import AXIS, Field, Launch, drawing, drawing_turn, fields_at, launched
from glowtrace.bench.layout import plate_potentials
from glowtrace.bench.model import LongCoil
from glowtrace.bench.path import Path, turns_about_axis
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.measure.tube import Tube, nominal_tube

Array = NDArray[np.float64]

_LONGEST = 0.6
"""Length of path in m after which an electron is given up."""
_NARROW = 1e-3
"""Angle in rad of the ray that stands for the cone of a gun without divergence."""


@dataclass(frozen=True, eq=False)
class Tracer:
    """Traces the electrons that draw a bench's line, for a tube that differs from the drawing."""

    prepared: PreparedBench
    nominal: Tube = field(init=False)
    uses_uniform_coils: bool = False
    """Whether the coils' field is that of their centre everywhere."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "nominal", nominal_tube(self.prepared.bench, "bench"))

    def strengths(self, tube: Tube) -> tuple[float, float, float]:
        """Factors on all fields (another e/m), on the plates' field and on the coils' field."""
        nominal = self.nominal
        plates = nominal.plate_gap / tube.plate_gap if math.isfinite(nominal.plate_gap) else 1.0
        coils = tube.coil_constant / nominal.coil_constant if nominal.coil_constant else 1.0
        return tube.specific_charge / SPECIFIC_CHARGE, plates, coils

    def field(self, tube: Tube, plate_voltage: float, coil_current: float) -> Field:
        """Fields that give the tube's electron the path that the accepted one has in them."""
        charge, plates, coils = self.strengths(tube)
        across = charge * plates * (plate_voltage + tube.plate_offset)
        voltages = plate_potentials(across, tube.plate_tie)
        maps = self.prepared.fields
        current = charge * coils * (coil_current + tube.current_offset)
        uniform = charge * tube.earth
        if self.uses_uniform_coils:
            axis = 0 if isinstance(self.prepared.bench.coils, LongCoil) else 2
            uniform[axis] += self.nominal.coil_constant * current
            current = 0.0
        return maps.field(voltages[: len(maps.names)], current, uniform)

    def path(
        self,
        tube: Tube,
        voltage: float,
        plate_voltage: float,
        current: float,
        *,
        launch: Launch = AXIS,
        lit_at: float | None = None,
    ) -> Path:
        """Trace the beam's axis, another ray, or the ray that draws the line at a place.

        Parameters
        ----------
        tube
            Constants, e/m among them.
        voltage, plate_voltage, current
            Accelerating voltage in V, V_p in V and coil current in A, signed.
        launch
            How the ray leaves the aperture.
        lit_at
            x in m at which the ray is to draw the line, instead of a launch.
        """
        ray = launch if lit_at is None else drawing(self.prepared.bench, lit_at)
        return self._flown(tube, voltage, plate_voltage, current, [ray])[0]

    def paths(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float, lit_at: Array
    ) -> tuple[Path, ...]:
        """Trace, in one setting, the rays that draw the line at places (n,); see `path`."""
        rays = [drawing(self.prepared.bench, x) for x in lit_at.tolist()]
        if all(ray == rays[0] for ray in rays):
            return self._flown(tube, voltage, plate_voltage, current, rays[:1]) * len(rays)
        return self._flown(tube, voltage, plate_voltage, current, rays)

    def turning_path(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float
    ) -> Path:
        """Trace the ray that draws the first turning point of the line; see `path`."""

        def fly(launch: Launch) -> Path:
            return self._flown(tube, voltage, plate_voltage, current, [launch])[0]

        return drawing_turn(self.prepared.bench, fly)

    def _flown(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float, rays: list[Launch]
    ) -> tuple[Path, ...]:
        field_of_tube = self.field(tube, plate_voltage, current)
        accelerating = tube.specific_charge / SPECIFIC_CHARGE * (voltage + tube.contact_offset)
        states = launched(field_of_tube, accelerating, rays)
        # The axis ends on the screen, where a reading may stand a little behind it.
        paths = self.prepared.fly_in(field_of_tube, states, through="screen", longest=_LONGEST)
        return paths if states is not None else paths * len(rays)

    def turns(self, tube: Tube, voltage: float, current: float, length: float) -> float:
        """Turns that diverging rays have made at a distance along a long coil; whole at a focus.

        Followed is one ray that stands for the cone of the gun.
        """
        gun = self.prepared.bench.gun
        angle = cone_angle(gun.divergence_vertical, gun.divergence_sideways) or _NARROW
        ray = self.path(tube, voltage, 0.0, current, launch=Launch(up=angle))
        axis = self.path(tube, voltage, 0.0, current)
        flux = fields_at(self.field(tube, 0.0, current), ray.position)[1]
        return turns_about_axis(ray, axis, flux[:, 0], length)


def cone_angle(vertical: float, sideways: float) -> float:
    """Angle in rad of the one ray that has its focus where a cone of rays has the smallest spot.

    Rays at the angle a meet earlier by a share a^2/2. The smallest mean square distance from the
    axis, for directions spread evenly within both half-angles, lies at a^2 = <a^4> / <a^2>.
    """
    squares = vertical**2 / 3 + sideways**2 / 3
    fourths = vertical**4 / 5 + sideways**4 / 5 + 2 * vertical**2 * sideways**2 / 9
    return math.sqrt(fourths / squares) if squares > 0 else 0.0
