"""What can be read off a picture and its central ray: speed, fields, forces, deflection, ends.

Where the fields are read: one gap (at most half the plates' length) behind the plates' near edge,
where a finite pair of plates has nearly reached its full field; without plates, in the middle of
the coils.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, CoilPair, LongCoil
from glowtrace.bench.picture import MeanTrace, Picture, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.demos.classification import Classifier

NOTICEABLE = 0.005
"""Share of the beam's energy from which a change on entry is worth telling."""
_ROWS_BESIDE = 5
"""Rows of a trace on either side that its width is taken from."""


@dataclass(frozen=True)
class Readouts:
    """The readings of one picture, in SI units; None where there is nothing to read.

    Attributes
    ----------
    speed
        At the aperture, m/s, relativistic.
    speed_share
        The same as a fraction of the speed of light.
    kind
        What kind of picture it is, one of `glowtrace.demos.classification.KINDS`.
    fields_at
        x where the next four are read, m.
    speed_there
        In the plates, m/s; other than `speed` where one plate is tied to the anode.
    electric_field
        (3,) V/m.
    flux_density
        (3,) T.
    force_ratio
        Electric over magnetic force, both across the beam and up or down in the picture,
        |E_y| / (v |B_z|) with the three numbers above; 1 where they can cancel.
    circle
        Diameter in m of the circle that glowing gas shows: from the aperture to where the beam is
        level again.
    deflection
        Height of the line over the axis at the chosen x, m (`PreparedBench.line_height`); on an end
        face, how far the spot's centre lies from the face's.
    width
        Of the trace there, or of the spot on an end face, m: two standard deviations.
    shares
        Where the electrons ended: name and share, the largest first; empty where none left.
    energy_change
        What the beam has gained on the axis between the aperture and `fields_at`, eV; None where
        the plates are symmetric about the anode's potential or it is less than `NOTICEABLE`.
    model
        "bench" (real geometry) or "ideal" (uniform fields).
    """

    speed: float | None
    speed_share: float | None
    kind: str
    fields_at: float
    speed_there: float | None
    electric_field: tuple[float, float, float] | None
    flux_density: tuple[float, float, float] | None
    force_ratio: float | None
    circle: float | None
    deflection: float | None
    width: float | None
    shares: tuple[tuple[str, float], ...]
    energy_change: float | None
    model: str


def read(prepared: PreparedBench, picture: Picture, chosen_x: float) -> Readouts:
    """Give the readings of a picture.

    Parameters
    ----------
    prepared
        The bench that the picture was made with.
    picture
        The picture, with its landings.
    chosen_x
        Where along the beam deflection and width are read, m; of no account on an end face.
    """
    bench = prepared.bench
    ray = prepared.central_ray(picture.settings, model=picture.model)
    is_lit = picture.settings.heater_on and len(ray.position) > 0
    speed = float(np.linalg.norm(ray.velocity[0])) if is_lit else None
    place = _place_of_fields(bench)
    there = _along(ray, place) if is_lit and bench.plates else None
    flux = None if there is None else there.flux_density
    if is_lit and bench.plates is None:
        flux = _flux_in_the_middle(prepared, picture)
    deflection, width = _line_at(prepared, picture, chosen_x)
    return Readouts(
        speed=speed,
        speed_share=None if speed is None else speed / SPEED_OF_LIGHT,
        kind=Classifier(prepared, picture.model).of_picture(picture),
        fields_at=place,
        speed_there=None if there is None else float(np.linalg.norm(there.velocity)),
        electric_field=_triple(there.electric_field) if there else None,
        flux_density=_triple(flux) if flux is not None and bench.coils else None,
        force_ratio=_force_ratio(there) if there else None,
        circle=_circle(prepared, picture),
        deflection=deflection,
        width=width,
        shares=_shares(picture),
        energy_change=_energy_change(picture, speed, there) if speed and there else None,
        model=picture.model,
    )


@dataclass(frozen=True)
class _Instant:
    position: NDArray[np.float64]
    velocity: NDArray[np.float64]
    electric_field: NDArray[np.float64]
    flux_density: NDArray[np.float64]


def _place_of_fields(bench: Bench) -> float:
    if bench.plates is None:
        return _middle_of_coils(bench)[0]
    return bench.plates.start + min(bench.plates.gap, bench.plates.length / 2)


