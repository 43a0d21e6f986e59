"""Copper, heating and stray field of coils against published numbers and independent solutions.

Sources: annealed copper at 20 °C has 1.7241e-8 ohm m, 8890 kg/m^3 and 0.00393 /K (IEC 60028, from
memory); a round wire of 1 mm^2 therefore has 17.241 ohm/km (International Annealed Copper
Standard, from memory). A coil of known wire is measured by hand here. Time course: an independent
integration with scipy. Stray field: the magnetic dipole, mu_0 m / (2 pi r^3) on its axis (any text
on electrodynamics, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.constants import mu_0
from scipy.integrate import solve_ivp

from glowtrace.bench.checking import change
from glowtrace.bench.layout import bench_windings
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.safety.copper import coil_copper, resistance_at
from glowtrace.safety.heating import CoilHeating, coil_heating
from glowtrace.safety.stray_field import stray_field, stray_flux_density

TUBE = ready_made("deflection tube")
AXIAL = ready_made("axial coil tube")
ROOM = 293.15


def test_mass_and_section_of_a_coil_wound_from_1_square_millimetre_of_wire():
    # 200 turns in all of 1 m each: 200 m, 17.241 ohm/km -> 3.4482 ohm; 2e-4 m^3 -> 1.778 kg
    bench = change(
        TUBE,
        {"coils.mean_radius": 1 / (2 * math.pi), "coils.turns": 100, "coils.resistance": 3.4482,
         "coils.spacing": 0.16},
    )  # fmt: skip
    copper = coil_copper(bench)
    assert copper.wire_length == pytest.approx(200.0, rel=1e-9)
    assert copper.wire_section == pytest.approx(1e-6, rel=1e-6)
    assert copper.mass == pytest.approx(1.778, rel=1e-6)
    assert copper.heat_capacity == pytest.approx(684.5, rel=1e-4)
    # 100 turns of 1 mm^2 in a section of 13 mm by 11 mm
    assert copper.fill == pytest.approx(100 / 143, rel=1e-6)


def test_the_surface_of_a_flat_wide_coil_is_that_of_its_outside():
    # A long coil: cylinder 2 pi r l and two rings 2 pi R d (geometry).
    outside = 2 * math.pi * 0.046 * 0.283 + 2 * 2 * math.pi * 0.043 * 0.006
    assert coil_copper(AXIAL).surface == pytest.approx(outside, rel=1e-9)


@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0.0, 0.9214), (20.0, 1.0), (50.0, 1.1179), (75.0, 1.21615)]
)
def test_resistance_of_copper_with_temperature(celsius, ratio):
    # The factor 1 + 0.00393 (t - 20) of IEC 60028 (from memory), to the figures of the coefficient.
    assert resistance_at(1.0, celsius + 273.15) == pytest.approx(ratio, rel=1e-9)


@settings(max_examples=40)
@given(
    st.floats(0.05, 4.0), st.floats(0.5, 50.0), st.floats(20.0, 2000.0), st.floats(0.01, 2.0),
    st.floats(10.0, 3000.0),
)  # fmt: skip
def test_the_time_course_is_that_of_an_integration_step_by_step(
    current, resistance, capacity, loss, seconds
):
    # C dT/dt = I^2 R_20 (1 + 0.00393 (T - 293.15)) - L (T - T_room), integrated by scipy.
    heating = CoilHeating(current, resistance, capacity, loss, ROOM)
    after = heating.temperature_after(seconds)
    if after > 2000.0:
        return  # far beyond melting: of no use, and stiff for the integrator

    def rate(_, temperature):
        heat = current**2 * resistance * (1 + 0.00393 * (temperature - 293.15))
        return (heat - loss * (temperature - ROOM)) / capacity

    solution = solve_ivp(rate, (0.0, seconds), [ROOM], rtol=1e-9, atol=1e-8)
    assert after == pytest.approx(solution.y[0, -1], abs=1e-4, rel=1e-6)


@settings(max_examples=100)
@given(st.floats(0.1, 4.0), st.floats(0.5, 50.0), st.floats(0.01, 2.0), st.floats(300.0, 420.0))
def test_the_time_to_a_temperature_leads_to_that_temperature(current, resistance, loss, wanted):
    # No outside source: one function must undo the other.
    heating = CoilHeating(current, resistance, 300.0, loss, ROOM)
    time = heating.time_to(wanted)
    if math.isinf(time):
        assert heating.steady_temperature <= wanted * (1 + 1e-12)
        assert heating.temperature_after(1e7) <= wanted + 1e-6
    else:
        assert heating.temperature_after(time) == pytest.approx(wanted, abs=1e-5)


def test_a_cold_coil_warms_by_its_power_over_its_heat_capacity():
    # Calorimetry without loss: 2 A through 17.1 ohm are 68.4 W.
    heating = coil_heating(TUBE, 2.0, ROOM, heat_transfer=0.0)
    warmed = heating.temperature_after(1.0) - ROOM
    assert warmed == pytest.approx(68.4 / coil_copper(TUBE).heat_capacity, rel=1e-3)


def test_a_coil_settles_where_the_loss_carries_the_hot_power_away():
    # Balance of power: I^2 R(T) = h A (T - T_room).
    heating = coil_heating(TUBE, 0.8, ROOM)
    steady = heating.steady_temperature
    assert heating.power_at(steady) == pytest.approx(heating.loss * (steady - ROOM), rel=1e-9)
    assert heating.temperature_after(1e6) == pytest.approx(steady, rel=1e-9)


def test_a_current_that_outruns_the_loss_never_settles():
    heating = coil_heating(TUBE, 2.0, ROOM)
    assert heating.growth > 0
    assert math.isinf(heating.steady_temperature)
    assert math.isfinite(heating.time_to(378.15))
    assert heating.temperature_after(1e9) == math.inf


@pytest.mark.parametrize("name", ready_made_names())
def test_the_wire_of_the_ready_made_coils_fits_their_sections(name):
    # Round wires side by side fill at most pi/(2 sqrt 3) of a plane (geometry).
    assert 0.2 < coil_copper(ready_made(name)).fill < math.pi / (2 * math.sqrt(3))


def moment_per_ampere(bench):
    coils = bench.coils
    if coils.kind == "pair":
        return 2 * coils.turns * math.pi * (coils.mean_radius**2 + coils.winding_depth**2 / 12)
    return coils.turns * math.pi * (coils.mean_radius**2 + coils.winding_depth**2 / 12)


@pytest.mark.parametrize("name", ready_made_names())
def test_far_away_the_stray_field_is_that_of_a_dipole_on_its_axis(name):
    # Relative correction of order (size / r)^2: sizes up to 0.16 m at 10 m.
    bench = ready_made(name)
    distance = 10.0
    dipole = mu_0 * moment_per_ampere(bench) * 1.5 / (2 * math.pi * distance**3)
    assert stray_flux_density(bench, 1.5, [distance])[0] == pytest.approx(dipole, rel=2e-3)


def test_a_weak_level_is_reached_where_the_dipole_has_it():
    level = 1e-8
    stray = stray_field(TUBE, 1.0, level)
    dipole = (mu_0 * moment_per_ampere(TUBE) / (2 * math.pi * level)) ** (1 / 3)
    assert stray.reach == pytest.approx(dipole, rel=2e-3)
    assert stray.angle in (pytest.approx(0.0), pytest.approx(math.pi))


def test_opposing_coils_reach_less_far_than_aiding_ones():
    # Their dipoles cancel; a quadrupole falls off faster (any text, from memory).
    opposing = change(TUBE, {"coils.sense": "opposing"})
    far = [1.0, 2.0]
    near, doubled = stray_flux_density(opposing, 1.0, far)
    assert near < 0.4 * stray_flux_density(TUBE, 1.0, far)[0]
    assert near / doubled == pytest.approx(16.0, rel=0.05)


@pytest.mark.parametrize("current", [0.05, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("name", ready_made_names())
def test_beyond_its_reach_the_field_is_below_the_level_and_at_it_just_there(name, current):
    bench = ready_made(name)
    stray = stray_field(bench, current, 0.5e-3)
    beyond = np.linspace(1.001, 3.0, 50) * stray.reach
    assert stray_flux_density(bench, current, beyond).max() < 0.5e-3
    if not stray.stays_inside:
        there = stray_flux_density(bench, current, [stray.reach])[0]
        assert there == pytest.approx(0.5e-3, rel=1e-3)


@pytest.mark.parametrize("name", ready_made_names())
def test_a_magnetostatics_library_finds_no_stronger_field_beyond_the_reach(name):
    # magpylib, thin loops at the middle of the section; directions all around, not only in a plane.
    magpylib = pytest.importorskip("magpylib")
    bench = ready_made(name)
    loops = magpylib.Collection()
    for winding in bench_windings(bench):
        count = 1 if bench.coils.kind == "pair" else 200
        offsets = (np.arange(count) + 0.5) / count - 0.5
        for offset in offsets:
            turns = winding.turns / count
            loop = magpylib.current.Circle(current=turns, diameter=2 * winding.mean_radius)
            if abs(winding.axis[0]) > 0.5:
                loop.rotate_from_angax(90, "y")
            shift = offset * winding.axial_length * np.array(winding.axis) * (count > 1)
            loop.position = np.array(winding.centre) + shift
            loops.add(loop)
    stray = stray_field(bench, bench.coils.max_current, 0.5e-3)
    way = np.random.default_rng(1).normal(size=(400, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    middle = np.mean([w.centre for w in bench_windings(bench)], axis=0)

    def strongest(radius):
        field = loops.getB(middle + radius * way)
        return bench.coils.max_current * np.linalg.norm(field, axis=1).max()

    # 1 % for the section that thin loops leave out, and for the directions between those looked at
    assert strongest(1.01 * stray.reach) < 0.5e-3 * 1.01
    assert strongest(0.97 * stray.reach) > 0.5e-3


def test_no_current_reaches_nowhere():
    stray = stray_field(TUBE, 0.0, 0.5e-3)
    assert stray.stays_inside
    assert stray.reach == stray.nearest
