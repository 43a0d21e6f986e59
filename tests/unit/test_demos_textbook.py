"""The textbook's trace, region by region, against the closed forms of each region."""

import datetime
import math
from typing import Any

import magpylib
import numpy as np
import pytest

from glowtrace.bench.ideal import IdealFields, ideal_fields
from glowtrace.bench.model import (
    Bench,
    CoilPair,
    Cylinder,
    EndFace,
    GasGlow,
    Gun,
    LongCoil,
    Place,
    Plates,
    Sheet,
    Sphere,
    Supplies,
    Supply,
)
from glowtrace.bench.settings import Settings
from glowtrace.demos.circle import arc_height, gyration_frequency, gyration_radius
from glowtrace.demos.flight import fly
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.parabola import height_beyond_plates, parabola_height
from glowtrace.demos.textbook import Textbook, textbook_trace
from glowtrace.demos.uniform_field import uniform_field_motion
from glowtrace.demos.walls import glass, plate_box
from glowtrace.errors import GlowtraceError

LENGTH, GAP, START = 0.08, 0.05, 0.01
SHEET = Sheet(x_from=0.01, x_to=0.105, height=0.045, z_from=-0.005, z_to=0.005, grid_pitch=0.01)
BULB = Sphere(centre=(0.05, 0.0, 0.0), radius=0.066)
PLATES = Plates(length=LENGTH, width=0.05, gap=GAP, start=START, max_voltage=5e3)
PAIR = CoilPair(
    mean_radius=0.15, turns=300, winding_width=0.01, winding_depth=0.01, spacing=0.15,
    centre=(0.05, 0.0, 0.0), resistance=10.0, max_current=3.0,
)  # fmt: skip
TESLA_PER_AMPERE = 0.8**1.5 * 4e-7 * math.pi * 300 / 0.15

GLOW = GasGlow(x_from=-0.08, x_to=0.08, y_from=-0.05, y_to=0.125, grid_pitch=0.01)
ROUND_BULB = Sphere(centre=(0.0, 0.045, 0.0), radius=0.085)
FACE = EndFace(x=0.2, width=0.04, height=0.04, grid_pitch=0.01)
TUBE = Cylinder(x_from=-0.03, x_to=0.203, radius=0.03)
LONG_COIL = LongCoil(
    mean_radius=0.04, turns=1800, x_from=-0.04, x_to=0.24, winding_depth=0.005,
    resistance=20.0, max_current=1.5,
)  # fmt: skip


def bench(anode_radius: float = 0.015, **parts: Any) -> Bench:
    """Give a bench with a sheet in a bulb, unless told otherwise."""
    gun = Gun(
        aperture_shape="slit", aperture_height=1e-3, aperture_width=1e-2,
        anode_radius=anode_radius, divergence_vertical=0.0,
        divergence_sideways=0.0, cathode_temperature=1100.0, heater_voltage=6.3,
        heater_current=1.0, beam_current=1e-4, max_accelerating_voltage=5e3,
        min_accelerating_voltage=100.0,
    )  # fmt: skip
    place = Place(latitude=0.9, longitude=0.2, date=datetime.date(2026, 1, 1), heading=0.0)
    supply = Supply(max_voltage=5e3, max_current=2e-3)
    whole: dict[str, Any] = {"screen": SHEET, "envelope": BULB} | parts
    supplies = Supplies(
        accelerating=supply,
        plates=supply if "plates" in parts else None,
        coils=supply if "coils" in parts else None,
    )
    return Bench(name="bench of the tests", gun=gun, supplies=supplies, place=place, **whole)


def bulb(**parts: Any) -> Bench:
    """Give a bench with a gas glow in a bulb, and a coil pair."""
    whole: dict[str, Any] = {"screen": GLOW, "envelope": ROUND_BULB, "coils": PAIR} | parts
    return bench(**whole)


def tube(**parts: Any) -> Bench:
    """Give a bench with a face at the end of a tube."""
    return bench(screen=FACE, envelope=TUBE, **parts)


def from_the_slit(stand: Bench, **parts: Any) -> Bench:
    """Let plates, and what is given, begin in the slit: a textbook may, a real bench may not."""
    plates = stand.plates.model_copy(update={"start": 0.0})
    return stand.model_copy(update={"plates": plates} | parts)


