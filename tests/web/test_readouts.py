"""The readings against formulas and numbers that the forward model does not use.

Kinetic energy and speed: special relativity with scipy's CODATA constants, written here with beta
and gamma instead of momenta (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.demos.readouts import Readouts, read


def _read(prepared: PreparedBench, settings: Settings, x: float, model: str = "bench") -> Readouts:
    picture = prepared.picture(settings, electrons=2000, model=model)  # type: ignore[arg-type]
    return read(prepared, picture, x)


def _speed(volts: float) -> float:
    rest = constants.electron_mass * constants.speed_of_light**2
    gamma = 1 + constants.elementary_charge * volts / rest
    return float(constants.speed_of_light * np.sqrt(1 - gamma**-2))


def test_speed_is_that_of_the_accelerating_voltage(deflection_tube: PreparedBench) -> None:
    readouts = _read(deflection_tube, Settings(accelerating_voltage=5000.0), 0.08)
    assert readouts.speed == pytest.approx(_speed(5000.0), rel=1e-3)
    # 5 kV is 1 % of the rest energy of 511 keV: v/c = 0.139 (from memory).
    assert readouts.speed_share == pytest.approx(0.139, abs=5e-4)


def test_fields_of_the_ideal_model_are_those_of_a_plate_capacitor(
    deflection_tube: PreparedBench,
) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=520.0, coil_current=0.05)
    readouts = _read(deflection_tube, settings, 0.08, "ideal")
    assert readouts.electric_field is not None
    assert readouts.flux_density is not None
    assert readouts.electric_field[1] == pytest.approx(-520.0 / 0.049)
    # E/(vB) with the speed on entry: the ideal model leaves it unchanged along the axis.
    expected = (520.0 / 0.049) / (_speed(3000.0) * readouts.flux_density[2])
    assert readouts.force_ratio == pytest.approx(expected, rel=2e-2)


def test_the_real_field_is_a_little_weaker_than_that_of_endless_plates(
    deflection_tube: PreparedBench,
) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=520.0)
    readouts = _read(deflection_tube, settings, 0.08)
    assert readouts.electric_field is not None
    assert 0.85 < -readouts.electric_field[1] / (520.0 / 0.049) < 1.0


@pytest.mark.parametrize(
    ("tie", "is_reversed", "sign"),
    [
        ("lower at anode", False, 1),
        ("lower at anode", True, -1),
        ("upper at anode", False, -1),
        ("upper at anode", True, 1),
    ],
)
def test_a_tied_plate_changes_the_energy_by_half_the_plate_voltage(
    deflection_tube: PreparedBench, tie: str, is_reversed: bool, sign: int
) -> None:
    settings = Settings(
        accelerating_voltage=3000.0,
        plate_voltage=600.0,
        plate_tie=tie,  # type: ignore[arg-type]
        plate_reversed=is_reversed,
    )
    readouts = _read(deflection_tube, settings, 0.08)
    # The middle of endless plates stands at half the voltage; open sides let the anode through.
    assert readouts.energy_change is not None
    assert 0.8 * 300.0 < sign * readouts.energy_change < 300.0
    # Energy is conserved: what is gained is the potential on the axis, which a ray that the plates
    # hardly deflect flies through.
    fast = settings.model_copy(update={"accelerating_voltage": 5000.0, "plate_voltage": 60.0})
    ray = deflection_tube.central_ray(fast)
    there = np.interp(readouts.fields_at, ray.position[:, 0], ray.potential)
    axis = 10 * float(there - ray.potential[0])
    assert readouts.energy_change == pytest.approx(axis, rel=0.02)


def test_symmetric_plates_and_the_ideal_model_have_no_energy_note(
    deflection_tube: PreparedBench,
) -> None:
    symmetric = Settings(accelerating_voltage=3000.0, plate_voltage=600.0)
    tied = symmetric.model_copy(update={"plate_tie": "lower at anode"})
    assert _read(deflection_tube, symmetric, 0.08).energy_change is None
    assert _read(deflection_tube, tied, 0.08, "ideal").energy_change is None


def test_shares_add_up_and_the_largest_comes_first(deflection_tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=5000.0)
    shares = [share for _, share in _read(deflection_tube, settings, 0.08).shares]
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert len(shares) > 1


def test_deflection_and_width_are_those_of_the_landings(deflection_tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
    picture = deflection_tube.picture(settings, electrons=20_000)
    readouts = read(deflection_tube, picture, 0.08)
    # The sheet slants by 11 mm in 92 mm: along it, u is longer than x.
    near = np.abs(picture.landings[:, 0] - 0.08 * np.hypot(1.0, 11 / 92)) < 2e-3
    u, v = picture.landings[near].T
    assert readouts.deflection == pytest.approx(v.mean(), abs=5e-5)
    across = v - np.polyval(np.polyfit(u, v, 1), u)  # without the trace's own slope
    assert readouts.width == pytest.approx(2 * across.std(), rel=0.05)


def test_off_the_trace_there_is_nothing_to_read(deflection_tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=5000.0)
    readouts = _read(deflection_tube, settings, 0.1)
    assert readouts.deflection is None
    assert readouts.width is None


def test_a_cold_cathode_gives_no_readings(deflection_tube: PreparedBench) -> None:
    readouts = _read(deflection_tube, Settings(accelerating_voltage=3e3, heater_on=False), 0.08)
    assert readouts.speed is None
    assert readouts.electric_field is None
    assert readouts.deflection is None
    assert readouts.shares == ()


def test_the_ratio_of_the_forces_is_that_of_the_numbers_beside_it(
    deflection_tube: PreparedBench,
) -> None:
    """F = eE and F = evB (Lorentz), with Earth's field across, which pushes along z only."""
    earth = np.array([0.0, -44e-6, 10e-6])
    in_earth = PreparedBench(deflection_tube.bench, deflection_tube.fields, earth)
    settings = Settings(
        accelerating_voltage=4000.0, plate_voltage=173.0, plate_tie="lower at anode"
    )
    readouts = _read(in_earth, settings, 0.08)
    assert readouts.electric_field is not None
    assert readouts.flux_density is not None
    assert readouts.speed_there is not None
    expected = abs(readouts.electric_field[1]) / (
        readouts.speed_there * abs(readouts.flux_density[2])
    )
    assert readouts.force_ratio == pytest.approx(expected, rel=1e-9)
    assert abs(readouts.flux_density[1]) > 2 * abs(readouts.flux_density[2])


