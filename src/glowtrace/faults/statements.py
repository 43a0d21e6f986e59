"""The plain statements that can be made on a bench: when a careful eye agrees with each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.looks import NOTICED, READ_TO, more_than
from glowtrace.faults.statement import NEVER, Looks, Statement
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
"""Keys of checks that a statement may tell."""
DULL, DARK = 0.7, 0.12
"""Light of the heater, as a part of the usual, below which it is called dull, or no light."""
_FAINT = 0.5
_FAR_OFF = 1.25
"""Ratio of bends from which one is called more than the other."""


def statements_for(bench: Bench, settings: Settings) -> tuple[Statement, ...]:
    """Give the statements that suit a bench at its settings, in the order of a list."""
    keys = {state.key for state in variations(bench, settings)}
    is_spot = bench.plane.is_spot
    found = [*_light("spot" if is_spot else "line"), *(_SPOT if is_spot else _LINE)]
    if bench.plane.glows:
        found = [one for one in found if one.key not in {_HAZE, "line ends early"}]
    knobs = (("coils", COIL_CURRENT), ("plates", PLATE_VOLTAGE))
    for words, key in knobs:
        if key in keys:
            found += (_spot_and_knob if is_spot else _line_and_knob)(words, key)
    rest = state_at_rest(settings)
    if rest in keys - {AS_SET}:
        found.append(_at_rest(is_spot, rest))
    found += _METERS
    if bench.coils and bench.supplies.coils and settings.coil_current > 0.0:
        found.append(_COIL_READING)
    return tuple(found)


_HAZE = "a haze glows all through the tube"


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
    return np.asarray(look.lit * more_than(-look.brightness, -_FAINT, 0.1))


def _flickers(looks: Looks, usual: Looks) -> Array:
    return looks[AS_SET].flickers


def _creeps(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(look.lit * more_than(look.creep, NOTICED))


def _hazy(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].haze, 0.3, 0.1)


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
    look = looks[AS_SET]
    return np.asarray(look.lit * more_than(-look.length, -0.8 * usual[AS_SET].length[0], 3e-3))


def _light(what: str) -> tuple[Statement, ...]:
    return (
        Statement("no light at all", "light", _dark, 0.02, NEVER, (HEATER,)),
        Statement(f"light from the filament but no {what}", "light", _only_filament, 0.02, NEVER),
        Statement("the filament is dull", "light", _dull, tells=(HEATER,)),
        Statement(_HAZE, "light", _hazy, wrong=0.01),
        Statement(f"{what} is faint", "line", _faint, missed=0.1),
        Statement(f"{what} comes and goes", "line", _flickers, wrong=0.01, tells=(WATCHING,)),
        Statement(
            f"{what} creeps slowly by itself",
            "waiting",
            _creeps,
            missed=0.15,
            wrong=0.01,
            tells=(WATCHING,),
        ),
    )


_STRAIGHT = "line is straight"
_LINE = (
    Statement(_STRAIGHT, "line", _straight),
    Statement("line bends up", "line", _up),
    Statement("line bends down", "line", _down),
    Statement("line bends more than it should", "line", _too_far, missed=0.15),
    Statement("line bends less than it should", "line", _too_little, missed=0.15),
    Statement("line bends the wrong way", "line", _wrong_way),
    Statement("line is thick or fan-shaped", "line", _thick),
    Statement("line ends early", "line", _ends_early),
)


def _off_middle(looks: Looks, usual: Looks) -> Array:
    away = np.linalg.norm(looks[AS_SET].centre - usual[AS_SET].centre, axis=1)
    return more_than(away, NOTICED)


def _too_large(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].width, 1.4 * usual[AS_SET].width[0] + 0.5e-3, 0.4e-3)


def _too_small(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].width, -usual[AS_SET].width[0] / 1.4 + 0.3e-3, 0.4e-3)


_SPOT = (
    Statement("spot is off the middle", "line", _off_middle),
    Statement("spot is larger than it should be", "line", _too_large),
    Statement("spot is smaller than it should be", "line", _too_small),
)


def _moved(looks: Looks, key: str) -> Array:
    return looks[key].lift - looks[AS_SET].lift


def _line_and_knob(words: str, key: str) -> list[Statement]:
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
        Statement(f"line moves less than it should with the {words}", "knobs", moves_less),
        Statement(f"line does not move with the {words}", "knobs", stays, tells=(key,)),
        Statement(
            f"line moves the wrong way with the {words}", "knobs", moves_wrongly, tells=(key,)
        ),
        Statement(
            f"line is straight and does not move with the {words}",
            "knobs",
            straight_and_stays,
            tells=(key,),
            includes=(_STRAIGHT,),
        ),
    ]


def _spot_and_knob(words: str, key: str) -> list[Statement]:
    def stays(looks: Looks, usual: Looks) -> Array:
        before, after = looks[AS_SET], looks[key]
        grown = np.abs(np.log(after.width / before.width))
        moved = np.linalg.norm(after.centre - before.centre, axis=1)
        changed = np.maximum(more_than(grown, 0.3, 0.1), more_than(moved, NOTICED))
        return np.asarray(before.lit * after.lit * (1.0 - changed))

    return [Statement(f"spot does not change with the {words}", "knobs", stays, tells=(key,))]


def _at_rest(is_spot: bool, key: str) -> Statement:
    def bends(looks: Looks, usual: Looks) -> Array:
        return more_than(np.abs(looks[key].lift), NOTICED)

    def is_aside(looks: Looks, usual: Looks) -> Array:
        return more_than(np.linalg.norm(looks[key].centre, axis=1), NOTICED)

    if is_spot:
        return Statement("spot is off the middle even with the fields off", "knobs", is_aside)
    return Statement("line bends even with the fields off", "knobs", bends)


def _no_reading(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].meter_high_tension, -0.05, 0.02)


def _low_reading(looks: Looks, usual: Looks) -> Array:
    shown = looks[AS_SET].meter_high_tension
    return np.asarray(more_than(-shown, -0.9, 0.03) * (1.0 - _no_reading(looks, usual)))


def _no_coil_reading(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].meter_coils, -0.05, 0.02)


def _misread(looks: Looks, usual: Looks) -> Array:
    return looks[AS_SET].is_misread


_METERS = (
    Statement(
        "the high-tension meter shows nothing", "meters", _no_reading, 0.02, 0.01, (TENSION_METER,)
    ),
    Statement(
        "the high-tension meter shows less than is set",
        "meters",
        _low_reading,
        0.05,
        0.01,
        (TENSION_METER,),
    ),
    Statement(
        "a meter is on another range than it is read on", "meters", _misread, 0.08, 0.01, (RANGES,)
    ),
)
_COIL_READING = Statement(
    "the coil meter shows no current", "meters", _no_coil_reading, 0.02, 0.01, (COIL_METER,)
)
