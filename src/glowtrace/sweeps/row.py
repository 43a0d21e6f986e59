"""What is read at one point of a sweep: the numbers that the page shows, beside the textbook's."""

from __future__ import annotations

import math
from collections.abc import Mapping

from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.demos.readouts import Readouts, read
from glowtrace.sweeps.brightness import middle_brightness

Row = Mapping[str, float | str | bool]


def read_row(
    prepared: PreparedBench,
    settings: Settings,
    at: float,
    *,
    model: Model = "bench",
    electrons: int = 200,
    seed: int = 0,
) -> Row:
    """Give the readings at one point, each name with its SI unit; NaN where there is none.

    Parameters
    ----------
    prepared, settings, model, electrons, seed
        As for `PreparedBench.picture`.
    at
        Where along the beam height and width are read, m; of no account on an end face.
    """
    # Points are shared out among the cores, not the electrons of one.
    picture = prepared.picture(settings, electrons=electrons, seed=seed, model=model, threads=1)
    readings = read(prepared, picture, at)
    return {
        **_of_the_picture(prepared, readings, settings, at),
        "speed_m_per_s": _number(readings.speed),
        "electric_field_v_per_m": _component(readings.electric_field, 1),
        "flux_density_t": _component(readings.flux_density, _along_the_coils(prepared.bench)),
        "force_ratio": _number(readings.force_ratio),
        **_light(picture, at),
        **{f"share_{_word(name)}": _share(picture, name) for name in prepared.end_names},
        "kind": readings.kind,
        "is_within_ratings": not check_settings(prepared.bench, settings),
    }


def _of_the_picture(
    prepared: PreparedBench, readings: Readouts, settings: Settings, at: float
) -> dict[str, float]:
    """Give the place and the size of what is seen, as this kind of screen shows it."""
    plane, width = prepared.plane, _number(readings.width)
    if plane.is_spot:
        return {
            "spot_off_centre_m": _number(readings.deflection),
            "textbook_off_centre_m": _textbook_spot(prepared, settings),
            "spot_m": width,
        }
    seen = {
        "height_m": _number(readings.deflection),
        "textbook_height_m": prepared.line_height(settings, at, model="ideal"),
        "width_m": width,
    }
    if plane.glows:
        turn = prepared.line_turn(settings, model="ideal") if settings.heater_on else math.nan
        seen |= {"circle_m": _number(readings.circle), "textbook_circle_m": abs(turn)}
    return seen


def _textbook_spot(prepared: PreparedBench, settings: Settings) -> float:
    path = prepared.fly(settings, model="ideal", through="nothing")
    return math.hypot(*path.position[-1, 1:].tolist()) if path.end == "screen" else math.nan


def _light(picture: Picture, at: float) -> dict[str, float]:
    """Give the light of one electron: the energy that it brings to phosphor, or its way in gas."""
    names = ("light_j_per_electron", "brightness_j_per_m2")
    if picture.plane.glows:
        names = ("glow_m_per_electron", "brightness_m_per_m2")
    light = float(picture.image.sum()) / picture.electrons
    return dict(zip(names, (light, middle_brightness(picture, at)), strict=True))


def _share(picture: Picture, name: str) -> float:
    return picture.ends.get(name, 0) / picture.electrons


def _component(vector: tuple[float, float, float] | None, axis: int) -> float:
    return math.nan if vector is None else vector[axis]


def _along_the_coils(bench: Bench) -> int:
    return 0 if isinstance(bench.coils, LongCoil) else 2


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _word(name: str) -> str:
    return name.replace(" ", "_")
