"""What the textbook leaves out, on the ready-made benches. Own computations unless a source is
named; sizes of effects are checked against estimates written out here."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import prepare
from glowtrace.constants import REST_ENERGY_VOLTS, SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.fields.earth import earth_flux_density
from glowtrace.measure.observing import Knobs, Viewing, evaluate, observe
from glowtrace.measure.systematics import systematics
from glowtrace.measure.tracer import Tracer, cone_angle
from glowtrace.measure.tube import nominal_tube


def effects(found):
    return {each.name: each for each in found.effects}


def test_circle_in_a_bulb(fine_beam_bulb):
    knobs = Knobs(200.0, coil_current=1.5)
    found = systematics(fine_beam_bulb, "circle", knobs, viewing=Viewing(0.01, 0.49))
    each = effects(found)
    # Classically 2 V / (B r)^2 is too small by V / (2 V_0) (momentum of a heavier electron);
    # Earth's field has by then changed B r by 2 %.
    assert each["relativity"].shift == pytest.approx(-200 / (2 * REST_ENERGY_VOLTS), rel=0.05)
    # Earth's part along z against the coils' field, twice: e/m goes with 1 / B^2.
    place = fine_beam_bulb.bench.place
    earth = earth_flux_density(
        place.latitude, place.longitude, place.altitude, place.date, place.heading
    )
    coils = nominal_tube(fine_beam_bulb.bench, "bench").coil_constant * 1.5
    assert each["Earth's field"].shift == pytest.approx(2 * earth[2] / coils, rel=0.15)
    # A scale 1 cm in front, seen from 49 cm, shortens lengths by 1/50: e/m goes with 1 / D^2,
    # but for the part of relativity.
    assert each["parallax"].shift == pytest.approx((1 - 1 / 50) ** -2 - 1, rel=1e-3)
    assert -0.02 < each["field of the coils"].shift < -0.001
    assert abs(each["ripple of the supplies"].shift) < 1e-4
    assert not each["ripple of the supplies"].matters
    assert each["field of the coils"].matters
    assert 1 + found.total == pytest.approx(math.prod(1 + e.shift for e in found.effects))
    assert found.effects[0].without == SPECIFIC_CHARGE
    assert found.seen == pytest.approx(0.0831, abs=1e-3)


def test_ripple_bends_the_mean(fine_beam_bulb):
    # D goes with sqrt(V) / I; a swing of r/2 on I shifts its mean by the square, <s^2> = r^2 / 8.
    ripple = {"supplies.coils.ripple": 0.4, "supplies.accelerating.ripple": 0.0}
    rough = prepare(change(fine_beam_bulb.bench, ripple))
    found = effects(systematics(rough, "circle", Knobs(200.0, coil_current=1.5)))
    assert found["ripple of the supplies"].shift == pytest.approx(-2 * 0.4**2 / 8, rel=0.15)


def test_plates_and_what_they_are_tied_to(deflection_tube):
    knobs = Knobs(3000.0, plate_voltage=1000.0, x=0.09)
    tied = systematics(deflection_tube, "plates only", knobs, plate_tie="lower at anode")
    free = systematics(deflection_tube, "plates only", knobs)
    assert "plate tied to the anode" not in effects(free)
    assert effects(tied)["finite plates"].shift == effects(free)["finite plates"].shift
    # Lower plate at the anode: the gap's middle stands at up to +V_p / 2, so the beam is faster
    # and bends less, by up to V_p / (2 V_a) = 17 % where it enters with all of it.
    assert -0.167 < effects(tied)["plate tied to the anode"].shift < -0.05
    mirrored = systematics(deflection_tube, "plates only", knobs, plate_tie="upper at anode")
    assert effects(mirrored)["plate tied to the anode"].shift > 0.05
    assert -0.15 < effects(free)["finite plates"].shift < -0.03


def test_a_null_judged_behind_the_plates(deflection_tube):
    found = effects(systematics(deflection_tube, "null", Knobs(3000.0, coil_current=-0.14, x=0.09)))
    # Coils act from the aperture on, plates 9 mm later: (4050/3268)^2 = 1.54 in V_p^2 by the levers
    # of both alone, and more as the plates' field is weaker at its edges.
    assert 0.6 < found["finite plates"].shift < 1.2
    assert "from the aperture" in found["finite plates"].says
    # Slow electrons: v^2 / (2 V) is too small by 3 V / (2 V_0), with the V that the speed has.
    seen_voltage = 3000.0 * 1.9
    estimate = -1.5 * seen_voltage / REST_ENERGY_VOLTS
    assert found["relativity"].shift == pytest.approx(estimate, rel=0.15)


def test_axial_focus(axial_coil_tube):
    knobs = Knobs(500.0, length=0.2)
    found = effects(systematics(axial_coil_tube, "axial focus", knobs,
                                viewing=Viewing(0.01, 0.49)))  # fmt: skip
    angle = cone_angle(math.radians(3), math.radians(3))
    # Rays at the angle a come together earlier by cos a: e/m comes out too large by 1 / cos^2 a.
    assert found["spread of the beam"].shift == pytest.approx(math.cos(angle) ** -2 - 1, rel=0.02)
    assert found["field of the coils"].shift < 0
    # e/m goes with 1 / L^2, but for the part of relativity
    assert found["parallax"].shift == pytest.approx((1 - 1 / 50) ** -2 - 1, rel=1e-3)


def test_the_ray_that_stands_for_a_cone():
    # Smallest mean square of r ~ a (d + a^2 / 2): found here by brute force over many rays
    generator = np.random.default_rng(1)
    up, aside = generator.uniform(-0.06, 0.06, 200_000), generator.uniform(-0.02, 0.02, 200_000)
    a = np.hypot(up, aside)
    shifts = np.linspace(-0.004, 0.0, 401)
    spot = [np.mean((a * (d + a**2 / 2)) ** 2) for d in shifts]
    best = -shifts[int(np.argmin(spot))]
    assert cone_angle(0.06, 0.02) ** 2 / 2 == pytest.approx(best, abs=2e-5)
    assert cone_angle(0.0, 0.0) == 0.0


def test_a_turn_back_near_the_cusp_says_nothing_of_e_over_m(deflection_tube):
    # Depth 2 (v0 / w - v_d / w), w = (e/m) B: greatest where v_d = v0 / 2, so flat in e/m there.
    tube = nominal_tube(deflection_tube.bench, "bench")
    good = Knobs(500.0, plate_voltage=1040.0, coil_current=-1.4)
    found = systematics(deflection_tube, "turn-back", good)
    assert np.isfinite(found.total)
    near_cusp = replace(good, accelerating_voltage=1000.0, plate_voltage=2900.0)
    seen = observe("turn-back", Tracer(deflection_tube), tube, near_cusp)
    assert -0.022 < seen.value < -0.015
    with pytest.raises(GlowtraceError, match="no electron does this"):
        evaluate("turn-back", tube, seen)
    lost = systematics(deflection_tube, "turn-back", near_cusp)
    assert math.isnan(lost.total)
    assert lost.effects[0].matters


def test_nothing_to_be_read_is_said(fine_beam_bulb):
    tracer, tube = Tracer(fine_beam_bulb), nominal_tube(fine_beam_bulb.bench, "bench")
    with pytest.raises(GlowtraceError, match="the beam ends before it can be read"):
        observe("circle", tracer, tube, Knobs(200.0, coil_current=-0.5))
    with pytest.raises(GlowtraceError, match="viewing"):
        Viewing(gap=-0.01)
    assert Viewing(0.1, 0.4, 0.05).read_height(0.0) == pytest.approx(0.01)
