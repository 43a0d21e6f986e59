"""What circles, spots and lines look like under a fault, and what is concluded from it.

Closed forms: the circle r = m v / (e B) and the helix of a beam that is not square to the field, of
pitch 2 pi r tan(angle) (J. D. Jackson, "Classical Electrodynamics", 3rd ed., section 12.2; number
from memory); the circuits of coils in series and in parallel, of any textbook.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import Classifier
from glowtrace.faults import Seen, Sighting, next_checks, prepare_suspects, rank, update
from glowtrace.faults.circles import circles
from glowtrace.faults.condition import Displacement, condition_in_order
from glowtrace.faults.looks import stacked
from glowtrace.faults.tube import faulty_tube

BULB = Settings(accelerating_voltage=210.0, coil_current=1.6)
SPOT = Settings(accelerating_voltage=500.0, coil_current=0.3)
BENT = Settings(accelerating_voltage=3000.0, coil_current=0.2)
NULL = Settings(accelerating_voltage=3000.0, plate_voltage=900.0, coil_current=0.1)


@pytest.fixture(scope="module")
def bulb(fine_beam_bulb):
    return faulty_tube(fine_beam_bulb)


@pytest.fixture(scope="module")
def bulb_suspects(fine_beam_bulb):
    return prepare_suspects(fine_beam_bulb, BULB, draws=8)


@pytest.fixture(scope="module")
def spot_suspects(axial_coil_tube):
    return prepare_suspects(axial_coil_tube, SPOT, draws=12)


@pytest.fixture(scope="module")
def bent_suspects(deflection_tube):
    return prepare_suspects(deflection_tube, BENT, draws=8)


def in_order(tube, settings):
    return condition_in_order(tube.bench, settings, np.zeros(3))


def first(ranking, count=1):
    return [row.fault.key for row in ranking.standings[:count]]


def likely(suspects, key):
    """Give the statements that hold for most sizes of a fault."""
    looks, usual = suspects.suspect(key).looks, suspects.usual
    return {one.key for one in suspects.statements if one.holds(looks, usual).mean() > 0.6}


def test_a_circle_is_found_from_an_arc_and_a_straight_line_has_none_that_is_small():
    angle = np.linspace(-0.4, 2.0, 24)
    arc = np.stack([0.01 + 0.04 * np.cos(angle), -0.02 + 0.04 * np.sin(angle)], axis=1)
    line = np.stack([np.linspace(0.0, 0.1, 24), np.full(24, 0.003)], axis=1)
    found = circles(np.stack([arc, line, np.full((24, 2), np.nan)]))
    assert found.centre[0] == pytest.approx([0.01, -0.02], abs=1e-9)
    assert found.radius[0] == pytest.approx(0.04, abs=1e-9)
    assert found.stray[0] < 1e-9
    assert found.radius[1] > 10.0
    assert np.isnan(found.radius[2])


def test_half_the_field_doubles_the_circle(bulb):
    """Coils in parallel carry half of the current each: r goes as 1 / B."""
    usual = in_order(bulb, BULB)
    half = replace(usual, coils=(0.5 * usual.coils[0], 0.5 * usual.coils[1]))
    looks = stacked([bulb.appearance(each, BULB) for each in (usual, half)])
    assert looks.circle.radius[1] / looks.circle.radius[0] == pytest.approx(2.0, rel=0.02)
    assert looks.one(0).kind == "full circle"
    assert looks.one(1).kind == "hits the glass"


def test_a_turned_bulb_makes_a_helix_of_the_closed_form(bulb):
    """Once round it goes aside by about a pitch; what the circle is short of, or the glass cuts
    off, leaves half of it."""
    angle = math.radians(12.0)
    turned = replace(in_order(bulb, BULB), displacement=Displacement(tilt_y=angle))
    seen = bulb.appearance(turned, BULB)
    usual = bulb.appearance(in_order(bulb, BULB), BULB)
    radius = float(stacked([usual]).circle.radius[0])
    pitch = 2.0 * math.pi * radius * math.sin(angle)
    turns = max(1.0, bulb.prepared.longest / (2.0 * math.pi * radius))
    assert usual.aside < 1e-3
    assert 0.4 * pitch < seen.aside < 1.1 * pitch * turns


@pytest.mark.parametrize("settings", [NULL, BENT])
def test_a_kind_is_that_of_the_one_classification(deflection_tube, settings):
    tube = faulty_tube(deflection_tube)
    picture = deflection_tube.picture(settings, electrons=2000)
    expected = Classifier(deflection_tube).of_picture(picture)
    assert tube.appearance(in_order(tube, settings), settings).kind == expected


def test_what_a_fine_beam_bulb_shows_can_be_said(bulb_suspects):
    offered = {one.key for one in bulb_suspects.statements}
    assert {Seen.BENDS_MORE, Seen.BENDS_LESS, Seen.NOT_CLOSED, Seen.HELIX,
            Seen.OFF_CENTRE} <= offered  # fmt: skip
    assert {Seen.BENDS_LESS, Seen.NOT_CLOSED} <= likely(bulb_suspects, "coils parallel")
    assert Seen.BENDS_MORE in likely(bulb_suspects, "supply sagging")
    assert Seen.HELIX in likely(bulb_suspects, "bulb turned")


def test_a_helix_leads_to_a_bulb_that_is_turned(bulb_suspects):
    ranking = rank(bulb_suspects, Sighting(seen=(Seen.HELIX,)))
    assert "bulb turned" in first(ranking, 2)
    found = next(row.fault for row in ranking.standings if row.fault.key == "bulb turned")
    assert "turn the tube a little in its holder" in found.remedy


def test_a_filament_without_a_beam_leads_to_the_control_electrode(bulb_suspects):
    """The meter shows the voltage: what is left is what a look at the supply cannot tell."""
    seen = Sighting((Seen.ONLY_FILAMENT,), (Seen.TENSION_NONE, Seen.TENSION_LESS))
    ranking = rank(bulb_suspects, seen)
    assert "control electrode" in first(ranking, 2)
    check = next_checks(ranking, 1)[0].check
    assert check.key == "control electrode"
    after = update(ranking, check.key, "the beam appears or brightens")
    assert first(after) == ["control electrode"]
    assert after.first.probability > 0.9


def test_a_spot_well_beside_its_place_is_not_called_in_order(spot_suspects):
    """A hand drags a spot to 1.3 mm each way (as a line's common offset): 5.6 mm are four of it."""
    beside = rank(spot_suspects, Sighting(line=((-5.0e-3, -2.5e-3),)))
    assert beside.first.fault.key != "in order"
    assert beside.probabilities["in order"] < 0.15
    there = rank(spot_suspects, Sighting(line=((0.5e-3, -0.5e-3),)))
    assert there.first.fault.key == "in order"


def test_a_smeared_spot_can_be_said(spot_suspects):
    assert {Seen.ELSEWHERE, Seen.SMEARED, Seen.ONLY_FILAMENT} <= {
        one.key for one in spot_suspects.statements
    }
    look = spot_suspects.usual["as set"]
    smeared = next(one for one in spot_suspects.statements if one.key == Seen.SMEARED)
    long = replace(look, stretch=np.array([3.0]), width=np.array([4e-3]))
    assert smeared.holds({"as set": long}, spot_suspects.usual)[0] > 0.95
    assert smeared.holds(spot_suspects.usual, spot_suspects.usual)[0] < 0.05


def test_the_compass_keeps_coils_in_parallel_first_with_plates_at_zero(bent_suspects):
    """Both coils work, each with half the current: a compass points the same way at both."""
    line = bent_suspects.suspect("coils parallel").looks["as set"].line[0, ::4]
    sketch = tuple((float(u), float(v)) for u, v in line)
    ranking = rank(bent_suspects, Sighting((Seen.UP, Seen.BENDS_LESS), line=sketch))
    assert set(first(ranking, 2)) == {"coils parallel", "one coil dead"}
    same = "same way at both coils, as the wiring list says"
    after = update(ranking, "compass at each coil", same)
    assert first(after) == ["coils parallel"]
    assert after.first.probability > 0.7
    assert "series" in after.first.fault.remedy


def test_a_dead_plate_supply_is_told_by_its_meter_and_has_its_own_remedy(deflection_tube):
    suspects = prepare_suspects(deflection_tube, NULL, draws=4)
    ranking = rank(suspects, Sighting(seen=(Seen.PLATES_STAY, Seen.PLATE_VOLTAGE_NONE)))
    assert first(ranking) == ["plate supply off"]
    assert ranking.first.probability > 0.8
    assert "switched on" in ranking.first.fault.remedy
    shown = rank(suspects, Sighting((Seen.PLATES_STAY,), (Seen.PLATE_VOLTAGE_NONE,)))
    assert first(shown) == ["plates joined"]


def test_coils_that_warm_up_let_the_picture_creep_and_their_meter_tells(
    deflection_tube, bent_suspects
):
    tube = faulty_tube(deflection_tube)
    usual = in_order(tube, BENT)
    warm = replace(usual, coils=(0.9 * usual.coils[0], 0.9 * usual.coils[1]), sag=0.1)
    # A flat arc rises as its current: a tenth less lifts it a tenth less.
    lift = tube.appearance(usual, BENT).lift
    assert tube.appearance(warm, BENT).creep == pytest.approx(0.1 * lift, rel=0.1)
    ranking = rank(bent_suspects, Sighting((Seen.CREEPS,)))
    assert set(first(ranking, 2)) == {"coils warming", "charged screen"}
    after = update(ranking, "coil meter", "coil meter shows less")
    assert first(after) == ["coils warming"]
    assert after.first.probability > 0.9
