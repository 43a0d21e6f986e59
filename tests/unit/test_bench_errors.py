"""Wrong fields of a bench: each is named with its path, the value as given, and what is allowed.

The wording is the project's own; no outside source.
"""

from __future__ import annotations

import math

import pytest

from glowtrace.bench.checking import change, check
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.model import Bench, CoilPair, Plates
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")


def complaints(changes, bench=TUBE, is_written=True):
    """The problems that some changes to a bench cause, as lines."""
    with pytest.raises(BenchError) as caught:
        change(bench, changes, is_written=is_written)
    return [str(problem) for problem in caught.value.problems]


LENGTH = 'give a length, for example "49 mm"'
POINT = 'give three coordinates, for example ["50 mm", "0 mm", "0 mm"]'


@pytest.mark.parametrize(
    ("field", "value", "line"),
    [
        ("plates.gap", "0 mm", '"0 mm" is not allowed; choose between 0.5 mm and 500 mm'),
        ("plates.gap", "-49 mm", '"-49 mm" is not allowed; choose between 0.5 mm and 500 mm'),
        ("plates.gap", "9 km", '"9 km" is not allowed; choose between 0.5 mm and 500 mm'),
        ("plates.gap", "52", f'"52" is not allowed; the unit is missing: {LENGTH}'),
        ("plates.gap", "52 s", f'"52 s" is not allowed; this is a time: {LENGTH}'),
        ("plates.gap", "wide", f'"wide" is not allowed; {LENGTH}'),
        ("plates.gap", "nan mm", f'"nan mm" is not allowed; {LENGTH}'),
        (
            "plates.gap",
            "52(0) mm",
            '"52(0) mm" is not allowed; an uncertainty is above 0: give the value alone where it '
            "is exact",
        ),
        (
            "plates.gap",
            52,
            f"the bare number 52 is not allowed; {LENGTH}: choose between 0.5 mm and 500 mm",
        ),
        ("plates.gap", True, f"true is not allowed; {LENGTH}: choose between 0.5 mm and 500 mm"),
        (
            "plates.gap",
            None,
            f"nothing was given; {LENGTH}: choose between 0.5 mm and 500 mm",
        ),
        (
            "gun.max_accelerating_voltage",
            "40 V",
            '"40 V" is not allowed; choose between 50 V and 30 kV',
        ),
        (
            "gun.max_accelerating_voltage",
            "31 kV",
            '"31 kV" is not allowed; choose between 50 V and 30 kV',
        ),
        ("gun.beam_current", "1 A", '"1 A" is not allowed; choose between 1 nA and 50 mA'),
        (
            "gun.cathode_temperature",
            "20 degC",
            '"20 degC" is not allowed; choose between 300 K and 3500 K',
        ),
        (
            "gun.divergence_vertical",
            "-1 deg",
            '"-1 deg" is not allowed; choose between 0 deg and 30 deg',
        ),
        ("gun.aperture_shape", "oval", '"oval" is not allowed; choose "slit" or "round"'),
        ("coils.mean_radius", "0 mm", '"0 mm" is not allowed; choose between 0.01 mm and 2000 mm'),
        ("coils.turns", 0, "0 is not allowed; give a whole number between 1 and 100000"),
        ("coils.turns", 2.5, "2.5 is not allowed; give a whole number between 1 and 100000"),
        ("coils.turns", "343", '"343" is not allowed; give a whole number between 1 and 100000'),
        ("coils.turns", True, "true is not allowed; give a whole number between 1 and 100000"),
        ("coils.turns", math.nan, "nan is not allowed; give a whole number between 1 and 100000"),
        ("coils.turns", 10**400, "inf is not allowed; give a whole number between 1 and 100000"),
        ("coils.sense", "both", '"both" is not allowed; choose "aiding" or "opposing"'),
        ("coils.centre", ["0 mm"], None),
        ("coils.centre", "0 mm", f'"0 mm" is not allowed; {POINT}'),
        ("coils.tilt_x", "91 deg", '"91 deg" is not allowed; choose between -90 deg and 90 deg'),
        ("supplies.coils.ripple", 1.5, "1.5 is not allowed; choose between 0 and 1"),
        ("supplies.coils.ripple", "150 %", '"150 %" is not allowed; choose between 0 and 1'),
        ("supplies.coils.ripple", math.nan, "nan is not allowed; choose between 0 and 1"),
        (
            "supplies.coils.ripple",
            [],
            "[] is not allowed; give a plain number: choose between 0 and 1",
        ),
        ("place.latitude", "91 deg", '"91 deg" is not allowed; choose between -90 deg and 90 deg'),
        ("place.ignore_earth", "yes", '"yes" is not allowed; give true or false'),
        ("place.date", "2030-01-01", None),
        ("place.date", "1 May", None),
        ("notes", "a" * 10_001, None),
        ("name", "", '"" is not allowed; give at least one character'),
        ("name", "a\nb", '"a\nb" is not allowed; give one line without control characters'),
        ("name", 3, "3 is not allowed; give text in quotes"),
        ("plates", 3, "3 is not allowed; give a table [plates] with its fields"),
        ("gun", None, "nothing was given; give a table [gun] with its fields"),
    ],
)
def test_a_wrong_value_is_told_with_the_path_the_value_and_the_range(field, value, line):
    special = {
        "coils.centre": f"coils.centre[1]: nothing was given; {POINT}",
        "place.date": f'place.date: "{value}" is not allowed; give a date between 1900-01-01 '
        "and 2029-12-31, for example 2026-01-01",
        "notes": f'notes: "{"a" * 80}…" is not allowed; give at most 10000 characters',
    }
    assert complaints({field: value})[0] == (f"{field}: {line}" if line else special[field])


