"""Parts of a bench that do not fit together.

The geometry is elementary (Euclid); expected distances are worked out beside each check. The
wording is the project's own.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from glowtrace.bench.checking import change
from glowtrace.bench.geometry import plate_edges
from glowtrace.bench.glass import coil_rings, coils_at_glass, depth_inside, pair_axis
from glowtrace.bench.parts import CoilPair, Cylinder, LongCoil, Plates, Sphere
from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import BenchError

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
AXIAL = ready_made("axial coil tube")


def complaints(bench, changes):
    with pytest.raises(BenchError) as caught:
        change(bench, changes)
    return [str(problem) for problem in caught.value.problems]


def conflict(bench, changes):
    """The only problem that the changes cause."""
    (line,) = complaints(bench, changes)
    return line


# Plates and the beam. The beam is 0.9 mm high, the gap 49 mm: 24.05 mm of room on each side.


def test_a_gap_smaller_than_the_beam():
    assert conflict(TUBE, {"plates.gap": "0.9 mm", "screen.height": "0.8 mm"}) == (
        "plates.gap: 0.9 mm is not allowed; the beam is 0.9 mm high: choose more than that"
    )


def test_plates_shifted_into_the_beam():
    lines = complaints(TUBE, {"plates.height_offset": "24.1 mm", "envelope.radius": "66 mm"})
    assert lines == [
        "plates.height_offset: 24.1 mm is not allowed; a plate would stand in the beam: "
        "choose between -24.05 mm and 24.05 mm",
        "screen.height: 44 mm is not allowed; the sheet would touch a plate: "
        "choose less than 0.8 mm",
        "plates: a length of 76 mm, width of 47 mm and gap of 49 mm is not allowed; a plate must "
        "be inside the glass and reaches 1.19 mm out of it",  # |(40, 48.6, 23.5)| - 66 = 1.19
    ]


@pytest.mark.parametrize(
    ("name", "sign"), [("upper", 1), ("lower", 1), ("upper", -1), ("lower", -1)]
)
def test_a_plate_tilted_into_the_beam(name, sign):
    # A gap of 20 mm leaves 9.55 mm; half a plate is 38 mm long: asin(9.55/38) = 14.555 degrees.
    few = {"plates.gap": "20 mm", "screen.height": "0.5 mm"}
    assert change(TUBE, few | {f"plates.tilt_{name}": f"{14.5 * sign} deg"}).plates is not None
    assert conflict(TUBE, few | {f"plates.tilt_{name}": f"{14.6 * sign} deg"}) == (
        f"plates.tilt_{name}: {14.6 * sign} deg is not allowed; the {name} plate would stand in "
        "the beam: choose between -14.55 deg and 14.55 deg"
    )


def test_plates_tilted_into_each_other():
    # Half a plate lifts its end by 38 sin 20 deg = 13.0 mm, more than half the gap of 20 mm.
    tilts = {"plates.tilt_upper": "-20 deg", "plates.tilt_lower": "20 deg"}
    assert conflict(TUBE, {"plates.gap": "20 mm", "screen.height": "0.5 mm", **tilts}) == (
        "plates.tilt_upper: -20 deg (with tilt_lower 20 deg) is not allowed; the plates would "
        "touch each other: choose tilts that are nearer to each other"
    )


def test_the_beam_needs_its_height_beyond_a_shifted_gap():
    shifted = {"plates.gap": "20 mm", "plates.height_offset": "9 mm", "screen.height": "0.5 mm"}
    assert change(TUBE, shifted).plates.height_offset == 0.009
    assert "choose between -9.55 mm and 9.55 mm" in conflict(
        TUBE, shifted | {"plates.height_offset": "9.6 mm"}
    )


@pytest.mark.parametrize(
    ("tilt", "upper"),
    [
        (0.0, (0.009, 0.0245, 0.085, 0.0245)),
        # Turned about its centre (47, 24.5) mm with half length 38 mm: 38 cos 30 deg = 32.91, 19.
        (math.radians(30), (0.01409103, 0.0055, 0.07990897, 0.0435)),
    ],
)
def test_the_edges_of_a_plate(tilt, upper):
    plates = Plates(**(TUBE.plates.model_dump() | {"tilt_upper": tilt}))
    assert plate_edges(plates)[0] == pytest.approx(upper, abs=1e-8)
    assert plate_edges(plates)[1] == pytest.approx((0.009, -0.0245, 0.085, -0.0245))


# Plates, anode and screen.


def test_plates_at_the_anode_disc():
    assert conflict(TUBE, {"plates.start": "0.9 mm"}) == (
        "plates.start: 0.9 mm is not allowed; the plates must stay clear of the anode disc at "
        "0 mm: choose 1 mm or more"
    )
    assert change(TUBE, {"plates.start": "1 mm"}).plates.start == 0.001


def test_a_sheet_that_touches_the_plates():
    assert conflict(TUBE, {"screen.height": "49 mm"}) == (
        "screen.height: 49 mm is not allowed; the sheet would touch a plate: choose less than 49 mm"
    )


def test_a_sheet_behind_the_plates_may_be_taller_than_their_gap():
    behind = {"plates.length": "20 mm", "plates.gap": "30 mm", "screen.x_from": "30 mm"}
    assert change(TUBE, behind).screen.height > 0.03
    among = behind | {"screen.x_from": "28 mm"}
    assert "choose less than 30 mm" in conflict(TUBE, among)


def test_a_sheet_beside_a_tilted_plate_has_the_room_at_its_near_end():
    # The upper plate, turned by 10 degrees about x = 47 mm, is 24.5 - 35 tan 10 deg = 18.329 mm
    # over the axis where the sheet begins, at x = 12 mm.
    assert conflict(TUBE, {"plates.tilt_upper": "10 deg"}).endswith(
        "the sheet would touch a plate: choose less than 36.65 mm"
    )


def test_a_sheet_beyond_the_beam():
    # The slit is 11 mm wide; at 104 mm half a degree adds 0.908 mm to its half width.
    assert conflict(TUBE, {"screen.z_from": "6.5 mm", "screen.z_to": "7 mm"}) == (
        "screen.z_from: 6.5 mm (with z_to 7 mm) is not allowed; the beam never reaches the sheet: "
        "it is at most 12.81 mm wide, so let z_from or z_to come within 6.407 mm of the axis"
    )
    grazed = change(TUBE, {"screen.z_from": "6.38 mm", "screen.z_to": "6.39 mm"})
    assert 0 < grazed.screen.angle < 2e-4


def test_a_sheet_parallel_to_the_beam():
    assert conflict(TUBE, {"screen.z_from": "2 mm", "screen.z_to": "2 mm"}) == (
        "screen.z_to: 2 mm is not allowed; the beam grazes the sheet only where it crosses it: "
        "choose a value that differs from z_from, 2 mm"
    )


def test_a_sheet_that_crosses_the_beam_in_its_middle_only():
    assert change(TUBE, {"screen.z_from": "-20 mm", "screen.z_to": "20 mm"}).screen.angle == (
        pytest.approx(math.atan2(40, 92))
    )


def test_a_screen_at_the_anode():
    assert conflict(TUBE, {"screen.x_from": "0 mm"}) == (
        "screen.x_from: 0 mm is not allowed; the screen must stand in front of the anode disc: "
        "choose more than 0 mm"
    )
    assert conflict(AXIAL, {"screen.x": "-1 mm"}) == (
        "screen.x: -1 mm is not allowed; the screen must stand in front of the anode disc: "
        "choose more than 0 mm"
    )


def test_a_picture_of_the_gas_behind_the_gun():
    assert conflict(BULB, {"screen.x_to": "0 mm"}) == (
        "screen.x_to: 0 mm is not allowed; the beam leaves the aperture at 0 mm towards +x: "
        "choose more than 0 mm"
    )


def test_an_end_face_among_the_plates():
    plates = {
        "length": "60 mm",
        "width": "20 mm",
        "gap": "20 mm",
        "start": "5 mm",
        "max_voltage": "1 kV",
    }
    assert change(AXIAL, {"plates": plates}).plates is not None
    assert conflict(AXIAL, {"plates": plates, "screen.x": "65 mm"}) == (
        "screen.x: 65 mm is not allowed; the face must stand behind the plates: "
        "choose more than 65 mm"
    )


# Parts against themselves.


@pytest.mark.parametrize(
    ("bench", "field", "value", "line"),
    [
        (TUBE, "screen.x_to", "12 mm", "12 mm is not allowed; choose more than x_from, 12 mm"),
        (BULB, "screen.y_to", "-40 mm", "-40 mm is not allowed; choose more than y_from, -31 mm"),
        (
            AXIAL,
            "envelope.x_to",
            "-31 mm",
            "-31 mm is not allowed; choose more than x_from, -31 mm",
        ),
        (AXIAL, "coils.x_to", "-50 mm", "-50 mm is not allowed; choose more than x_from, -37 mm"),
        (
            BULB,
            "gun.aperture_width",
            "1 mm",
            "1 mm is not allowed; a round aperture has its diameter both ways: "
            "give aperture_height, 0.9 mm",
        ),
        (
            TUBE,
            "gun.anode_radius",
            "5.5 mm",
            "5.5 mm is not allowed; the aperture must fit in the anode disc: "
            "choose more than 5.5 mm",
        ),
        (
            TUBE,
            "gun.min_accelerating_voltage",
            "6 kV",
            "6 kV is not allowed; choose at most max_accelerating_voltage, 4.8 kV",
        ),
        (
            TUBE,
            "supplies.coils.min_voltage",
            "41 V",
            "41 V is not allowed; choose at most max_voltage, 37 V",
        ),
        (
            TUBE,
            "coils.winding_depth",
            "146 mm",
            "146 mm is not allowed; the winding would fill its own middle: "
            "choose less than twice mean_radius, 146 mm",
        ),
        (
            TUBE,
            "coils.winding_width",
            "74 mm",
            "74 mm is not allowed; the two coils would overlap: choose at most spacing, 73 mm",
        ),
    ],
)
def test_a_part_that_contradicts_itself_is_told_once(bench, field, value, line):
    assert conflict(bench, {field: value}) == f"{field}: {line}"


# Supplies.


@pytest.mark.parametrize(
    ("field", "value", "need"),
    [
        ("accelerating.max_voltage", "400 V", "the gun needs 450 V: choose this or more"),
        ("accelerating.max_current", "50 µA", "the gun's beam takes 110 µA: choose this or more"),
        ("accelerating.min_voltage", "5.5 kV", "the gun is rated 4.8 kV: choose this or less"),
        ("plates.min_voltage", "5.5 kV", "the plates are rated 4.8 kV: choose this or less"),
        ("heater.max_voltage", "5 V", "the heater needs 5.8 V: choose this or more"),
        ("heater.max_current", "1 A", "the heater takes 1.35 A: choose this or more"),
        ("heater.min_voltage", "7 V", "the heater is rated 5.8 V: choose this or less"),
    ],
)
def test_supplies_that_cannot_work_the_tube(field, value, need):
    changes = {f"supplies.{field}": value}
    if field.endswith("min_voltage"):
        changes[f"supplies.{field.replace('min', 'max')}"] = "8 kV"
    assert conflict(TUBE, changes) == f"supplies.{field}: {value} is not allowed; {need}"


# The glass.


def test_an_anode_disc_through_the_glass():
    # |(49, 50)| = 70.01 mm from the centre of the sphere of 69 mm.
    assert conflict(TUBE, {"gun.anode_radius": "50 mm"}) == (
        "gun.anode_radius: 50 mm is not allowed; the anode disc must be inside the glass and "
        "reaches 1.01 mm out of it"
    )


def test_plates_through_the_glass():
    # The far corners: |(70, 24.5, 23.5)| - 69 = 8.80 mm.
    assert conflict(TUBE, {"plates.length": "110 mm"}) == (
        "plates: a length of 110 mm, width of 47 mm and gap of 49 mm is not allowed; a plate must "
        "be inside the glass and reaches 8.80 mm out of it"
    )


def test_the_corners_of_a_sheet_through_the_glass():
    # |(66, 22, 5.5)| - 69 = 0.787 mm.
    assert conflict(TUBE, {"screen.x_to": "115 mm"}) == (
        "screen.x_to: 115 mm (with a height of 44 mm) is not allowed; the sheet must be inside the "
        "glass and reaches 0.787 mm out of it"
    )


def test_an_end_face_outside_the_tube():
    assert conflict(AXIAL, {"screen.x": "208 mm"}) == (
        "screen.x: 208 mm is not allowed; the end face must be inside the glass and "
        "reaches 1.00 mm out of it"
    )
    assert change(AXIAL, {"screen.x": "207 mm"}).screen.x == 0.207  # on the end wall itself
    # Half the diagonal of 52 mm x 42 mm is 33.42 mm in a tube of 32 mm.
    assert conflict(AXIAL, {"screen.height": "52 mm"}) == (
        "screen.height: 52 mm (with a width of 42 mm) is not allowed; the end face must be inside "
        "the glass and reaches 1.42 mm out of it"
    )


def test_a_picture_of_the_gas_beside_the_bulb():
    changes = {"screen.y_from": "140 mm", "screen.y_to": "160 mm"}
    assert conflict(BULB, changes) == (
        "screen.x_from: -83 mm (x_to 83 mm, y_from 140 mm, y_to 160 mm) is not allowed; "
        "the picture must show some of the inside of the glass"
    )
    glow = BULB.screen.model_dump() | {"x_from": 0.25, "x_to": 0.3}
    assert "some of the inside" in conflict(AXIAL, {"screen": glow})


def test_coils_through_a_bulb():
    # The winding's nearest edge is at 30 mm, 54.5 mm from the axis: 69 - 62.21 = 6.79 mm.
    assert conflict(TUBE, {"coils.mean_radius": "60 mm"}) == (
        "coils.mean_radius: 60 mm is not allowed; the winding must stay outside the glass and "
        "reaches 6.79 mm into it"
    )


def test_a_long_coil_that_cuts_into_the_tube_when_shifted():
    # Inner radius 40 mm, tube 32 mm: 8 mm of play.
    assert change(AXIAL, {"coils.shift_y": "7.9 mm"}).coils.shift_y == 0.0079
    assert conflict(AXIAL, {"coils.shift_y": "-8.1 mm"}) == (
        "coils.mean_radius: 43 mm is not allowed; the winding must stay outside the glass and "
        "reaches 0.100 mm into it"
    )


def test_coils_wholly_inside_the_glass():
    assert "reaches" in conflict(TUBE, {"coils.mean_radius": "20 mm", "coils.spacing": "20 mm"})


@given(
    centre=st.tuples(*[st.floats(-0.1, 0.1)] * 3),
    radius=st.floats(0.02, 0.2),
    tilts=st.tuples(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5)),
)
def test_rings_and_spheres_agree_with_points_scattered_over_the_winding(centre, radius, tilts):
    """The closed form of the sphere against a plain scatter of points over the two windings."""
    coils = CoilPair(
        **(TUBE.coils.model_dump() | {"centre": centre, "tilt_x": tilts[0], "tilt_y": tilts[1]})
    )
    glass = Sphere(centre=(0.05, 0.0, 0.0), radius=radius)
    deepest = max(depth_inside(glass, scatter(ring)).max() for ring in coil_rings(coils))
    assume(abs(deepest) > 1e-3)  # the scatter is 0.7 mm coarse
    assert bool(list(coils_at_glass(glass, coils))) == (deepest > 0)


def scatter(ring):
    """Points all over the surface and the inside of a ring."""
    points = []
    normal = np.linalg.svd(ring.axis[None, :])[2][1:]
    for radius, along in itertools.product(
        np.linspace(ring.inner, ring.outer, 9),
        np.linspace(-ring.half_length, ring.half_length, 9),
    ):
        angle = np.linspace(0, 2 * np.pi, 300)
        around = np.cos(angle)[:, None] * normal[0] + np.sin(angle)[:, None] * normal[1]
        points.append(ring.centre + along * ring.axis + radius * around)
    return np.concatenate(points)


@given(shift=st.tuples(st.floats(-0.03, 0.03), st.floats(-0.03, 0.03)))
def test_a_long_coil_round_a_tube_needs_its_shift_in_radius(shift):
    coil = LongCoil(**(AXIAL.coils.model_dump() | {"shift_y": shift[0], "shift_z": shift[1]}))
    play = 0.040 - 0.032 - math.hypot(*shift)
    assume(abs(play) > 1e-4)
    assert bool(list(coils_at_glass(AXIAL.envelope, coil))) == (play < 0)


def test_a_pair_across_a_tube():
    tube = Cylinder(x_from=-0.03, x_to=0.2, radius=0.02)
    pair = TUBE.coils.model_dump() | {"spacing": 0.073}
    assert not list(coils_at_glass(tube, CoilPair(**pair)))
    through = CoilPair(**(pair | {"spacing": 0.03}))
    # The windings, 8.5 to 21.5 mm to either side, meet the tube where it passes x = 116 to 128.
    assert "into it" in str(next(coils_at_glass(tube, through)))


@pytest.mark.parametrize(
    ("tilt_x", "tilt_y", "axis"),
    [
        (0, 0, (0, 0, 1)),
        (90, 0, (0, -1, 0)),  # a right-handed turn about x takes z to -y
        (0, 90, (1, 0, 0)),  # a right-handed turn about y takes z to x
        (90, 90, (0, -1, 0)),  # first about x, then about y, which leaves y alone
    ],
)
def test_the_axis_of_a_tilted_pair(tilt_x, tilt_y, axis):
    tilts = {"tilt_x": math.radians(tilt_x), "tilt_y": math.radians(tilt_y)}
    pair = CoilPair(**(TUBE.coils.model_dump() | tilts))
    assert pair_axis(pair) == pytest.approx(axis, abs=1e-15)
