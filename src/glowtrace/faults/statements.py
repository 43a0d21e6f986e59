"""The plain statements that can be made on a bench: when a careful eye agrees with each."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.looks import NOTICED, READ_TO, more_than
from glowtrace.faults.seen import Seen
from glowtrace.faults.seen_circle import CIRCLE
from glowtrace.faults.seen_spot import SPOT, spot_and_knob, spot_at_rest
from glowtrace.faults.statement import NEVER, Looks, Shape, Statement
from glowtrace.faults.variations import (
    AS_SET,
    COIL_CURRENT,
    PLATE_VOLTAGE,
    state_at_rest,
    variations,
)

Array = NDArray[np.float64]

HEATER, WATCHING = "heater", "wait and watch"
TENSION_METER, COIL_METER, RANGES = "high-tension meter", "coil meter", "meter ranges"
PLATE_METER = "plate meter"
"""Keys of checks that a statement may tell."""
DULL, DARK = 0.7, 0.12
"""Light of the heater, as a part of the usual, below which it is called dull, or no light."""
FAINT: Final = 0.5
"""Light of the picture, as a part of the usual, below which it is called faint."""
_FAR_OFF = 1.25
"""Ratio of bends from which one is called more than the other."""
_WHOLE = "full line", "null", "turns back", "full circle"
"""Kinds of picture in which a line goes as far as it can."""


def shape_of(bench: Bench, settings: Settings) -> Shape:
    """Give what is looked at on a bench at its settings."""
    if bench.plane.is_spot:
        return "spot"
    return "circle" if bench.plane.glows and settings.coil_current > 0.0 else "line"


def statements_for(bench: Bench, settings: Settings) -> tuple[Statement, ...]:
    """Give the statements that suit a bench at its settings, in the order of a list."""
    states = {state.key for state in variations(bench, settings)}
    shape = shape_of(bench, settings)
    is_spot = shape == "spot"
    found = [*_LIGHT, *{"line": _LINE, "circle": (*_WAY, *CIRCLE), "spot": SPOT}[shape]]
    if bench.plane.glows:
        found = [one for one in found if one.key not in {Seen.HAZE, Seen.ENDS_EARLY}]
    for way, state in (("coils", COIL_CURRENT), ("plates", PLATE_VOLTAGE)):
        if state in states:
            found += (spot_and_knob if is_spot else _line_and_knob)(way, state)
    rest = state_at_rest(settings)
    if rest in states - {AS_SET}:
        found.append((spot_at_rest if is_spot else _line_at_rest)(rest))
    found += _METERS
    if bench.coils and bench.supplies.coils and settings.coil_current > 0.0:
        found.append(_COIL_READING)
    if has_plate_meter(bench, settings):
        found.append(_PLATE_READING)
    return tuple(_shaped(one, shape) for one in found)


def _shaped(one: Statement, shape: Shape) -> Statement:
    """Let a statement speak of what is looked at: a circle that is straight is no circle."""
    includes = one.includes
    if shape == "circle" and Seen.STRAIGHT in (one.key, *includes):
        includes = (*includes, Seen.BENDS_LESS, Seen.NOT_CLOSED)
    return replace(one, shape=shape, includes=includes)


def has_plate_meter(bench: Bench, settings: Settings) -> bool:
    """Say whether the plates have a supply of their own that is turned up."""
    own = bench.plates is not None and bench.supplies.plates is not None
    return own and settings.plate_source == "own supply" and settings.plate_voltage > 0.0


def _dark(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray((1.0 - look.lit) * (1.0 - more_than(look.filament, DARK, 0.04)))


def _only_filament(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray((1.0 - look.lit) * more_than(look.filament, DARK, 0.04))


def _dull(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(more_than(look.filament, DARK, 0.04) * more_than(-look.filament, -DULL, 0.08))


def _faint(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(look.lit * more_than(-look.brightness, -FAINT, 0.1))


def _flickers(looks: Looks, usual: Looks) -> Array:
    return looks[AS_SET].flickers


def _creeps(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(look.lit * more_than(look.creep, NOTICED))


def _hazy(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].haze, 0.3, 0.1)


_LIGHT = (
    Statement(Seen.DARK, "light", _dark, 0.02, NEVER, (HEATER,)),
    Statement(Seen.ONLY_FILAMENT, "light", _only_filament, 0.02, NEVER),
    Statement(Seen.DULL_FILAMENT, "light", _dull, tells=(HEATER,)),
    Statement(Seen.HAZE, "light", _hazy, wrong=0.01),
    Statement(Seen.FAINT, "line", _faint, missed=0.1),
    Statement(Seen.COMES_AND_GOES, "line", _flickers, wrong=0.01, tells=(WATCHING,)),
    Statement(Seen.CREEPS, "waiting", _creeps, missed=0.15, wrong=0.01, tells=(WATCHING,)),
)


def _up(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].lift, NOTICED)


def _down(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].lift, NOTICED)


def _straight(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(look.lit * (1.0 - _up(looks, usual) - _down(looks, usual)))


def _bend(looks: Looks, usual: Looks) -> tuple[Array, float]:
    """Give the lift (n,) counted in the direction that is expected, and the expected one."""
    expected = float(np.nan_to_num(usual[AS_SET].lift[0]))
    return looks[AS_SET].lift * np.sign(expected or 1.0), abs(expected)


def _too_far(looks: Looks, usual: Looks) -> Array:
    bend, expected = _bend(looks, usual)
    return more_than(bend, max(_FAR_OFF * expected, expected + NOTICED), 2 * READ_TO)


def _too_little(looks: Looks, usual: Looks) -> Array:
    bend, expected = _bend(looks, usual)
    limit = min(expected / _FAR_OFF, expected - NOTICED)
    return np.asarray(more_than(-bend, -limit, 2 * READ_TO) * more_than(bend, -NOTICED))


def _wrong_way(looks: Looks, usual: Looks) -> Array:
    bend, expected = _bend(looks, usual)
    return more_than(-bend, NOTICED) if expected > NOTICED else np.zeros(len(bend))


def _thick(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].far_width, 1.8 * usual[AS_SET].far_width[0] + 0.4e-3, 0.25e-3)


def _ends_early(looks: Looks, usual: Looks) -> Array:
    """A line is short to the eye, and by its kind it is none that goes all its way."""
    look = looks[AS_SET]
    is_short = more_than(-look.length, -0.8 * usual[AS_SET].length[0], 3e-3)
    return np.asarray(look.lit * is_short * (1.0 - look.is_kind(_WHOLE)))


_WAY = (
    Statement(Seen.STRAIGHT, "line", _straight),
    Statement(Seen.UP, "line", _up),
    Statement(Seen.DOWN, "line", _down),
    Statement(Seen.WRONG_WAY, "line", _wrong_way),
    Statement(Seen.THICK, "line", _thick),
)
_LINE = (
    *_WAY,
    Statement(Seen.BENDS_MORE, "line", _too_far, missed=0.15),
    Statement(Seen.BENDS_LESS, "line", _too_little, missed=0.15),
    Statement(Seen.ENDS_EARLY, "line", _ends_early),
)


def _moved(looks: Looks, key: str) -> Array:
    return looks[key].lift - looks[AS_SET].lift


def _line_and_knob(way: str, key: str) -> list[Statement]:
    def stays(looks: Looks, usual: Looks) -> Array:
        both = looks[AS_SET].lit * looks[key].lit
        return np.asarray(both * (1.0 - more_than(np.abs(_moved(looks, key)), NOTICED)))

    def moves_wrongly(looks: Looks, usual: Looks) -> Array:
        expected = float(np.nan_to_num(_moved(usual, key)[0]))
        return more_than(-np.sign(expected) * _moved(looks, key), NOTICED)

    def moves_less(looks: Looks, usual: Looks) -> Array:
        expected = float(np.nan_to_num(_moved(usual, key)[0]))
        moved = np.sign(expected) * _moved(looks, key)
        limit = min(abs(expected) / _FAR_OFF, abs(expected) - NOTICED)
        return np.asarray(more_than(-moved, -limit, READ_TO) * more_than(moved, NOTICED))

    def straight_and_stays(looks: Looks, usual: Looks) -> Array:
        return np.asarray(_straight(looks, usual) * stays(looks, usual))

    return [
        Statement(Seen(f"{way}_less"), "knobs", moves_less),
        Statement(Seen(f"{way}_stay"), "knobs", stays, tells=(key,)),
        Statement(Seen(f"{way}_wrong_way"), "knobs", moves_wrongly, tells=(key,)),
        Statement(
            Seen(f"{way}_straight"),
            "knobs",
            straight_and_stays,
            tells=(key,),
            includes=(Seen.STRAIGHT,),
        ),
    ]


def _line_at_rest(key: str) -> Statement:
    def bends(looks: Looks, usual: Looks) -> Array:
        return more_than(np.abs(looks[key].lift), NOTICED)

    return Statement(Seen.AT_REST, "knobs", bends)


def _no_reading(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].meter_high_tension, -0.05, 0.02)


def _low_reading(looks: Looks, usual: Looks) -> Array:
    shown = looks[AS_SET].meter_high_tension
    return np.asarray(more_than(-shown, -0.9, 0.03) * (1.0 - _no_reading(looks, usual)))


def _no_coil_reading(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].meter_coils, -0.05, 0.02)


def _no_plate_reading(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].meter_plates, -0.05, 0.02)


def _misread(looks: Looks, usual: Looks) -> Array:
    return looks[AS_SET].is_misread


_METERS = (
    Statement(Seen.TENSION_NONE, "meters", _no_reading, 0.02, 0.01, (TENSION_METER,)),
    Statement(Seen.TENSION_LESS, "meters", _low_reading, 0.05, 0.01, (TENSION_METER,)),
    Statement(Seen.RANGE, "meters", _misread, 0.08, 0.01, (RANGES,)),
)
_COIL_READING = Statement(
    Seen.COIL_CURRENT_NONE, "meters", _no_coil_reading, 0.02, 0.01, (COIL_METER,)
)
_PLATE_READING = Statement(
    Seen.PLATE_VOLTAGE_NONE, "meters", _no_plate_reading, 0.02, 0.01, (PLATE_METER,)
)
