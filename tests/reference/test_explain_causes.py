"""Shares of differences and of the width against closed forms."""

import math

import numpy as np
import pytest

from glowtrace.bench.electron import AXIS
from glowtrace.bench.settings import Settings
from glowtrace.constants import BOLTZMANN, ELECTRON_MASS
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.textbook import textbook_trace
from glowtrace.explain.blend import EFFECTS, active_effects, blended_path
from glowtrace.explain.differences import find_differences
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.orders import share_out
from glowtrace.explain.spread import find_spread

NOTHING = frozenset()


def height_at(position, x):
    return float(np.interp(x, position[:, 0], position[:, 1]))


def test_without_all_differences_it_is_the_textbooks_parabola(deflection_tube):
    """y = V_p L (L/2 + D) / (2 d V_a) behind the plates, for slow electrons.

    Thomson's geometry of 1897 (Phil. Mag. 44, 293-316), the formula from memory.
    """
    plates = deflection_tube.bench.plates
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
    path = blended_path(deflection_tube, settings, NOTHING, AXIS)
    x = deflection_tube.bench.screen.x_to
    beyond = x - plates.start - plates.length
    expected = 1000.0 * plates.length * (plates.length / 2 + beyond) / (2 * plates.gap * 3000.0)
    assert height_at(path.position, x) == pytest.approx(expected, rel=2e-5)


def test_slow_electrons_run_round_a_circle_of_the_simple_formula(fine_beam_bulb):
    """Diameter 2 sqrt(2 m V / e) / B: the formula for slow electrons, in the coils' middle field.

    Any school text; from memory.
    """
    from glowtrace.bench.ideal import flux_density_per_ampere
    from glowtrace.constants import SPECIFIC_CHARGE

    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    found = find_differences(fine_beam_bulb, settings)
    flux = 1.5 * flux_density_per_ampere(fine_beam_bulb.bench)[2]
    assert found.textbook == pytest.approx(
        2 * math.sqrt(2 * 200.0 / SPECIFIC_CHARGE) / flux, rel=1e-5
    )
    # The growth of the mass makes it larger by half of k/2, with k = V / 511 kV.
    mass = next(part for part in found.parts if part.effect == "mass")
    assert mass.share.mean / found.textbook == pytest.approx(200.0 / 511e3 / 4, rel=0.02)


@pytest.mark.parametrize("current", [0.0, 0.14])
def test_uniform_fields_with_growing_mass_are_the_exact_closed_form(deflection_tube, current):
    """The ideal model by closed forms (relativity included) at the end of the sheet."""
    settings = Settings(
        accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=current, coil_reversed=True
    )
    path = blended_path(deflection_tube, settings, frozenset({"mass"}), AXIS)
    exact = textbook_trace(deflection_tube.bench, settings, samples=2000)
    for x in (0.05, 0.08, 0.1):
        expected = float(np.interp(x, exact.positions[:, 0], exact.positions[:, 1]))
        assert height_at(path.position, x) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("tie", ["symmetric", "lower at anode", "upper at anode"])
def test_with_all_differences_it_is_the_bench(deflection_tube, tie):
    """The compiled tracer, an independent program, in the same real fields."""
    settings = Settings(
        accelerating_voltage=2000.0, plate_voltage=900.0, plate_tie=tie,
        coil_current=0.1, coil_reversed=True,
    )  # fmt: skip
    path = blended_path(deflection_tube, settings, frozenset(EFFECTS), AXIS)
    ray = followed_ray(deflection_tube, settings, launch=AXIS)
    for x in (0.02, 0.05, 0.08, 0.1):
        expected = height_at(ray.position, x)
        assert height_at(path.position, x) == pytest.approx(expected, abs=2e-6)


def test_shares_of_the_differences_add_up(deflection_tube):
    settings = Settings(
        accelerating_voltage=1500.0, plate_voltage=600.0, plate_tie="lower at anode",
        coil_current=0.1, coil_reversed=True,
    )  # fmt: skip
    found = find_differences(deflection_tube, settings)
    assert [part.effect for part in found.parts] == ["plates", "tie", "coils", "mass"]
    total = sum(part.share.mean for part in found.parts)
    assert total == pytest.approx(found.bench - found.textbook, abs=1e-12)
    ray = followed_ray(deflection_tube, settings)
    assert found.bench == pytest.approx(height_at(ray.position, 0.104), abs=5e-6)
    for part in found.parts:
        assert part.share.least <= part.share.mean <= part.share.most


