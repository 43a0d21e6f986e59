"""Knob stops and settings beyond a rating.

Ohm's law is the only physics; that a supply whose positive pole is the anode cannot lift a plate
above it is common practice, no source. The wording is the project's own.
"""

from __future__ import annotations

import math

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ratings import check_settings, knob_ranges, require_within_ratings
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, RatingError

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
AXIAL = ready_made("axial coil tube")
SOUND = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.14)


def told(bench, **values):
    settings = SOUND.model_copy(update={"plate_voltage": 0.0, "coil_current": 0.0} | values)
    return [str(problem) for problem in check_settings(bench, settings)]


def test_sound_settings_pass():
    assert check_settings(TUBE, SOUND) == ()
    require_within_ratings(TUBE, SOUND)


@pytest.mark.parametrize(
    ("bench", "values", "lines"),
    [
        (
            TUBE,
            {"accelerating_voltage": 6000.0},
            [
                "accelerating_voltage: 6 kV is not allowed; the gun is rated 4.8 kV",
                "accelerating_voltage: 6 kV is not allowed; "
                "the accelerating supply gives at most 4.9 kV",
            ],
        ),
        (
            TUBE,
            {"accelerating_voltage": 400.0},
            ["accelerating_voltage: 400 V is not allowed; the gun needs at least 450 V"],
        ),
        (
            change(TUBE, {"supplies.accelerating.min_voltage": "1 kV"}),
            {"accelerating_voltage": 800.0},
            [
                "accelerating_voltage: 800 V is not allowed; "
                "the accelerating supply gives at least 1 kV"
            ],
        ),
        (
            change(TUBE, {"plates.max_voltage": "2 kV"}),
            {"plate_voltage": 3000.0},
            ["plate_voltage: 3 kV is not allowed; the plates are rated 2 kV"],
        ),
        (
            change(TUBE, {"supplies.plates.max_voltage": "350 V"}),
            {"plate_voltage": 351.0},
            ["plate_voltage: 351 V is not allowed; the plate supply gives at most 350 V"],
        ),
        (
            change(TUBE, {"supplies.plates.min_voltage": "300 V"}),
            {"plate_voltage": 200.0},
            ["plate_voltage: 200 V is not allowed; the plate supply gives at least 300 V"],
        ),
        (
            change(TUBE, {"supplies.plates": None}),
            {"plate_voltage": 10.0},
            ["plate_voltage: 10 V is not allowed; the bench has no plate supply"],
        ),
        (
            BULB,
            {"accelerating_voltage": 200.0, "plate_voltage": 10.0},
            ["plate_voltage: 10 V is not allowed; the bench has no plates"],
        ),
        (
            TUBE,
            {"coil_current": 2.01},
            ["coil_current: 2.01 A is not allowed; the coil pair is rated 1.9 A"],
        ),
        (
            AXIAL,
            {"accelerating_voltage": 500.0, "coil_current": 2.5},
            [
                "coil_current: 2.5 A is not allowed; the long coil is rated 1.6 A",
                "coil_current: 2.5 A is not allowed; the coil supply gives at most 1.9 A",
                # Ohm: 34 V through 19.2 ohm
                "coil_current: 2.5 A is not allowed; "
                "the coil supply gives at most 34 V, which drives 1.77 A through 19.2 ohm",
            ],
        ),
        (
            change(TUBE, {"coils": None}),
            {"coil_current": 0.1},
            ["coil_current: 100 mA is not allowed; the bench has no coils"],
        ),
        (
            change(TUBE, {"supplies.coils": None}),
            {"coil_current": 0.1},
            ["coil_current: 100 mA is not allowed; the bench has no coil supply"],
        ),
    ],
)
def test_a_setting_beyond_a_rating_names_the_rating(bench, values, lines):
    assert told(bench, **values) == lines


def test_apparatus_that_is_off_is_not_missed():
    bare = change(TUBE, {"coils": None, "plates": None, "supplies.plates": None})
    assert told(bare) == []


@pytest.mark.parametrize(("value", "given"), [(math.nan, "nan"), (math.inf, "inf"), (-5.0, "-5 V")])
def test_numbers_without_sense_are_told_once_even_when_they_slipped_past_the_model(value, given):
    assert told(TUBE, plate_voltage=value) == [
        f"plate_voltage: {given} is not allowed; give 0 V or more"
    ]


