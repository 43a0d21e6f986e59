"""Common wrong accounts: which are offered, how they are judged, and that the numbers are right.

The physics is that of any textbook on electrons in fields; the numbers are computed anew here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.constants import electron_mass, elementary_charge, g
from scipy.optimize import brentq

from glowtrace.bench.settings import Settings
from glowtrace.explain.accounts import wrong_accounts
from glowtrace.explain.explanation import explain
from glowtrace.explain.writing import (
    angle_text,
    energy_text,
    force_text,
    length_text,
    percent_text,
    speed_text,
    time_text,
)
from glowtrace.units import scientific

PLATES = Settings(accelerating_voltage=2000.0, plate_voltage=800.0)
TURN_BACK = Settings(
    accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.0, coil_reversed=True
)
NULL = Settings(
    accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.14, coil_reversed=True
)
CIRCLE = Settings(accelerating_voltage=200.0, coil_current=1.5)


def accounts_of(prepared, settings, model="bench"):
    trace = explain(prepared, settings, model=model)
    return trace, {each.key: each for each in wrong_accounts(prepared, trace)}


def number(account, name):
    """The value of a number that an answer rests on, in its written unit."""
    text = dict(account.numbers)[name].replace("−", "-").replace("+", "")
    value = text.split()[0]
    if " × 10" in text:
        power = (
            text.split(" × 10")[1].split()[0].translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
        )
        return float(value) * 10.0 ** int(power)
    return float(value.rstrip("°%"))


def test_each_trace_has_its_own_accounts(deflection_tube, fine_beam_bulb, axial_coil_tube):
    _, plates = accounts_of(deflection_tube, PLATES)
    _, turn = accounts_of(deflection_tube, TURN_BACK)
    _, null = accounts_of(deflection_tube, NULL)
    _, circle = accounts_of(fine_beam_bulb, CIRCLE)
    _, helix = accounts_of(axial_coil_tube, Settings(accelerating_voltage=500.0, coil_current=0.3))
    assert {"gun energy", "circle from plates", "sharp edges", "half the deflection"} <= set(plates)
    assert {"stop", "grows", "no simple view", "speeds up", "current"} <= set(turn)
    assert {"no force", "any speed"} <= set(null)
    assert {"outward force", "slower in the bend", "along the lines"} <= set(circle)
    assert {"to the axis", "along the lines"} <= set(helix)
    for offered in (plates, turn, null, circle, helix):
        assert {"falls", "glow", "needs time"} <= set(offered)
        assert 6 <= len(offered) <= 14
    assert "stop" not in plates
    assert not {"stop", "grows"} & set(null)
    # A null that is set badly dips a little; it does not turn back.
    _, dips = accounts_of(deflection_tube, NULL.model_copy(update={"coil_current": 0.1}))
    assert "no force" in dips
    assert not {"stop", "grows"} & set(dips)
    assert "speeds up" not in plates


def test_the_electrons_do_not_stop_at_the_lowest_point(deflection_tube):
    trace, found = accounts_of(deflection_tube, TURN_BACK)
    stop = found["stop"]
    assert stop.verdict == "not true"
    lowest = int(trace.ray.position[:, 1].argmin())
    assert number(stop, "speed forwards there") == pytest.approx(
        trace.ray.velocity[lowest, 0], rel=0.02
    )
    force = -elementary_charge * np.cross(
        trace.ray.velocity[lowest], trace.ray.flux_density[lowest]
    )
    assert number(stop, "magnetic force there") == pytest.approx(force[1], rel=0.06)
    assert "forwards" in stop.answer


def test_at_the_cusp_they_do(deflection_tube):
    """Between forwards and backwards lies the one case in which the account is true."""

    def forwards(current):
        settings = TURN_BACK.model_copy(update={"coil_current": current})
        trace = explain(deflection_tube, settings)
        return float(trace.instant(trace.mark("Lowest point").at).velocity[0])

    current = brentq(forwards, 0.95, 1.2, xtol=1e-4)
    cusp = TURN_BACK.model_copy(update={"coil_current": current})
    _, found = accounts_of(deflection_tube, cusp)
    assert found["stop"].verdict == "true here"
    assert "cusp" in found["stop"].short
    _, beyond = accounts_of(
        deflection_tube, TURN_BACK.model_copy(update={"coil_current": 1.4 * current})
    )
    assert beyond["stop"].verdict == "not true"
    assert "backwards" in beyond["stop"].answer
    assert "Both pull the same way" in beyond["stop"].answer


def test_half_the_deflection_depends_on_who_feeds_the_plates(deflection_tube):
    _, own = accounts_of(deflection_tube, PLATES)
    assert own["half the deflection"].verdict == "true here"
    assert number(own["half the deflection"], "factor") == pytest.approx(0.5, abs=0.02)
    shared = PLATES.model_copy(update={"plate_source": "accelerating supply"})
    _, found = accounts_of(deflection_tube, shared)
    assert found["half the deflection"].verdict == "not true"
    # Fields and energy grow together; only the growth of the mass is left.
    assert number(found["half the deflection"], "factor") == pytest.approx(1.0, abs=0.01)
    tied = PLATES.model_copy(update={"plate_tie": "lower at anode", "plate_voltage": 1000.0})
    _, faster = accounts_of(deflection_tube, tied)
    assert faster["half the deflection"].verdict == "not true"
    assert "potential of the gap" in faster["half the deflection"].answer
    coils = Settings(accelerating_voltage=2000.0, coil_current=0.05)
    _, bent = accounts_of(deflection_tube, coils)
    assert bent["half the deflection"].verdict == "not true"
    assert number(bent["half the deflection"], "factor") == pytest.approx(0.5**0.5, abs=0.01)


def test_the_second_voltage_stays_within_the_rating(deflection_tube):
    most = deflection_tube.bench.gun.max_accelerating_voltage
    fast = PLATES.model_copy(update={"accelerating_voltage": 0.8 * most})
    _, found = accounts_of(deflection_tube, fast)
    assert found["half the deflection"].claim.startswith("Half the accelerating voltage")
    assert number(found["half the deflection"], "factor") == pytest.approx(2.0, abs=0.1)


def test_energy_between_the_plates_follows_the_tie(deflection_tube):
    tied = PLATES.model_copy(update={"plate_tie": "lower at anode"})
    trace, found = accounts_of(deflection_tube, tied)
    told = found["gun energy"]
    assert told.verdict == "not true"
    there = number(told, "energy there")
    assert there == pytest.approx(2000.0 + number(told, "potential there"), abs=1.5)
    assert there > 2300.0
    low = Settings(accelerating_voltage=3000.0, plate_voltage=20.0)
    _, kept = accounts_of(deflection_tube, low)
    assert kept["gun energy"].verdict == "partly true"
    assert trace.account.kinetic_energy.max() / elementary_charge >= there - 1.0


def test_falling_is_far_too_little(fine_beam_bulb):
    trace, found = accounts_of(fine_beam_bulb, CIRCLE)
    fall = 0.5 * g * trace.account.time[-1] ** 2
    assert number(found["falls"], "fall") == pytest.approx(fall, rel=0.05)
    assert number(found["falls"], "weight") == pytest.approx(electron_mass * g, rel=0.02)


def test_the_force_on_the_circle_is_the_only_one_and_gives_its_radius(fine_beam_bulb):
    trace, found = accounts_of(fine_beam_bulb, CIRCLE)
    told = found["outward force"]
    assert number(told, "radius of the bend") == pytest.approx(
        1e3 * trace.frame.circle.radius, abs=0.2
    )


def test_the_null_lets_one_speed_pass(deflection_tube):
    trace, found = accounts_of(deflection_tube, NULL)
    assert number(found["any speed"], "E over B") == pytest.approx(trace.frame.speed, rel=0.01)
    told = found["no force"]
    electric, magnetic = number(told, "electric force"), number(told, "magnetic force")
    assert electric > 0 > magnetic
    assert electric == pytest.approx(-magnetic, rel=0.1)
    assert abs(number(told, "both together")) < 0.1 * electric


def test_turns_of_the_helix(axial_coil_tube):
    settings = Settings(accelerating_voltage=500.0, coil_current=0.3)
    trace, found = accounts_of(axial_coil_tube, settings)
    told = found["to the axis"]
    heading = np.unwrap(np.arctan2(trace.ray.velocity[:, 2], trace.ray.velocity[:, 1]))
    turned = abs(heading[-1] - heading[0]) / (2 * np.pi)
    assert number(told, "turns up to the end") == pytest.approx(turned, abs=0.02)


@pytest.mark.parametrize("settings", [PLATES, TURN_BACK, NULL])
@pytest.mark.parametrize("model", ["bench", "ideal"])
def test_every_answer_is_whole_sentences_with_numbers(deflection_tube, settings, model):
    _, found = accounts_of(deflection_tube, settings, model)
    for account in found.values():
        assert account.claim.endswith(".")
        assert account.short.endswith((".", ".)"))
        assert any(sign.isdigit() for sign in account.answer)
        assert account.numbers
        text = f"{account.answer} {account.short} {account.numbers}"
        assert not any(wrong in text for wrong in ("nan", "inf ", "{", "  ", " -"))


def test_numbers_in_words():
    assert scientific(-6.09e6, "m/s", 3) == "−6.09 × 10⁶ m/s"
    assert scientific(float("nan"), "N") == "– N"
    assert force_text(1e-30, beside=1e-15) == "0 N"
    assert speed_text(3.2343e7) == "3.23 × 10⁷ m/s"
    assert energy_text(3000.4 * elementary_charge) == "3000 eV"
    assert energy_text(12.34 * elementary_charge, signed=True) == "+12.3 eV"
    assert length_text(0.0) == "0 mm"
    assert length_text(-0.0213) == "−21.3 mm"
    assert time_text(3.6e-9) == "3.60 ns"
    assert time_text(3.06e-8) == "30.6 ns"
    assert angle_text(-0.5) == "−28.6°"
    assert percent_text(-0.426) == "−42.6 %"