def test_only_what_acts_is_a_difference(deflection_tube, fine_beam_bulb):
    plates_only = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
    assert active_effects(deflection_tube, plates_only) == ("plates", "mass")
    assert active_effects(fine_beam_bulb, Settings(accelerating_voltage=200.0)) == ("mass",)


# The width


def test_widths_of_each_cause_alone_are_those_of_their_distributions(deflection_tube):
    """Field-free flight: a uniform slit has s = h/sqrt(12), a uniform cone s = x tan(a)/sqrt(3).

    The thermal velocities across are Maxwell's, s = sqrt(kT/m) (moments of these distributions:
    any text on statistics; from memory).
    """
    settings = Settings(accelerating_voltage=3000.0)
    found = find_spread(deflection_tube, settings)
    assert found is not None
    gun = deflection_tube.bench.gun
    x = float(found.place.removeprefix("at x = ").removesuffix(" mm")) * 1e-3
    alone = {part.cause: part.alone for part in found.parts}
    speed = speed_from_voltage(3000.0)
    expected = {
        "aperture": 2 * gun.aperture_height / math.sqrt(12),
        "divergence": 2 * x * math.tan(gun.divergence_vertical) / math.sqrt(3),
        "thermal": 2 * x * math.sqrt(BOLTZMANN * gun.cathode_temperature / ELECTRON_MASS) / speed,
    }
    for cause, width in expected.items():
        assert alone[cause] == pytest.approx(width, rel=0.03), cause
    assert alone["ripple"] < 1e-6  # without a field it changes speeds only
    squares = sum(width**2 for width in expected.values())
    assert found.width == pytest.approx(math.sqrt(squares), rel=0.03)
    for part in found.parts:
        wanted = expected.get(part.cause, 0.0) ** 2 / squares
        assert part.share == pytest.approx(wanted, abs=0.03)
    assert sum(part.share for part in found.parts) == pytest.approx(1.0, abs=1e-9)
    assert abs(found.interaction) < 0.03


def test_what_is_switched_off_has_no_share(deflection_tube):
    settings = Settings(
        accelerating_voltage=3000.0, plate_voltage=1000.0, thermal_spread=False, ripple=False
    )
    found = find_spread(deflection_tube, settings, seeds=2)
    assert found is not None
    shares = {part.cause: part.share for part in found.parts}
    assert shares["thermal"] == pytest.approx(0.0, abs=1e-12)
    assert shares["ripple"] == pytest.approx(0.0, abs=1e-12)
    assert shares["aperture"] > shares["divergence"] > 0.1


def test_a_dark_tube_has_no_width_and_no_differences(deflection_tube):
    cold = Settings(accelerating_voltage=3000.0, heater_on=False)
    assert find_spread(deflection_tube, cold) is None
    assert find_differences(deflection_tube, cold) is None


# Shares over all orders


def test_the_glove_game():
    """One left and two right gloves, a pair is worth 1: values 2/3, 1/6, 1/6.

    The standard example of Shapley's value; from memory.
    """

    def worth(on):
        return float("left" in on and len(on) > 1)

    shares = share_out(("left", "right", "other right"), worth)
    assert [each.mean for each in shares] == pytest.approx([2 / 3, 1 / 6, 1 / 6])
    assert (shares[0].least, shares[0].most) == (0.0, 1.0)


def test_a_cause_that_needs_another_comes_after_it():
    """With b worthless before a, all of its worth is its own and not half of it a's."""

    def worth(on):
        return 10.0 * ("a" in on) + 3.0 * ("a" in on and "b" in on)

    shares = share_out(("a", "b"), worth, {"b": "a"})
    assert [each.mean for each in shares] == [10.0, 3.0]
    assert shares[1].alone == 3.0