def _middle_of_coils(bench: Bench) -> tuple[float, float, float]:
    coils = bench.coils
    if isinstance(coils, CoilPair):
        return coils.centre
    return (
        ((coils.x_from + coils.x_to) / 2, 0.0, 0.0)
        if isinstance(coils, LongCoil)
        else (0.0, 0.0, 0.0)
    )


def _flux_in_the_middle(prepared: PreparedBench, picture: Picture) -> NDArray[np.float64] | None:
    """Give B (3,) in T in the middle of the coils; None where that is outside the tube."""
    middle = np.array([_middle_of_coils(prepared.bench)])
    flux: NDArray[np.float64] = prepared.fields_on(middle, picture.settings, picture.model)[1][0]
    return flux if np.isfinite(flux).all() else None


def _circle(prepared: PreparedBench, picture: Picture) -> float | None:
    if not prepared.bench.plane.glows or not picture.settings.heater_on:
        return None
    diameter = abs(prepared.line_turn(picture.settings, model=picture.model))
    return diameter if math.isfinite(diameter) else None


def _along(ray: Ray, x: float) -> _Instant | None:
    """Give the ray's state where it first comes to x; None where it never does."""
    at = ray.place_of(x)
    if at is None or len(ray.time) < 2:
        return None
    before = min(int(at), len(ray.time) - 2)
    part = at - before

    def between(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(values[before] + part * (values[before + 1] - values[before]))

    return _Instant(
        ray.point(at),
        *map(between, (ray.velocity, ray.electric_field, ray.flux_density)),
    )


def _force_ratio(there: _Instant) -> float | None:
    electric = abs(float(there.electric_field[1]))
    magnetic = float(np.linalg.norm(there.velocity)) * abs(float(there.flux_density[2]))
    return electric / magnetic if electric > 0.0 and magnetic > 0.0 else None


def _energy(speed: float) -> float:
    """Kinetic energy in eV of an electron, from its speed in m/s.

    Written as (gamma - 1) = (gamma beta)^2 / (gamma + 1), which keeps its digits when slow.
    """
    gamma = 1.0 / math.sqrt(1.0 - (speed / SPEED_OF_LIGHT) ** 2)
    return REST_ENERGY_VOLTS * (gamma * speed / SPEED_OF_LIGHT) ** 2 / (gamma + 1.0)


def _energy_change(picture: Picture, speed: float, there: _Instant) -> float | None:
    """Give the gain on entry, without what the deflection itself has added by then."""
    settings = picture.settings
    if settings.plate_tie == "symmetric":
        return None
    gained = _energy(float(np.linalg.norm(there.velocity))) - _energy(speed)
    by_deflection = -float(there.electric_field[1:] @ there.position[1:])
    change = gained - by_deflection
    return change if abs(change) >= NOTICEABLE * settings.accelerating_voltage else None


def _line_at(
    prepared: PreparedBench, picture: Picture, chosen_x: float
) -> tuple[float | None, float | None]:
    """Give deflection and width of the line, in m."""
    trace = picture.mean_trace
    if picture.plane.is_spot:
        if len(trace.u) == 0:
            return None, None
        return math.hypot(trace.u[0], trace.v[0]), 2.0 * float(trace.width_v[0])
    u = picture.plane.u_of(chosen_x)
    if trace.at(u) is None:
        return None, None
    height = prepared.line_height(picture.settings, chosen_x, model=picture.model)
    return None if math.isnan(height) else height, 2.0 * _width_near(trace, u)


def _width_near(trace: MeanTrace, u: float) -> float:
    """Give the trace's width (m, one standard deviation) from the few rows around its place u.

    A row alone holds too few electrons: with 40 of them its width is only good to 11 %.
    """
    a, b = trace.u[:-1], trace.u[1:]
    crossed = int(np.flatnonzero((np.minimum(a, b) <= u) & (u <= np.maximum(a, b)))[0])
    rows = slice(max(0, crossed - _ROWS_BESIDE + 1), crossed + 1 + _ROWS_BESIDE)
    variance = np.average(trace.width_v[rows] ** 2, weights=trace.weight[rows])
    return math.sqrt(variance)


def _shares(picture: Picture) -> tuple[tuple[str, float], ...]:
    total = sum(picture.ends.values())
    counted = ((name, count / total) for name, count in picture.ends.items() if count)
    return tuple(sorted(counted, key=lambda share: -share[1]))


def _triple(vector: NDArray[np.float64]) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