def test_all_problems_are_raised_together():
    wild = Settings(accelerating_voltage=9e3, plate_voltage=9e3, coil_current=9.0)
    with pytest.raises(RatingError) as caught:
        require_within_ratings(TUBE, wild)
    assert isinstance(caught.value, BenchError)
    assert {problem.field for problem in caught.value.problems} == {
        "accelerating_voltage",
        "plate_voltage",
        "coil_current",
    }
    assert str(caught.value).startswith('settings on the bench "deflection tube":\n  ')


# Plates fed from the accelerating supply, whose positive pole is the anode.


def shared(**values):
    return told(TUBE, plate_voltage=2000.0, plate_source="accelerating supply", **values)


def test_plates_on_the_accelerating_supply_get_no_more_than_it_is_set_to():
    assert shared(plate_tie="upper at anode") == []
    assert shared(plate_tie="upper at anode", accelerating_voltage=1500.0) == [
        "plate_voltage: 2 kV is not allowed; "
        "the plates share the accelerating voltage, set to 1.5 kV"
    ]


def test_plates_on_the_accelerating_supply_have_one_plate_at_the_anode():
    assert shared() == [
        'plate_tie: "symmetric" is not allowed; with plate_source "accelerating supply" one plate '
        'is at the anode: choose "lower at anode" or "upper at anode"'
    ]


def test_the_other_plate_on_the_accelerating_supply_is_negative():
    assert shared(plate_tie="lower at anode", plate_reversed=True) == []
    assert shared(plate_tie="lower at anode") == [
        'plate_reversed: false is not allowed; with plate_source "accelerating supply" and '
        'plate_tie "lower at anode" the other plate is negative: choose true, '
        "or tie the other plate to the anode"
    ]
    (line,) = shared(plate_tie="upper at anode", plate_reversed=True)
    assert "choose false" in line


# Knobs.


def test_every_knob_stops_at_the_lowest_rating_and_says_which():
    assert knob_ranges(TUBE) == {
        "accelerating_voltage": (450.0, 4800.0, "the gun is rated 4.8 kV"),
        "plate_voltage": (0.0, 4800.0, "the plates are rated 4.8 kV"),
        "coil_current": (0.0, 1.9, "the coil pair is rated 1.9 A"),
    }


@pytest.mark.parametrize(
    ("changes", "knob", "stop"),
    [
        (
            {"supplies.accelerating.max_voltage": "4 kV"},
            "accelerating_voltage",
            (450.0, 4000.0, "the accelerating supply gives at most 4 kV"),
        ),
        (
            {"supplies.accelerating.min_voltage": "700 V"},
            "accelerating_voltage",
            (700.0, 4800.0, "the gun is rated 4.8 kV"),
        ),
        (
            {"supplies.plates.max_voltage": "350 V"},
            "plate_voltage",
            (0.0, 350.0, "the plate supply gives at most 350 V"),
        ),
        (
            {"supplies.plates": None, "plates.max_voltage": "6 kV"},
            "plate_voltage",
            (
                0.0,
                4800.0,
                "the plates share the accelerating voltage, and the gun is rated 4.8 kV",
            ),
        ),
        ({"plates": None}, "plate_voltage", (0.0, 0.0, "the bench has no plates")),
        (
            {"supplies.coils.max_current": "1 A"},
            "coil_current",
            (0.0, 1.0, "the coil supply gives at most 1 A"),
        ),
        (
            {"supplies.coils.max_voltage": "8.55 V"},
            "coil_current",
            (
                0.0,
                0.5,
                "the coil supply gives at most 8.55 V, which drives 500 mA through 17.1 ohm",
            ),
        ),
        ({"supplies.coils": None}, "coil_current", (0.0, 0.0, "the bench has no coil supply")),
        ({"coils": None}, "coil_current", (0.0, 0.0, "the bench has no coils")),
    ],
)
def test_the_stop_follows_whatever_limits_most(changes, knob, stop):
    assert knob_ranges(change(TUBE, changes))[knob] == stop


@pytest.mark.parametrize("name", ready_made_names())
def test_knobs_at_their_stops_are_within_the_ratings(name):
    bench = ready_made(name)
    knobs = knob_ranges(bench)
    for end in ("low", "high"):
        settings = Settings(**{knob: getattr(stop, end) for knob, stop in knobs.items()})
        assert check_settings(bench, settings) == ()
    beyond = Settings(**{knob: stop.high * 1.001 + 0.001 for knob, stop in knobs.items()})
    assert {problem.field for problem in check_settings(bench, beyond)} == set(knobs)