def trace(stand: Bench, voltage: float = 3e3, samples: int = 200, **knobs: Any) -> Textbook:
    return textbook_trace(stand, Settings(accelerating_voltage=voltage, **knobs), samples)


SPEED = float(speed_from_voltage(3e3))


def test_plates_alone_give_the_parabola_and_its_tangent() -> None:
    found = trace(bench(plates=PLATES), plate_voltage=1000.0)
    assert found.regime == "parabola"
    assert found.end == "end of the screen"
    x, y, z = found.positions.T
    assert x[[0, -1]] == pytest.approx([0.01, 0.105], abs=1e-12)
    expected = height_beyond_plates(x - START, LENGTH, SPEED, -1000.0 / GAP)
    assert y == pytest.approx(expected, abs=1e-12)
    assert y[-1] > 0.01
    assert np.all(z == 0)
    assert found.electric_field == -1000.0 / GAP
    assert (found.radius, found.drift_speed, found.force_ratio) == (None, None, None)


def test_beam_bends_towards_the_positive_plate() -> None:
    # Common practice, no source.
    stand = bench(plates=PLATES)
    assert trace(stand, plate_voltage=300.0).v[-1] > 0
    assert trace(stand, plate_voltage=300.0, plate_reversed=True).v[-1] < 0


def test_picture_of_a_sheet_is_longer_than_its_shadow() -> None:
    found = trace(bench(plates=PLATES), plate_voltage=1000.0)
    assert found.u == pytest.approx(found.positions[:, 0] * math.hypot(1, 0.01 / 0.095))
    assert np.array_equal(found.v, found.positions[:, 1])
    assert len(found.u) == 200


def test_reversing_switches_mirror_the_trace() -> None:
    stand = bench(plates=PLATES, coils=PAIR)
    there = trace(stand, plate_voltage=500.0, coil_current=0.1, coil_reversed=True)
    back = trace(stand, plate_voltage=500.0, plate_reversed=True, coil_current=0.1)
    assert abs(there.v[-1]) > 1e-3
    assert back.v == pytest.approx(-there.v, abs=1e-13)
    assert back.regime == there.regime


def test_coils_alone_give_the_arc() -> None:
    found = trace(bench(coils=PAIR), coil_current=0.2)
    assert found.regime == "arc"
    assert found.flux_density == pytest.approx(0.2 * TESLA_PER_AMPERE)
    assert found.radius == pytest.approx(gyration_radius(SPEED, found.flux_density))
    expected = arc_height(found.positions[:, 0], SPEED, found.flux_density)
    assert found.v == pytest.approx(expected, abs=1e-12)
    assert found.v[-1] > 0.01


def test_plate_is_hit_exactly_on_its_surface() -> None:
    low = GLOW.model_copy(update={"y_from": -0.04})
    stand = bench(screen=low, envelope=BULB, plates=PLATES)
    found = trace(stand, plate_voltage=5000.0)
    assert found.end == "upper plate"
    assert found.positions[-1, 1] == pytest.approx(GAP / 2, abs=1e-12)
    hit = found.positions[-1, 0] - START
    assert parabola_height(hit, SPEED, -5000.0 / GAP) == pytest.approx(GAP / 2, abs=1e-12)
    assert trace(stand, plate_voltage=5e3, plate_reversed=True).end == "lower plate"


def test_null_between_plates_that_fill_the_picture() -> None:
    sheet = SHEET.model_copy(update={"x_from": 0.0, "x_to": LENGTH})
    stand = from_the_slit(bench(plates=PLATES, coils=PAIR), screen=sheet)
    voltage = trace(stand, coil_current=0.15).null_plate_voltage
    assert voltage is not None
    assert voltage < 0  # the coils push up
    found = trace(stand, coil_current=0.15, plate_voltage=-voltage, plate_reversed=True)
    assert found.regime == "null"
    assert found.force_ratio == pytest.approx(1)
    assert found.drift_speed == pytest.approx(found.speed)
    assert found.v == pytest.approx(0, abs=1e-12)
    assert found.null_coil_current == pytest.approx(0.15)