def test_a_missing_field_is_told_with_what_to_give():
    text = bench_to_toml(TUBE).replace('gap = "49 mm"\n', "").replace("turns = 343\n", "")
    with pytest.raises(BenchError) as caught:
        bench_from_toml(text)
    assert [str(problem) for problem in caught.value.problems] == [
        f"plates.gap: nothing was given; {LENGTH}: choose between 0.5 mm and 500 mm",
        "coils.turns: nothing was given; give a whole number between 1 and 100000",
    ]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('name = "deflection tube"\n', "name: nothing was given; give text in quotes"),
        (
            'aperture_shape = "slit"\n',
            'gun.aperture_shape: nothing was given; choose "slit" or "round"',
        ),
        (
            'centre = ["49 mm", "0 mm", "0 mm"]\nradius',
            f"envelope.centre: nothing was given; {POINT}",
        ),
        (
            "[place]\nignore_earth = true\n",
            "place: nothing was given; give a table [place] with its fields",
        ),
    ],
)
def test_whatever_is_missing_is_told_with_what_to_give(line, told):
    text = bench_to_toml(TUBE)
    kept = "radius" if line.endswith("radius") else "[spare]\n" if line.startswith("[") else ""
    assert text.count(line) == 1
    with pytest.raises(BenchError) as caught:
        bench_from_toml(text.replace(line, kept))
    assert told in [str(problem) for problem in caught.value.problems]


def test_an_example_lies_within_the_range_that_is_told_with_it():
    text = bench_to_toml(TUBE).replace('beam_current = "110 µA"\n', "")
    with pytest.raises(BenchError) as caught:
        bench_from_toml(text)
    assert str(caught.value.problems[0]) == (
        "gun.beam_current: nothing was given; "
        'give a current, for example "50 mA": choose between 1 nA and 50 mA'
    )


@pytest.mark.parametrize(
    ("field", "hint"),
    [
        ("plates.gapp", "did you mean gap?"),
        ("gun.anode_radios", "did you mean anode_radius?"),
        ("coil", "did you mean coils?"),
        ("supplies.acelerating", "did you mean accelerating?"),
        ("screen.q", "known names are kind, x_from, x_to, height, z_from, z_to, grid_pitch"),
    ],
)
def test_a_misspelt_name_suggests_the_nearest(field, hint):
    name = field.rpartition(".")[2]
    assert complaints({field: "1 mm"}) == [
        f'{field}: the unknown name "{name}" is not allowed; {hint}'
    ]


@pytest.mark.parametrize(
    ("field", "value", "line"),
    [
        ("coils.kind", "par", '"par" is not allowed; choose "pair" or "long coil"'),
        ("screen.kind", 3, '3 is not allowed; choose "sheet" or "end face" or "gas glow"'),
        ("envelope", {}, 'nothing was given; choose "sphere" or "cylinder"'),
    ],
)
def test_a_wrong_kind_names_the_kinds(field, value, line):
    path = field if field.endswith("kind") else f"{field}.kind"
    assert complaints({field: value})[0] == f"{path}: {line}"


