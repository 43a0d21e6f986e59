"""Content keys: they tell what matters apart and nothing else. No outside source."""

from __future__ import annotations

import subprocess
import sys

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.identity import bench_hash, fields_key
from glowtrace.bench.ready_made import ready_made, ready_made_names

TUBE = ready_made("deflection tube")
AXIAL = ready_made("axial coil tube")
BULB = ready_made("fine-beam bulb")

GEOMETRY = [
    (TUBE, "gun.aperture_height", "1.1 mm"),
    (TUBE, "gun.aperture_width", "9 mm"),
    (TUBE, "gun.anode_radius", "21 mm"),
    (TUBE, "plates.length", "79 mm"),
    (TUBE, "plates.width", "49 mm"),
    (TUBE, "plates.gap", "51 mm"),
    (TUBE, "plates.start", "10 mm"),
    (TUBE, "plates.height_offset", "1 mm"),
    (TUBE, "plates.tilt_upper", "1 deg"),
    (TUBE, "plates.tilt_lower", "1 deg"),
    (TUBE, "plates", None),
    (TUBE, "screen.x_to", "103 mm"),
    (TUBE, "screen.height", "43 mm"),
    (TUBE, "screen.z_from", "-4 mm"),
    (TUBE, "envelope.radius", "65.5 mm"),
    (TUBE, "envelope.centre", ["51 mm", "0 mm", "0 mm"]),
    (TUBE, "coils.mean_radius", "74 mm"),
    (TUBE, "coils.turns", 344),
    (TUBE, "coils.winding_width", "11 mm"),
    (TUBE, "coils.winding_depth", "12 mm"),
    (TUBE, "coils.spacing", "74 mm"),
    (TUBE, "coils.centre", ["50 mm", "1 mm", "0 mm"]),
    (TUBE, "coils.tilt_x", "1 deg"),
    (TUBE, "coils.tilt_y", "1 deg"),
    (TUBE, "coils.sense", "opposing"),
    (TUBE, "coils", None),
    (AXIAL, "screen.x", "199 mm"),
    (AXIAL, "screen.width", "39 mm"),
    (AXIAL, "envelope.x_to", "208 mm"),
    (AXIAL, "coils.x_from", "-41 mm"),
    (AXIAL, "coils.shift_y", "1 mm"),
    (AXIAL, "coils.shift_z", "1 mm"),
    (BULB, "screen.y_to", "126 mm"),
]
THE_REST = [
    ("name", "other"),
    ("notes", "other"),
    ("invented", False),
    ("gun.divergence_vertical", "1 deg"),
    ("gun.cathode_temperature", "1200 K"),
    ("gun.beam_current", "1 µA"),
    ("gun.max_accelerating_voltage", "4 kV"),
    ("plates.max_voltage", "4 kV"),
    ("plates.terminal_upper", "red"),
    ("screen.grid_pitch", "5 mm"),
    ("coils.resistance", "1 ohm"),
    ("coils.max_current", "1 A"),
    ("supplies.coils.ripple", 0.1),
    ("supplies.plates", None),
    ("place.heading", "0 deg"),
]


@pytest.mark.parametrize(("bench", "field", "value"), GEOMETRY)
def test_every_measure_that_shapes_the_fields_changes_their_key(bench, field, value):
    assert fields_key(change(bench, {field: value})) != fields_key(bench)


@pytest.mark.parametrize(("field", "value"), THE_REST)
def test_names_ratings_supplies_and_place_leave_the_fields_alone(field, value):
    other = change(TUBE, {field: value})
    assert fields_key(other) == fields_key(TUBE)
    assert bench_hash(other) != bench_hash(TUBE)


def test_the_last_bit_of_a_length_counts():
    assert fields_key(change(TUBE, {"plates.gap": TUBE.plates.gap + 2**-57})) != fields_key(TUBE)


def test_keys_are_the_same_in_another_process():
    code = (
        "from glowtrace.bench.identity import *; from glowtrace.bench.ready_made import *;"
        "print(*[k(ready_made(n)) for n in ready_made_names() for k in (bench_hash, fields_key)])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    keys = [k(ready_made(n)) for n in ready_made_names() for k in (bench_hash, fields_key)]
    assert done.stdout.split() == keys
    assert len(set(keys)) == len(keys)
    assert {len(key) for key in keys} == {32}


def test_equal_benches_have_equal_keys_whatever_the_sign_of_a_zero():
    other = change(TUBE, {"plates.tilt_upper": -0.0})
    assert other == TUBE
    assert bench_hash(other) == bench_hash(TUBE)