def test_without_plates_or_coils_there_is_no_null() -> None:
    straight = trace(bench())
    assert straight.regime == "straight"
    assert straight.v == pytest.approx(0, abs=0)
    assert straight.null_plate_voltage is None
    assert straight.null_coil_current is None
    opposing = PAIR.model_copy(update={"sense": "opposing"})
    found = trace(bench(plates=PLATES, coils=opposing), plate_voltage=200.0, coil_current=1.0)
    assert found.flux_density == 0
    assert found.regime == "parabola"
    assert found.null_coil_current is None


def test_dip_and_return_between_long_plates() -> None:
    # Common practice, no source: beyond the null the beam dips, turns and comes back.
    stand = bench(
        plates=Plates(length=0.3, width=0.05, gap=0.1, start=0.01, max_voltage=5e3),
        coils=PAIR.model_copy(update={"mean_radius": 0.3, "spacing": 0.3, "turns": 600}),
        envelope=Sphere(centre=(0.15, 0.0, 0.0), radius=0.2),
    )
    sheet = SHEET.model_copy(update={"x_from": 0.0, "x_to": 0.3, "height": 0.09})
    stand = from_the_slit(stand, screen=sheet)
    found = trace(stand, 1e3, 400, plate_voltage=2.6e3, coil_current=1.04, coil_reversed=True)
    assert found.regime == "forward trochoid"
    assert found.force_ratio is not None
    assert 0.5 < found.force_ratio < 1
    assert found.trochoid is not None
    assert found.v.min() == pytest.approx(found.trochoid.depth, rel=1e-3)
    assert found.trochoid.pitch < 0.3
    back = np.interp(found.trochoid.pitch, found.positions[:, 0], found.v)
    assert back == pytest.approx(0, abs=1e-5)
    loops = trace(stand, 1e3, 400, plate_voltage=2.6e3, coil_current=2.4, coil_reversed=True)
    assert loops.regime == "looping trochoid"
    assert loops.trochoid is not None
    assert loops.trochoid.far_point_speed < 0
    assert np.diff(loops.u).min() < 0


