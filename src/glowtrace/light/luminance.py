"""Luminance of the trace and of what lies behind it, in cd/m², for one set of inputs or many.

Phosphor: L = K f M / pi with M = eta P / (1 + P0 / P_sat): a layer that shines by Lambert's law,
of whose light the share f leaves on the audience's side. P0 = I D V is the beam's power per area
(D: share of the electrons per area), P = I D (V - V_dead) what gets through the dead layer.

Gas: L = K (I / e) D n sigma(V) h nu / (4 pi): each electron makes n sigma photons per metre, sent
evenly to all sides; D is metres of path per area seen.

Behind it: the room's light thrown back by the layer or the backdrop, its mirror image in the
glass, and the heater's glow on the layer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.constants import BOLTZMANN, ELEMENTARY_CHARGE, PLANCK, SPEED_OF_LIGHT
from glowtrace.light.glow import Glow, screen_distance
from glowtrace.light.photometry import band_efficacy, black_body_efficacy
from glowtrace.light.scene import Scene, beam_current, beam_share
from glowtrace.light.trust import MIDDLE, Draws

Array = NDArray[np.float64]

GLASS: Final = 0.92
"""Share of light that passes the glass: two surfaces of 4 % each (Fresnel, index 1.5)."""
MIRROR: Final = 0.08
"""Share of light that the glass mirrors: the same two surfaces."""
OUTWARD: Final = 0.5
"""Share of a layer's light that leaves on the audience's side."""
ESCAPE: Final = 0.05
"""Share of the heater's glow that gets out of the gun."""
STRAY_IN_EYE: Final = 0.05
"""Part of the surroundings' luminance that lies as a veil in the eye: from memory, 2 % to 10 %."""
ROOM_TEMPERATURE: Final = 293.15
RANGE_POWER: Final = 1.67
"""The range of slow electrons in a solid grows with this power of their energy (from memory)."""
_MOST_GRAZING: Final = 3.0
"""A powder's grains face the beam at all angles, so grazing counts no more than this."""
_BEST_ENERGY: Final = math.e
"""In units of the threshold: where ln(x) / x is largest."""
EXCITATION_VOLTS: Final = 20.0
"""Energy over e from which electrons make visible light in the gas (from memory, 12 to 24)."""


@dataclass(frozen=True)
class Backgrounds:
    """What the trace stands against, in cd/m²; each an array of one or many values.

    Attributes
    ----------
    room
        Room light thrown back by the layer or the backdrop.
    mirror
        Mirror image of the room in the glass.
    heater
        Heater glow thrown back by the layer or the backdrop.
    surroundings
        Walls of the room.
    """

    room: Array
    mirror: Array
    heater: Array
    surroundings: Array

    @property
    def total(self) -> Array:
        """All that lies behind the trace."""
        return self.room + self.mirror + self.heater

    @property
    def adapted_to(self) -> Array:
        """What decides the eye's threshold: the background and the eye's own stray light."""
        return self.total + STRAY_IN_EYE * self.surroundings


def dead_voltage(nominal: Array | float, grazing: float) -> Array:
    """Give the voltage lost in the dead layer by a beam that strikes at an angle.

    The way through the layer is longer by 1 / sin(angle), and the range of the electrons grows as
    V^1.67; so the voltage that just gets through grows as (1 / sin)^(1 / 1.67), here no more than
    threefold.
    """
    stretch = max(math.sin(grazing), 1e-3) ** (-1.0 / RANGE_POWER)
    return np.asarray(nominal * min(stretch, _MOST_GRAZING), dtype=float)