def test_every_wrong_field_and_every_conflict_of_sound_parts_is_told_at_once():
    changes = {
        "name": "",
        "place.heading": "400 deg",
        "plates.gap": "0.8 mm",
        "coils.winding_depth": "200 mm",
        "supplies.accelerating.max_current": "10 µA",
    }
    assert complaints(changes) == [
        'name: "" is not allowed; give at least one character',
        'place.heading: "400 deg" is not allowed; choose between 0 deg and 360 deg',
        "coils.winding_depth: 200 mm is not allowed; the winding would fill its own middle: "
        "choose less than twice mean_radius, 146 mm",
        "plates.gap: 0.8 mm is not allowed; the beam is 0.9 mm high: choose more than that",
        "screen.height: 44 mm is not allowed; the sheet would touch a plate: "
        "choose less than 0.8 mm",
        "supplies.accelerating.max_current: 10 µA is not allowed; the gun's beam takes 110 µA: "
        "choose this or more",
    ]


def test_the_text_of_the_error_is_the_subject_and_one_line_a_field():
    with pytest.raises(BenchError) as caught:
        change(TUBE, {"coils.turns": 0, "name": ""}, 'bench "x"')
    assert str(caught.value) == (
        'bench "x":\n'
        '  name: "" is not allowed; give at least one character\n'
        "  coils.turns: 0 is not allowed; give a whole number between 1 and 100000"
    )


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 0.0, 10**400])
def test_si_numbers_from_programs_are_checked_like_text(value):
    lines = complaints({"plates.gap": value}, is_written=False)
    assert lines[0].endswith("is not allowed; choose between 0.5 mm and 500 mm")


def test_a_change_is_checked_and_leaves_the_old_bench_alone():
    tilted = change(TUBE, {"plates.tilt_upper": "2 deg", "coils": None, "notes": "bent"})
    assert tilted.plates.tilt_upper == pytest.approx(math.radians(2))
    assert tilted.coils is None
    assert TUBE.plates.tilt_upper == 0
    assert (
        change(tilted, {"plates.tilt_upper": 0.0, "coils": TUBE.coils, "notes": TUBE.notes}) == TUBE
    )


def test_a_change_into_a_part_that_is_absent_asks_for_the_rest_of_it():
    assert complaints({"plates.gap": "20 mm"}, BULB)[0] == (
        f"plates.length: nothing was given; {LENGTH}: choose between 0.01 mm and 2000 mm"
    )


def test_data_that_are_no_table_are_refused():
    with pytest.raises(BenchError, match="give a table"):
        check(Bench, [1, 2], "bench")


def test_benches_and_settings_are_frozen():
    with pytest.raises(ValueError, match="frozen"):
        TUBE.name = "other"
    with pytest.raises(ValueError, match="frozen"):
        TUBE.plates.gap = 1.0
    assert hash(TUBE) == hash(change(TUBE, {}))


def test_a_bench_whose_parts_conflict_cannot_be_built_by_any_way():
    parts = {name: getattr(TUBE, name) for name in Bench.model_fields}
    wide = CoilPair(**(TUBE.coils.model_dump() | {"mean_radius": 0.03}))
    with pytest.raises(BenchError, match="the winding must stay outside the glass"):
        Bench(**(parts | {"coils": wide}))


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"coil_current": "-1 A"},
            'coil_current: "-1 A" is not allowed; choose between 0 A and 100 A',
        ),
        (
            {"plate_voltage": math.inf},
            "plate_voltage: inf is not allowed; choose between 0 V and 60 kV",
        ),
        (
            {"plate_tie": "floating"},
            'plate_tie: "floating" is not allowed; choose "symmetric" or "lower at anode" '
            'or "upper at anode"',
        ),
        ({"ripple": 1}, "ripple: 1 is not allowed; give true or false"),
        (
            {"acelerating_voltage": "3 kV"},
            'acelerating_voltage: the unknown name "acelerating_voltage" is not allowed; '
            "did you mean accelerating_voltage?",
        ),
    ],
)
def test_wrong_settings_are_told_in_the_same_way(changes, line):
    with pytest.raises(BenchError) as caught:
        change(Settings(accelerating_voltage=3000.0), changes)
    assert [str(problem) for problem in caught.value.problems] == [line]


def test_the_switches_give_the_signs():
    settings = Settings(accelerating_voltage=3e3, plate_voltage=1e3, coil_current=0.5)
    assert (settings.signed_plate_voltage, settings.signed_coil_current) == (1e3, 0.5)
    turned = change(settings, {"plate_reversed": True, "coil_reversed": True})
    assert (turned.signed_plate_voltage, turned.signed_coil_current) == (-1e3, -0.5)


def test_text_and_si_numbers_build_the_same_part():
    by_text = Plates(
        length="76 mm", width="4.7 cm", gap="49 mm", start="9 mm", max_voltage="4.8 kV"
    )
    by_number = Plates(length=0.076, width=0.047, gap=0.049, start=0.009, max_voltage=4800)
    assert by_text == by_number