def test_turning_back_out_of_the_plates() -> None:
    # A strong coil field turns the beam round between the plates and out at their near edge; it
    # goes on in the magnetic field alone, round a circle of the speed that it has there.
    near = Plates(length=0.03, width=0.02, gap=0.05, start=0.005, max_voltage=500.0)
    found = trace(bulb(plates=near), 200.0, 400, plate_voltage=100.0, coil_current=2.6)
    assert found.end == "anode"  # round behind it
    x, y, _ = found.positions.T
    turn = x.argmax()
    assert 0.005 < x[turn] < 0.035
    outside = found.positions[turn:][x[turn:] < 0.005][:, :2]
    first, middle, last = outside[0], outside[len(outside) // 2], outside[-1]
    edges = [np.linalg.norm(a - b) for a, b in ((first, middle), (middle, last), (last, first))]
    (ax, ay), (bx, by) = middle - first, last - first
    # Radius of the circle through three points: product of the edges over four times the area.
    circle = math.prod(edges) / (2 * abs(ax * by - ay * bx))
    entry = arc_height(np.array([0.005]), found.speed, found.flux_density)[0]
    rise = np.interp(-0.005, -x[turn:], y[turn:]) - entry
    speed_outside = float(speed_from_voltage(200.0 + 100.0 / 0.05 * rise))
    assert speed_outside > 1.02 * found.speed
    assert circle == pytest.approx(gyration_radius(speed_outside, found.flux_density), rel=1e-4)


def test_circle_comes_back_to_the_gun() -> None:
    found = trace(bulb(), 200.0, coil_current=0.65)
    assert found.end == "anode"
    assert found.positions[-1] == pytest.approx(np.zeros(3), abs=1e-12)
    assert found.radius is not None
    assert found.v.max() == pytest.approx(2 * found.radius, rel=1e-3)
    assert found.u.min() == pytest.approx(-found.radius, rel=1e-3)


def test_half_circle_ends_on_a_wide_anode() -> None:
    found = trace(bulb(anode_radius=0.03), 200.0, coil_current=2.5)
    assert found.end == "anode"
    assert found.radius is not None
    assert found.positions[-1] == pytest.approx([0, 2 * found.radius, 0], abs=1e-12)


def test_circle_round_a_small_anode_ends_on_it_from_behind() -> None:
    found = trace(bulb(anode_radius=0.01), 200.0, coil_current=0.65)
    assert found.end == "anode"
    assert found.radius is not None
    assert 2 * found.radius > 0.01
    assert found.positions[-1] == pytest.approx([0, 0, 0], abs=1e-9)
    distances = np.linalg.norm(found.positions[:, :2] - [0, found.radius], axis=1)
    assert distances == pytest.approx(found.radius, rel=1e-9)


def test_glass_stops_the_beam_on_its_surface() -> None:
    found = trace(bulb(), coil_current=0.01)
    assert found.end == "glass"
    from_centre = np.linalg.norm(found.positions[-1] - ROUND_BULB.centre)
    assert from_centre == pytest.approx(0.085, abs=1e-12)
    turned = trace(tube(coils=PAIR), coil_current=1.0)
    assert turned.end == "glass"
    assert turned.positions[-1, 1] == pytest.approx(0.03, abs=1e-12)


def test_beam_that_never_comes_into_the_picture() -> None:
    behind = SHEET.model_copy(update={"x_from": 0.092})
    found = trace(bench(plates=PLATES, screen=behind), plate_voltage=5e3)
    assert found.end == "upper plate"
    assert found.positions.shape == (0, 3)
    assert found.u.shape == found.v.shape == (0,)


def test_end_face_shows_the_path_as_seen_from_the_end() -> None:
    short = Plates(length=0.02, width=0.02, gap=0.02, start=0.01, max_voltage=100.0)
    stand = from_the_slit(tube(plates=short, coils=LONG_COIL))
    found = trace(stand, 500.0, plate_voltage=10.0, coil_current=0.2)
    assert found.regime == "helix"
    assert found.end == "screen"
    x, y, z = found.positions.T
    assert x[[0, -1]] == pytest.approx([0, 0.2], abs=1e-12)
    assert np.array_equal(found.u, z)
    assert np.array_equal(found.v, y)
    # Behind the plates the electron winds round a field line.
    E, B = [0, found.electric_field, 0], [found.flux_density, 0, 0]
    tau = 0.02 / (found.speed * found.lorentz_factor)
    leaving = uniform_field_motion(E, B, [0] * 3, [found.speed, 0, 0], tau)
    v_y, v_z = leaving.velocity[0, 1:]
    rate = gyration_frequency(found.flux_density, found.speed)
    # e v x B points to the centre, at |v| / rate: with B along x, -v x B is (0, -v_z, v_y) B.
    centre = leaving.position[0, 1:] + np.array([-v_z, v_y]) / rate
    off_line = np.linalg.norm(found.positions[x > 0.02][:, 1:] - centre, axis=1)
    assert off_line == pytest.approx(math.hypot(v_y, v_z) / rate, rel=1e-3)


def test_focus_current_brings_a_slanting_ray_back_to_the_axis() -> None:
    found = trace(tube(coils=LONG_COIL), 500.0, coil_current=0.3)
    assert found.regime == "straight"
    assert found.focus_coil_current is not None
    B = found.flux_density * found.focus_coil_current / 0.3
    slant = found.speed * np.array([math.cos(0.02), math.sin(0.02), 0])
    arrival = 0.2 / (found.speed * found.lorentz_factor * math.cos(0.02))
    tau = np.linspace(0, arrival, 101)
    ray = uniform_field_motion([0] * 3, [B, 0, 0], [0] * 3, slant, tau).position
    off_axis = np.linalg.norm(ray[:, 1:], axis=1)
    assert ray[-1, 0] == pytest.approx(0.2)
    assert off_axis[-1] < 1e-3 * off_axis.max()
    assert trace(tube(coils=PAIR)).focus_coil_current is None


def test_settings_that_make_no_beam_are_refused() -> None:
    with pytest.raises(GlowtraceError, match=r"accelerating voltage: 0.0 V .* more than 0 V"):
        trace(bench(), 0.0)
    with pytest.raises(GlowtraceError, match=r"samples: 1 .* 2 or more"):
        trace(bench(), samples=1)


def test_potential_of_the_plates_makes_no_difference_to_a_textbook() -> None:
    stand = bench(plates=PLATES)
    tied = trace(stand, plate_voltage=1000.0, plate_tie="lower at anode")
    assert np.array_equal(tied.v, trace(stand, plate_voltage=1000.0).v)


# ------------------------------------------------------------ ideal fields


def test_pair_and_long_coil_against_a_magnetostatics_library() -> None:
    # magpylib knows only current loops here: two for the pair, one for each turn of the long coil.
    settings = Settings(accelerating_voltage=500.0, coil_current=2.0)
    wide = PAIR.model_copy(update={"spacing": 0.2})
    for pair in (PAIR, wide):
        loops = [
            magpylib.current.Circle(
                current=600.0, diameter=0.3, position=(0, 0, side * pair.spacing / 2)
            )
            for side in (-1, 1)
        ]
        expected = magpylib.getB(loops, (0, 0, 0), sumup=True)
        found = ideal_fields(bench(coils=pair), settings).flux_density
        assert found == pytest.approx(tuple(expected), rel=1e-9)
    turns = [
        magpylib.current.Circle(current=2.0, diameter=0.08, position=(0, 0, z))
        for z in (np.arange(1800) + 0.5) * (0.28 / 1800) - 0.14
    ]
    expected = magpylib.getB(turns, (0, 0, 0), sumup=True)
    found = ideal_fields(tube(coils=LONG_COIL), settings).flux_density
    assert found == pytest.approx((expected[2], 0, 0), rel=1e-6)


def test_ideal_fields_of_plates_and_of_nothing() -> None:
    shifted = PLATES.model_copy(update={"height_offset": 0.01})
    sheet = SHEET.model_copy(update={"height": 0.025})
    settings = Settings(accelerating_voltage=3e3, plate_voltage=500.0)
    fields = ideal_fields(bench(plates=shifted, screen=sheet), settings)
    assert fields.electric_field == (0.0, -500.0 / GAP, 0.0)
    assert (fields.x_from, fields.x_to) == (START, START + LENGTH)
    assert (fields.y_from, fields.y_to) == pytest.approx((0.01 - GAP / 2, 0.01 + GAP / 2))
    assert fields.flux_density == (0, 0, 0)
    bare = ideal_fields(bench(), settings)
    assert bare.electric_field == (0, 0, 0)
    assert (bare.x_from, bare.x_to) == (0, 0)


# ------------------------------------------------------------ flights and walls


def straight_flight(start: list[float], to: list[float]) -> tuple[str, list[float]]:
    """Fly straight past a box of plates in a bulb: the end, and where."""
    box = IdealFields((0.0, 0.0, 0.0), 0.01, 0.09, -0.025, 0.025, (0.0, 0.0, 0.0))
    surfaces = (plate_box(box), glass(Sphere(centre=(0.05, 0.0, 0.0), radius=0.1)))
    velocity = 1e7 * np.array(to) / np.linalg.norm(to)
    nothing = (np.zeros(3), np.zeros(3))
    flight = fly(np.array(start), velocity, surfaces, lambda is_over: nothing)
    return flight.end, list(flight.positions(2)[-1])


def test_plates_are_met_from_outside_too() -> None:
    end, place = straight_flight([0.0, 0.07, 0.0], [1, -1, 0])
    assert (end, place) == ("upper plate", pytest.approx([0.045, 0.025, 0]))
    end, place = straight_flight([0.0, -0.07, 0.0], [1, 1, 0])
    assert (end, place) == ("lower plate", pytest.approx([0.045, -0.025, 0]))


def test_ends_of_the_plates_let_the_beam_pass() -> None:
    end, place = straight_flight([0.0, 0.01, 0.0], [1, 0, 0])
    beyond = 0.05 + math.sqrt(0.1**2 - 0.01**2)
    assert (end, place) == ("glass", pytest.approx([beyond, 0.01, 0]))
    end, place = straight_flight([0.0, 0.01, 0.0], [1, 0.5, 0])
    assert (end, place) == ("upper plate", pytest.approx([0.03, 0.025, 0]))


def test_grazing_a_corner_ends_well() -> None:
    # Between its points a millimetre apart the path cuts off the box's near upper corner.
    for cut in np.linspace(0.05e-3, 0.95e-3, 60):
        end, place = straight_flight([-0.02, 0.025 - 0.03 - cut, 0.0], [1, 1, 0])
        assert end in {"upper plate", "glass"}
        if end == "upper plate":
            assert place == pytest.approx([0.01 + cut, 0.025, 0], abs=1e-12)
    end, _ = straight_flight([-0.02, 0.025 - 0.03 - 2e-3, 0.0], [1, 1, 0])
    assert end == "upper plate"
