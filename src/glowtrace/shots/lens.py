"""A camera by its sizes, and what its lens takes in: the thin lens with its magnification.

An object at the distance u from a lens of focal length f is sharp at v = u f / (u - f) behind it,
m = v / u = f / (u - f) times as large. A sensor of width w then takes in w / m across, under the
angle 2 arctan(w / 2v), and f/N works as f/N(1 + m). These are the formulas of every textbook of
optics and photography (from memory); distances count from the lens, which for a real one is
somewhere inside its tube.
"""

from __future__ import annotations

import math
from typing import Annotated, Final

from glowtrace.bench.parts import Line, Part
from glowtrace.bench.ranges import Quantity

Focal = Annotated[float, Quantity("mm", "1 mm", "600 mm")]
Away = Annotated[float, Quantity("m", "0.02 m", "20 m")]
Pixels = Annotated[float, Quantity("1", "100", "20000")]

ASPECT: Final = 16 / 9
"""Width over height of a film's picture."""
_BLUR_A_DIAGONAL: Final = 1 / 1500
"""Circle of confusion over the diagonal of the picture: common practice, from memory."""


class Lens(Part):
    """A camera as far as it decides what is in the picture."""

    name: Line
    sensor_width: Annotated[float, Quantity("mm", "1 mm", "100 mm")]
    """Of the part of the sensor that makes the film's picture, m."""
    shortest: Focal
    longest: Focal
    """Focal length, m; equal where the lens does not zoom."""
    nearest: Away
    """Distance at which it still gets sharp, m."""
    aperture: Annotated[float, Quantity("1", "0.7", "64")]
    """The f-number when it is wide open."""
    stops_to: Annotated[float, Quantity("1", "0.7", "64")]
    """The highest f-number; the same where there is no diaphragm."""
    pixels: Pixels
    """Across the sensor."""
    recorded: Pixels = 1920.0
    """Across the film's picture."""


LENSES: Final = {
    lens.name: lens
    for lens in (
        Lens(name="telephone", sensor_width=9.8e-3, shortest=6.8e-3, longest=6.8e-3,
             nearest=0.12, aperture=1.8, stops_to=1.8, pixels=4000.0),
        Lens(name="interchangeable lens", sensor_width=23.5e-3, shortest=18e-3, longest=55e-3,
             nearest=0.2, aperture=5.6, stops_to=22.0, pixels=6000.0),
        Lens(name="webcam", sensor_width=4.8e-3, shortest=3.7e-3, longest=3.7e-3,
             nearest=0.3, aperture=2.0, stops_to=2.0, pixels=1920.0),
    )
}  # fmt: skip
"""Usual sizes, of no particular camera; from memory."""


def magnification(focal: float, away: float) -> float:
    """Size of the image over that of the object, of an object farther than the focal length."""
    return focal / (away - focal)


def image_distance(focal: float, away: float) -> float:
    """Distance of the sharp image behind the lens."""
    return focal * (1.0 + magnification(focal, away))


def away_for(focal: float, enlarged: float) -> float:
    """Distance of the object from the lens for a magnification."""
    return focal * (1.0 + 1.0 / enlarged)


def width_seen(sensor_width: float, focal: float, away: float) -> float:
    """Width of what fills the sensor."""
    return sensor_width / magnification(focal, away)


def angle_seen(sensor_width: float, focal: float, away: float = math.inf) -> float:
    """Angle in rad under which the lens sees the width of the sensor, focused at a distance."""
    behind = focal if math.isinf(away) else image_distance(focal, away)
    return 2.0 * math.atan(sensor_width / (2.0 * behind))


def working_number(aperture: float, enlarged: float) -> float:
    """The f-number that counts for the exposure of something close."""
    return aperture * (1.0 + enlarged)


def sharp_between(focal: float, aperture: float, away: float, blur: float) -> tuple[float, float]:
    """Nearest and farthest distance that look sharp; the farthest may be infinite.

    With the hyperfocal distance H = f²/(N c) + f: u (H - f) / (H + u - 2f) and
    u (H - f) / (H - u), for a circle of confusion c.
    """
    hyperfocal = focal**2 / (aperture * blur) + focal
    near = away * (hyperfocal - focal) / (hyperfocal + away - 2.0 * focal)
    if away >= hyperfocal:
        return near, math.inf
    return near, away * (hyperfocal - focal) / (hyperfocal - away)


def usual_blur(sensor_width: float) -> float:
    """Circle of confusion in m of a picture of `ASPECT`."""
    return _BLUR_A_DIAGONAL * math.hypot(sensor_width, sensor_width / ASPECT)