def test_a_bulb_tells_its_circle_and_the_field_in_its_middle(fine_beam_bulb: PreparedBench) -> None:
    """r = m v / (e B), and B of a pair of thin coils on its axis (Biot and Savart)."""
    settings = opening_settings(fine_beam_bulb.bench)
    readouts = _read(fine_beam_bulb, settings, 0.02)
    assert readouts.kind == "full circle"
    assert readouts.circle is not None
    assert readouts.flux_density is not None
    assert readouts.speed is not None
    flux = abs(readouts.flux_density[2])
    coils = fine_beam_bulb.bench.coils
    assert coils is not None
    radius, half = coils.mean_radius, coils.spacing / 2
    thin = constants.mu_0 * coils.turns * settings.coil_current * radius**2
    assert flux == pytest.approx(thin / (radius**2 + half**2) ** 1.5, rel=0.01)
    gamma = 1 / np.sqrt(1 - (readouts.speed / constants.c) ** 2)
    bend = gamma * constants.electron_mass * readouts.speed / (constants.e * flux)
    assert readouts.circle == pytest.approx(2 * bend, rel=0.03)


def test_opening_settings_show_each_demonstration(
    deflection_tube: PreparedBench, fine_beam_bulb: PreparedBench, axial_coil_tube: PreparedBench
) -> None:
    lifted = _read(deflection_tube, opening_settings(deflection_tube.bench), 0.1)
    assert lifted.deflection is not None
    assert 0.005 < lifted.deflection < 0.022
    assert dict(lifted.shares)["screen"] > 0.9
    # The circle closes: the beam comes back to the anode that it left, or goes round again.
    circle = _read(fine_beam_bulb, opening_settings(fine_beam_bulb.bench), 0.02)
    assert {name for name, _ in circle.shares} <= {"anode", "still flying"}
    # One whole turn brings the spreading beam (3 degrees over 204 mm) together on the face.
    spot = _read(axial_coil_tube, opening_settings(axial_coil_tube.bench), 0.2)
    assert spot.width is not None
    assert spot.width < 1e-3
