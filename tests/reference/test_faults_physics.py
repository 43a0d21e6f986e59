"""What the faults do to the beam, against closed forms and the bench's own full computation.

Closed forms: the deflection of a parabola and of a circle, the field of a dipole and the charge of
conductors, as in any textbook of electromagnetism (D. J. Griffiths, "Introduction to
Electrodynamics", 4th ed., sections 2.5, 5.1.2 and 5.4.3; numbers of equations from memory, so none
are given).
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.constants import mu_0

from glowtrace.bench.checking import change
from glowtrace.bench.layout import bench_conductors
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.faults.condition import (
    Condition,
    Displacement,
    Magnet,
    condition_in_order,
    turn_room,
)
from glowtrace.faults.fault import Scene
from glowtrace.faults.library import FAULTS
from glowtrace.faults.moved_coils import displaced
from glowtrace.faults.tube import faulty_tube
from glowtrace.fields.earth import earth_flux_density
from glowtrace.fields.electrodes import solve_unit_potentials
from glowtrace.fields.interpolation import fields_at

BY_KEY = {fault.key: fault for fault in FAULTS}
TUBE = Settings(accelerating_voltage=3000.0, plate_voltage=600.0, coil_current=0.05)
BULB = Settings(accelerating_voltage=200.0, coil_current=1.5)
AXIAL = Settings(accelerating_voltage=500.0, coil_current=0.3)


@pytest.fixture(scope="module")
def tube(deflection_tube):
    return faulty_tube(deflection_tube)


@pytest.fixture(scope="module")
def bulb(fine_beam_bulb):
    return faulty_tube(fine_beam_bulb)


@pytest.fixture(scope="module")
def axial(axial_coil_tube):
    return faulty_tube(axial_coil_tube)


def in_order(tube, settings) -> Condition:
    return condition_in_order(tube.bench, settings, np.zeros(3))


def with_fault(tube, settings, key, seed=0) -> Condition:
    scene = Scene(tube.bench, settings, tube.induced)
    change = BY_KEY[key].draw(scene, np.random.default_rng(seed))
    return change(in_order(tube, settings))


@pytest.mark.parametrize(("which", "settings"), [("tube", TUBE), ("bulb", BULB), ("axial", AXIAL)])
def test_a_tube_in_order_looks_like_the_full_picture(which, settings, request):
    """The full picture has a finer map, a smaller tolerance and many more electrons."""
    tube = request.getfixturevalue(which)
    seen = tube.appearance(in_order(tube, settings), settings)
    trace = tube.prepared.picture(settings, electrons=20_000).mean_trace
    full = np.stack([trace.u, trace.v], axis=1)
    distance = np.linalg.norm(seen.line[:, None] - full[None], axis=2).min(axis=1)
    assert seen.is_lit
    assert np.median(distance) < 0.3e-3
    assert distance.max() < 1.5e-3


def lift(tube, condition, settings) -> float:
    return tube.appearance(condition, settings).lift


def test_one_dead_coil_of_a_pair_bends_half_as_far(tube):
    """The pair's field is the sum of two equal ones, and a weak bend is proportional to it.

    The sheet stands askew: where the line is read the electrons fly 4 mm nearer to one coil, whose
    share is so much larger than a half; both shares together are the whole.
    """
    settings = Settings(accelerating_voltage=3000.0, coil_current=0.1)
    usual = in_order(tube, settings)
    whole = lift(tube, usual, settings)
    tail = lift(tube, replace(usual, coils=(0.1, 0.0)), settings)
    tip = lift(tube, replace(usual, coils=(0.0, 0.1)), settings)
    assert whole > 5e-3
    assert tail + tip == pytest.approx(whole, rel=0.01)
    assert tail / whole == pytest.approx(0.5, abs=0.05)
    dead = with_fault(tube, settings, "one coil dead")
    assert sorted(dead.coils) == [0.0, 0.1]


def test_opposing_coils_bend_the_beam_hardly_at_all(tube):
    """In the middle plane their fields cancel; 4 mm beside it a twentieth is left."""
    settings = Settings(accelerating_voltage=3000.0, coil_current=0.1)
    whole = lift(tube, in_order(tube, settings), settings)
    opposing = with_fault(tube, settings, "coils opposing")
    assert abs(lift(tube, opposing, settings)) < 0.1 * whole
    _, flux, _ = fields_at(tube.field(opposing), np.array([[0.05, 0.01, 0.0]]))
    assert abs(flux[0, 2]) < 1e-9


def test_swapped_leads_give_the_mirror_image(tube):
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=600.0)
    right = lift(tube, in_order(tube, settings), settings)
    wrong = lift(tube, with_fault(tube, settings, "plates swapped"), settings)
    assert wrong == pytest.approx(-right, abs=0.2e-3)


def test_a_sagging_supply_shrinks_the_circle_as_the_root_of_its_voltage(bulb):
    """r = sqrt(2 m V / e) / B; at 200 V relativity adds 1e-4."""
    condition = with_fault(bulb, BULB, "supply sagging", seed=4)
    part = condition.accelerating_voltage / BULB.accelerating_voltage
    assert 0.3 < part < 0.9

    def diameter(given: Condition) -> float:
        line = bulb.appearance(given, BULB).line
        return float(line[:, 1].max() - line[:, 1].min())

    ratio = diameter(condition) / diameter(in_order(bulb, BULB))
    assert ratio == pytest.approx(math.sqrt(part), rel=0.03)


def test_a_floating_plate_carries_no_charge(tube):
    """Checked with a finer mesh than the one that the potential was found with."""
    from_lower, from_upper = tube.induced
    assert from_lower == pytest.approx(from_upper, rel=1e-6)  # the bench is symmetric
    assert 0.0 < from_lower < 1.0
    finer = solve_unit_potentials(bench_conductors(tube.bench, 1.2))
    upper, lower = finer.names.index("upper plate"), finer.names.index("lower plate")
    potentials = np.zeros(3)
    potentials[lower], potentials[upper] = 1.0, from_lower
    charge = finer.capacitance @ potentials
    assert abs(charge[upper]) < 5e-3 * abs(charge[lower])


def test_a_magnet_has_the_field_of_a_dipole(tube):
    """On its axis B = mu_0 m / (2 pi r^3), beside it half as large and the other way."""
    moment, away = 2.0, 0.25
    middle = np.array([tube.middle])
    settings = Settings(accelerating_voltage=3000.0)
    for place, expected in (
        ((0.0, 0.0, -away), mu_0 * moment / (2 * math.pi * away**3)),
        ((0.0, -away, 0.0), -mu_0 * moment / (4 * math.pi * away**3)),
    ):
        magnet = Magnet(place, (0.0, 0.0, moment))
        condition = replace(in_order(tube, settings), magnet=magnet)
        _, flux, _ = fields_at(tube.field(condition), middle)
        assert flux[0] == pytest.approx([0.0, 0.0, expected], abs=2e-3 * abs(expected))


def test_a_magnet_bends_the_line_as_its_field_says(tube):
    """A weak uniform B lifts a path of length s by s^2 e B / (2 p)."""
    settings = Settings(accelerating_voltage=3000.0)
    flux = 1e-4
    condition = replace(in_order(tube, settings), room_flux=(0.0, 0.0, flux))
    momentum = math.sqrt(2 * 510_998.95 * 3000.0 + 3000.0**2) / 299_792_458.0  # p/e in T m
    seen = tube.appearance(condition, settings)
    x = seen.line[0, 0] + tube.reach  # read so far from the first place that is seen
    assert seen.lift == pytest.approx(x**2 * flux / (2 * momentum), rel=0.02)


@pytest.mark.parametrize("heading", [0.0, 1.0, 4.0])
def test_a_turned_tube_sees_earth_from_its_new_heading(heading):
    """A turn about the upward axis by the right-hand rule lessens the compass bearing."""
    place = (math.radians(50.0), math.radians(10.0), 200.0)
    day = date(2026, 1, 1)
    before = earth_flux_density(*place, day, heading)
    after = earth_flux_density(*place, day, heading - math.pi / 2)
    assert turn_room(tuple(before.tolist()), math.pi / 2) == pytest.approx(after, abs=1e-12)


def test_coils_out_of_place_keep_their_distance_and_stay_out_of_the_glass(tube):
    moved = displaced(tube.windings, Displacement(0.2, -0.3, (0.01, 0.0, 0.02)))
    gap = np.linalg.norm(np.subtract(moved[0].centre, moved[1].centre))
    assert gap == pytest.approx(tube.bench.coils.spacing)
    assert moved[0].axis == pytest.approx(moved[1].axis)
    far = Displacement(0.0, 0.0, (0.0, 0.03, 0.0))  # would stand in the bulb
    condition = replace(in_order(tube, TUBE), displacement=far)
    assert math.isfinite(lift(tube, condition, TUBE))


@pytest.mark.parametrize("key", ["heater cold", "no high tension", "high tension reversed"])
def test_without_electrons_it_is_dark(tube, key):
    seen = tube.appearance(with_fault(tube, TUBE, key), TUBE)
    assert not seen.is_lit
    assert seen.filament == (0.0 if key == "heater cold" else 1.0)


def test_a_plate_at_the_cathode_throws_the_beam_to_the_other_plate(tube):
    """At -V_a it stands 3 kV below the anode: far more than any plate voltage here."""
    condition = replace(in_order(tube, TUBE), plates=(-3000.0, -300.0))
    seen = tube.appearance(condition, TUBE)
    usual = tube.appearance(in_order(tube, TUBE), TUBE)
    assert seen.lift < -2.0 * usual.lift


def test_a_coil_that_hugs_the_glass_is_diagnosed_too():
    """The bench's grid has its first cells beyond the glass inside such a coil."""
    bench = change(ready_made("axial coil tube"), {"coils.mean_radius": 0.0355})
    own = faulty_tube(prepare(bench))
    none = replace(in_order(own, AXIAL), coils=(0.0, 0.0))
    focused = own.appearance(in_order(own, AXIAL), AXIAL)
    # A long coil turns the spread beam together again: the spot is smaller than without it.
    assert focused.width < own.appearance(none, AXIAL).width
