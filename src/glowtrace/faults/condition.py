"""What the tube really gets, whatever knobs and meters say.

A fault is a change of this condition: it can say what bench and settings cannot, such as a plate
that floats, a coil that is bridged, or a magnet in the room.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.settings import Settings

Vector = tuple[float, float, float]
NO_FLUX: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Displacement:
    """Coils moved as a whole from where they belong: turned about their middle, then shifted."""

    tilt_x: float = 0.0
    """rad, right-handed, made first."""
    tilt_y: float = 0.0
    """rad, made second."""
    shift: Vector = NO_FLUX
    """m."""

    def shrunk(self, part: float) -> Displacement:
        """Give the same displacement, smaller."""
        x, y, z = self.shift
        moved = (part * x, part * y, part * z)
        return Displacement(part * self.tilt_x, part * self.tilt_y, moved)


@dataclass(frozen=True)
class Magnet:
    """A small magnet, or a piece of magnetised steel, outside the tube.

    Attributes
    ----------
    place
        Where it is, (3,) m from the middle of the tube.
    moment
        Its dipole moment, (3,) A m^2.
    """

    place: Vector
    moment: Vector

    def turned(self, angle: float) -> Magnet:
        """Give it as the tube sees it after the tube is turned by an angle (rad) about y."""
        return Magnet(turn_room(self.place, angle), turn_room(self.moment, angle))


@dataclass(frozen=True)
class Patch:
    """A patch of charge on screen or glass, as a soft ball of charge.

    Attributes
    ----------
    place
        Its middle (3,) in m.
    potential
        In its middle, V.
    size
        Distance in m at which its potential begins to fall.
    """

    place: Vector
    potential: float
    size: float


@dataclass(frozen=True)
class Condition:
    """What the tube gets and shows, in SI units; one for each setting of the knobs.

    Attributes
    ----------
    accelerating_voltage
        Anode minus cathode, V; 0 or less gives no beam.
    plates
        Potentials (upper, lower) relative to the anode, V.
    coils
        Current in each winding, A: the pair's coil at the tail of its axis and the one at its
        tip, or the long coil alone (then the second is 0).
    room_flux
        Flux density (3,) that is the same everywhere, T: Earth's and stray ones.
    displacement, magnet, patch
        Coils out of place, a magnet nearby, charge on the screen; None where there is none.
    sag
        By which part the coil current has fallen since it was set.
    ripple
        Peak-to-peak, as fractions, of accelerating voltage, plate voltage and coil current.
    scatter
        Half-angle in rad by which gas widens the beam.
    emission, filament
        Beam current and light of the heater as fractions of the usual ones.
    haze
        Light of the gas all through the tube: 0 none, 1 strong.
    flickers
        Whether the picture comes and goes.
    meter_high_tension, meter_coils, meter_plates
        What the meters show, as fractions of what is set.
    is_misread
        Whether a meter stands on another range than the one that it is read on.
    """

    accelerating_voltage: float
    plates: tuple[float, float]
    coils: tuple[float, float]
    room_flux: Vector = NO_FLUX
    displacement: Displacement | None = None
    magnet: Magnet | None = None
    patch: Patch | None = None
    sag: float = 0.0
    ripple: Vector = (0.0, 0.0, 0.0)
    scatter: float = 0.0
    emission: float = 1.0
    filament: float = 1.0
    haze: float = 0.0
    flickers: bool = False
    meter_high_tension: float = 1.0
    meter_coils: float = 1.0
    meter_plates: float = 1.0
    is_misread: bool = False

    @property
    def has_beam(self) -> bool:
        """Whether electrons leave the gun towards the screen."""
        return self.accelerating_voltage > 0.0 and self.emission > 0.0

    @property
    def at_first(self) -> Condition:
        """The same before charge had gathered and coils had warmed; itself where none does."""
        if self.patch is None and self.sag == 0.0:
            return self
        tail, tip = (current / (1.0 - self.sag) for current in self.coils)
        return replace(self, patch=None, coils=(tail, tip), sag=0.0)

    def turned(self, angle: float) -> Condition:
        """Give the condition after the tube with its coils is turned by an angle (rad) about y.

        The room stays: its flux density and its magnets turn the other way round as the tube sees
        it.
        """
        if angle == 0.0:
            return self
        magnet = self.magnet and self.magnet.turned(angle)
        return replace(self, room_flux=turn_room(self.room_flux, angle), magnet=magnet)


def turn_room(vector: Vector, angle: float) -> Vector:
    """Give a vector of the room in the axes of a tube turned by an angle (rad) about y."""
    x, y, z = vector
    c, s = math.cos(angle), math.sin(angle)
    return c * x - s * z, y, s * x + c * z


def condition_in_order(bench: Bench, settings: Settings, earth: np.ndarray) -> Condition:
    """Give what the tube gets when nothing is wrong.

    Parameters
    ----------
    bench, settings
        What stands there, and what is set on it.
    earth
        Earth's flux density (3,) in T in the axes of the bench; zero where it is ignored.
    """
    upper, lower = electrode_voltages(settings) if bench.plates else (0.0, 0.0)
    current = settings.signed_coil_current if bench.coils else 0.0
    supplies = bench.supplies

    def ripple(supply: object) -> float:
        return getattr(supply, "ripple", 0.0) if settings.ripple else 0.0

    x, y, z = earth.tolist()
    return Condition(
        accelerating_voltage=settings.accelerating_voltage,
        plates=(upper, lower),
        coils=(current, 0.0 if isinstance(bench.coils, LongCoil) else current),
        room_flux=(x, y, z),
        ripple=(ripple(supplies.accelerating), ripple(supplies.plates), ripple(supplies.coils)),
        emission=1.0 if settings.heater_on else 0.0,
        filament=1.0 if settings.heater_on else 0.0,
    )