def trace_luminance(
    bench: Bench, scene: Scene, glow: Glow, density: Array | float, draws: Draws = MIDDLE
) -> Array:
    """Give the luminance in cd/m² of the trace through the glass, where the beam is so dense.

    Parameters
    ----------
    bench, scene
        What stands there, in what light.
    glow
        The trace.
    density
        As `Glow.density`: a number, or an array when ``draws`` has one set.
    draws
        The uncertain inputs.
    """
    current = draws.around("current", beam_current(bench, scene))
    current = current * draws.around("beam_share", beam_share(bench, scene), most=1.0)
    flow = current * density
    make = _gas_luminance if glow.is_gas else _phosphor_luminance
    return np.asarray(GLASS * make(scene, glow, flow, draws))


def _phosphor_luminance(scene: Scene, glow: Glow, flow: Array, draws: Draws) -> Array:
    phosphor = scene.phosphor
    lost = dead_voltage(draws.around("dead_voltage", phosphor.dead_voltage), glow.grazing)
    entering = flow * np.maximum(glow.voltage - lost, 0.0)  # W/m²
    load = flow * glow.voltage / draws.around("saturation", phosphor.saturation)
    exitance = draws.around("efficiency", phosphor.efficiency, most=0.5) * entering / (1.0 + load)
    lumens = draws.around("spectrum", band_efficacy(phosphor.peak, phosphor.breadth))
    return draws.around("outward", OUTWARD, most=1.0) * lumens * exitance / math.pi


def _gas_luminance(scene: Scene, glow: Glow, flow: Array, draws: Draws) -> Array:
    gas = scene.gas
    molecules = gas.pressure / (BOLTZMANN * ROOM_TEMPERATURE)  # per m³
    photons = draws.around("gas", molecules * gas.cross_section) * excitation(glow.voltage)  # per m
    energy = PLANCK * SPEED_OF_LIGHT / gas.peak
    lumens = draws.around("spectrum", band_efficacy(gas.peak, gas.breadth))
    return lumens * flow / ELEMENTARY_CHARGE * photons * energy / (4.0 * math.pi)


def excitation(voltage: float) -> float:
    """Give the cross-section for light at a voltage, as a share of the largest: e ln(x) / x.

    x is the energy over the threshold. The form is that of fast electrons (Bethe), from memory;
    it is 1 at x = e and falls slowly above.
    """
    x = voltage / EXCITATION_VOLTS
    return _BEST_ENERGY * math.log(x) / x if x > 1.0 else 0.0


def backgrounds(
    bench: Bench, settings: Settings, scene: Scene, glow: Glow, draws: Draws = MIDDLE
) -> Backgrounds:
    """Give the luminances behind and around the trace."""
    room = scene.room
    key = "room_measured" if room.is_measured else "room"
    falling = draws.around(key, room.illuminance)  # lx
    on_screen = falling * room.hood
    layer = scene.gas.backdrop if glow.is_gas else scene.phosphor.reflectance
    thrown_back = draws.around("reflectance", layer, most=1.0) / math.pi
    walls = falling * room.walls / math.pi
    mirrored = draws.around("mirror", MIRROR, most=0.5) * walls * room.hood
    warm = heater_illuminance(bench, settings, glow, draws)
    return Backgrounds(
        GLASS**2 * thrown_back * on_screen, mirrored, GLASS * thrown_back * warm, walls
    )


def heater_illuminance(
    bench: Bench, settings: Settings, glow: Glow, draws: Draws = MIDDLE
) -> Array:
    """Give what the heater's glow makes on the screen, in lx.

    The heater's power times the lumens per watt of a grey body at the cathode's temperature,
    of which a guessed share gets out of the gun, spread evenly over the half space before it.
    """
    escape = draws.around("escape", ESCAPE, most=1.0)
    if not settings.heater_on:
        return 0.0 * escape
    gun = bench.gun
    power = gun.heater_voltage * gun.heater_current
    flux = power * black_body_efficacy(gun.cathode_temperature) * escape  # lm
    slant = 1.0 if glow.is_gas else math.sin(glow.grazing)
    distance = screen_distance(bench)
    return np.asarray(flux * slant / (2.0 * math.pi * distance**2))
