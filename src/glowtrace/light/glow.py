"""Where along the trace how much of the beam becomes light: read off the bench model's picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE

Array = NDArray[np.float64]

ELECTRONS: Final = {"line": 40_000, "spot": 20_000, "path": 3_000}
"""That stand for the beam, by kind of screen."""
GRAIN: Final = 2e-4
"""Radius (one sigma) in m over which a phosphor's grains spread the light of one landing."""
_FWHM: Final = 2.0 * math.sqrt(2.0 * math.log(2.0))
_FAINT: Final = 0.02
"""Share of the brightest below which a row of the trace is stray."""


@dataclass(frozen=True)
class Glow:
    """The trace before any phosphor or gas: how densely the beam falls, and with what energy.

    Attributes
    ----------
    is_gas
        Whether the gas lights up along the path, and no phosphor.
    density
        (v, u) share of the beam's electrons per m² on phosphor; metres of path per m² and
        electron in gas.
    extent
        (u0, u1, v0, v1) of it in m.
    along
        (k,) place of each row of the trace: u in m on a screen, path in gas.
    ridge
        (k,) density where the trace is brightest in that row.
    width
        Full width of the trace at half of its brightness, m: the median over the rows.
    length
        Of the trace, m.
    voltage
        Energy over e with which electrons land, or fly through the gas, V.
    grazing
        Angle between beam and layer, rad; a right angle on an end face and in gas.
    """

    is_gas: bool
    density: Array
    extent: tuple[float, float, float, float]
    along: Array
    ridge: Array
    width: float
    length: float
    voltage: float
    grazing: float

    @property
    def is_dark(self) -> bool:
        """Whether no electron makes any light."""
        return len(self.ridge) == 0


def make_glow(prepared: PreparedBench, settings: Settings) -> Glow:
    """Fly the beam through the real fields and see where its light arises."""
    count = ELECTRONS[prepared.plane.shows]
    return read_glow(prepared.bench, prepared.picture(settings, electrons=count))


def read_glow(bench: Bench, picture: Picture) -> Glow:
    """Read the glow off a picture of the bench."""
    u0, u1, _, _ = picture.extent
    pixel = (u1 - u0) / picture.image.shape[1]
    gas = bench.plane.glows
    spread = 0.0 if gas else GRAIN
    landed = 1.0 if gas else _energy_landed(picture)
    light = gaussian_filter(picture.image, max(spread, 0.7 * pixel) / pixel)
    density = light / (picture.electrons * landed * pixel**2)
    trace = picture.mean_trace
    u, v, ridge = _ridge(density, picture, pixel)
    along = _path(u, v) if gas else u
    blur = math.hypot(float(np.median(trace.width_v)) if len(trace.u) else 0.0, spread)
    length = float(_path(u, v)[-1]) if len(u) > 1 else _FWHM * blur
    return Glow(
        gas,
        density,
        picture.extent,
        along,
        ridge,
        _FWHM * blur,
        max(length, _FWHM * blur),
        picture.settings.accelerating_voltage if gas else landed / ELEMENTARY_CHARGE,
        _grazing(bench),
    )


def plain_glow(bench: Bench, settings: Settings, density: float) -> Glow:
    """Give the glow of a trace that is not flown: one place of a density, usual in size."""
    return Glow(
        bench.plane.glows,
        np.full((1, 1), density),
        (0.0, 0.0, 0.0, 0.0),
        np.zeros(1),
        np.full(1, density),
        max(bench.gun.aperture_height, 1e-3),
        0.1,
        settings.accelerating_voltage if settings.heater_on else 0.0,
        _grazing(bench),
    )


def _grazing(bench: Bench) -> float:
    return bench.plane.angle if bench.plane.is_line else math.pi / 2


def scaled(glow: Glow, voltage_factor: float) -> Glow:
    """Give the glow of the same trace, flown at another voltage.

    When every voltage is multiplied by k and every current by the root of k, slow electrons fly
    the same paths: density and place stay, only the energy changes.
    """
    return Glow(
        glow.is_gas, glow.density, glow.extent, glow.along, glow.ridge, glow.width, glow.length,
        glow.voltage * voltage_factor, glow.grazing,
    )  # fmt: skip


def screen_distance(bench: Bench) -> float:
    """Distance in m from the cathode's end of the gun to the middle of what lights up."""
    plane = bench.plane
    if plane.glows:
        return (plane.x_to - plane.x_from) / 2
    return abs(plane.x_from + plane.x_to) / 2


def _energy_landed(picture: Picture) -> float:
    """Mean energy in J of the electrons that landed on phosphor; that of the gun where none did."""
    landed = picture.ends.get("screen", 0)
    total = float(picture.image.sum())
    if landed and total > 0.0:
        return total / landed
    return max(picture.settings.accelerating_voltage, 1.0) * ELEMENTARY_CHARGE


def _ridge(density: Array, picture: Picture, pixel: float) -> tuple[Array, Array, Array]:
    """Give places u, v of the rows of the trace in m, and the density on its ridge there."""
    trace = picture.mean_trace
    u0, _, v0, _ = picture.extent
    rows, columns = density.shape
    i = np.floor((trace.u - u0) / pixel).astype(int)
    j = np.floor((trace.v - v0) / pixel).astype(int)
    inside = (i >= 0) & (i < columns) & (j >= 0) & (j < rows)
    # The middle of a row may lie beside the ridge, most of all where a trace doubles back.
    if picture.plane.is_line:
        found = density.max(axis=0)[np.clip(i, 0, columns - 1)]
    else:
        near = maximum_filter(density, size=5)
        found = near[np.clip(j, 0, rows - 1), np.clip(i, 0, columns - 1)]
    ridge = np.where(inside, found, 0.0)
    bright = inside & (ridge > _FAINT * ridge.max(initial=0.0))
    return trace.u[bright], trace.v[bright], ridge[bright]


def _path(u: Array, v: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(u), np.diff(v)))])[: len(u)]
