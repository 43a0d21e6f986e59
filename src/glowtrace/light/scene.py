"""What light depends on beside bench and settings: layer or gas, room, audience, camera.

All numbers are SI. They are starting values, not data of any apparatus: `glowtrace.light.trust`
says of each within what factor it is believed, and why.
"""

from __future__ import annotations

import math
from typing import Annotated, Final

from glowtrace.bench.model import Bench
from glowtrace.bench.parts import Line, Part
from glowtrace.bench.ranges import Quantity

Share = Annotated[float, Quantity("1", "0.001", "1")]
"""A part of a whole."""
Wavelength = Annotated[float, Quantity("m", "380 nm", "780 nm")]
Away = Annotated[float, Quantity("m", "0.1 m", "100 m")]
"""A distance from the tube, m."""


class Phosphor(Part):
    """A layer of phosphor on a sheet or a face."""

    name: Line = "green phosphor"
    peak: Wavelength = 525e-9
    """Wavelength at the peak of its spectrum, m."""
    breadth: Annotated[float, Quantity("m", "1 nm", "300 nm")] = 40e-9
    """Full width of the spectrum at half of its peak, m."""
    efficiency: Annotated[float, Quantity("1", "0.0001", "0.5")] = 0.03
    """Power of the light over power of the electrons that get in, both of the slow kind of a
    demonstration tube."""
    dead_voltage: Annotated[float, Quantity("V", "0 V", "5 kV")] = 200.0
    """Energy over e that an electron loses in the dead layer on top, struck at right angles, V."""
    saturation: Annotated[float, Quantity("W/m²", "1 W/m²", "1e6 W/m²")] = 1e4
    """Beam power per area at which the efficiency has fallen by half, W/m²."""
    decay: Annotated[float, Quantity("s", "0 s", "10 s")] = 0.01
    """Time constant of the afterglow, s; a steady beam is as bright with any."""
    reflectance: Share = 0.7
    """Of the layer for the room's light: powders are nearly white."""


class Gas(Part):
    """A little gas that lights up along the beam."""

    name: Line = "gas at about 1 Pa"
    peak: Wavelength = 520e-9
    breadth: Annotated[float, Quantity("m", "1 nm", "300 nm")] = 150e-9
    """The lines of its spectrum, taken as one broad band, m."""
    pressure: Annotated[float, Quantity("Pa", "0.001 Pa", "100 Pa")] = 1.0
    cross_section: Annotated[float, Quantity("m²", "1e-24 m²", "1e-19 m²")] = 5e-22
    """For visible light from one electron and one molecule, at the best energy, m²."""
    backdrop: Share = 0.2
    """Reflectance of what stands behind the bulb, as the audience sees it."""


class Room(Part):
    """The light of the room."""

    illuminance: Annotated[float, Quantity("lx", "0 lx", "100000 lx")] = 50.0
    """Falling on the screen, before any hood, lx."""
    is_measured: bool = False
    """Whether it was measured with a light meter at the screen."""
    hood: Share = 1.0
    """Share of the room's light that a hood over the tube lets through; 1 without one."""
    walls: Share = 0.5
    """Reflectance of the walls, which the glass mirrors."""
    mains_frequency: Annotated[float, Quantity("Hz", "10 Hz", "1 kHz")] = 50.0
    lamp_flicker: Annotated[float, Quantity("1", "0", "1")] = 0.3
    """Depth of the lamps' flicker at twice the mains frequency: 0 none, 1 fully off in between."""


class Camera(Part):
    """A camera with the exposure that is set on it."""

    iso: Annotated[float, Quantity("1", "25", "204800")] = 400.0
    shutter: Annotated[float, Quantity("s", "1e-5 s", "60 s")] = 0.02
    """Exposure time, s."""
    aperture: Annotated[float, Quantity("1", "0.7", "64")] = 1.8
    """The f-number."""
    frame_rate: Annotated[float, Quantity("Hz", "0 Hz", "1 kHz")] = 25.0
    """Of the video, Hz; 0 for single photographs."""
    away: Away = 1.0
    field_of_view: Annotated[float, Quantity("rad", "1 deg", "150 deg")] = math.radians(70.0)
    """Across the picture, rad."""
    pixels: Annotated[float, Quantity("1", "100", "20000")] = 1920.0
    """Across the picture."""
    full_well: Annotated[float, Quantity("1", "100", "1e6")] = 1e4
    """Electrons of a pixel that is just full at ISO 100."""
    read_noise: Annotated[float, Quantity("1", "0.1", "1000")] = 4.0
    """Of a pixel, in electrons."""


class Scene(Part):
    """All of it together."""

    room: Room = Room()
    phosphor: Phosphor = Phosphor()
    gas: Gas = Gas()
    away: Away = 6.0
    """From the screen to the last row, m."""
    beam_current: Annotated[float, Quantity("A", "1 nA", "50 mA")] | None = None
    """A; None for the typical one of the bench."""
    beam_share: Share | None = None
    """Part of that current which leaves the gun as the beam, the rest ends on the anode; None for
    the usual one of a gun of this kind."""
    camera: Camera = Camera()


def scene_elsewhere(scene: Scene) -> Scene:
    """Give the scene of another bench in the same room: what belongs to the first stays there."""
    usual = Scene()
    own = {"beam_current": None, "beam_share": None, "phosphor": usual.phosphor, "gas": usual.gas}
    room = scene.room.model_copy(update={"hood": usual.room.hood})
    return scene.model_copy(update={**own, "room": room})


ROOMS: Final = {
    "blacked out": (0.1, 0.02, 0.5),
    "dark room": (1.0, 0.2, 5.0),
    "blinds down": (20.0, 5.0, 80.0),
    "dimmed": (80.0, 30.0, 200.0),
    "lights on": (400.0, 200.0, 800.0),
    "bright day, no blinds": (2000.0, 700.0, 6000.0),
}
"""Rooms by name: usual, lowest and highest illuminance at the screen in lx. A lit classroom has
300 lx to 500 lx (EN 12464-1 as quoted by a lighting handbook, its edition of 2021 not seen, and a
school design guide as quoted), a full moon 0.1 lx (that guide); the others are from memory."""


def nearest_room(illuminance: float) -> str:
    """Give the room of `ROOMS` that is nearest to an illuminance in lx.

    Examples
    --------
    >>> nearest_room(10.0)
    'blinds down'
    """
    return min(ROOMS, key=lambda name: abs(math.log(ROOMS[name][0] / max(illuminance, 1e-6))))


PHOSPHORS: Final = {
    "green phosphor": Phosphor(),
    "bright green phosphor": Phosphor(
        name="bright green phosphor",
        peak=530e-9,
        breadth=90e-9,
        efficiency=0.08,
        saturation=5e3,
        decay=2e-5,
    ),
    "old or burnt phosphor": Phosphor(
        name="old or burnt phosphor", efficiency=0.008, dead_voltage=400.0
    ),
}
"""Layers to start from; the first is the usual one. Their spectra, the order of their efficiencies
and of their afterglow are from memory, and no open source with numbers was read."""


def beam_current(bench: Bench, scene: Scene) -> float:
    """Give the beam current that counts, in A."""
    return bench.gun.beam_current if scene.beam_current is None else scene.beam_current


def beam_share(bench: Bench, scene: Scene) -> float:
    """Give the part of the beam current that leaves the gun: a slit stops most of it."""
    return bench.gun.usual_beam_share if scene.beam_share is None else scene.beam_share


def is_gas(bench: Bench) -> bool:
    """Say whether the gas lights up, and no phosphor."""
    return bench.plane.glows
