"""The ready-made benches give good demonstrations within their ratings.

Sources: field of a coil pair at a spacing of one radius, (4/5)^(3/2) mu0 N I / R (any text on
electrodynamics; CHECKS section 5), of a solenoid of finite length on its axis (the same); parabola
of crossed plates and radius of the circle (any text); focus of a narrow cone after n turns,
B = 2 pi m v n / (e L) (any text on electron optics). All from memory, computed here apart from
the engine, with the CODATA constants of scipy.
"""

from __future__ import annotations

import math
from importlib import resources

import pytest
from scipy.constants import e, m_e, mu_0

from glowtrace.bench.ratings import check_settings, knob_ranges
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
AXIAL = ready_made("axial coil tube")


def speed(voltage):
    return math.sqrt(2 * e * voltage / m_e)  # within 1 % up to 5 kV


def field_per_ampere(pair):
    assert pair.spacing == pair.mean_radius
    return 0.8**1.5 * mu_0 * pair.turns / pair.mean_radius


def test_names_and_files_belong_together():
    files = resources.files("glowtrace.bench") / "ready_made"
    assert sorted(file.name for file in files.iterdir()) == sorted(
        name.replace(" ", "-") + ".toml" for name in ready_made_names()
    )
    for name in ready_made_names():
        assert ready_made(name).name == name
        assert ready_made(name).invented
        assert ready_made(name).notes


def test_an_unknown_name_is_told_which_there_are():
    with pytest.raises(BenchError) as caught:
        ready_made("deflexion tube")
    assert str(caught.value) == (
        'ready-made benches:\n  name: "deflexion tube" is not allowed; choose "deflection tube" or '
        '"fine-beam bulb" or "axial coil tube" (did you mean deflection tube?)'
    )


@pytest.mark.parametrize("name", ready_made_names())
def test_the_heater_and_the_coils_are_within_their_supplies(name):
    bench = ready_made(name)
    assert bench.supplies.heater.max_voltage >= bench.gun.heater_voltage
    knob = knob_ranges(bench)["coil_current"]
    assert knob.high == bench.coils.max_current
    assert "rated" in knob.why


def test_the_plates_of_the_tube_bend_a_3_kv_beam_visibly():
    plates, voltage = TUBE.plates, 3000.0
    lift = {
        v: v * plates.length**2 / (4 * plates.gap * voltage)  # y = V_p L^2 / (4 d V_a)
        for v in (1000.0, knob_ranges(TUBE)["plate_voltage"].high)
    }
    assert 0.008 < lift[1000.0] < 0.012
    assert lift[4800.0] > plates.gap / 2  # the knob reaches beyond the plates themselves


def test_the_coils_of_the_tube_bend_a_3_kv_beam_visibly():
    field = 0.25 * field_per_ampere(TUBE.coils)
    radius = m_e * speed(3000.0) / (e * field)
    assert 0.02 < TUBE.screen.x_to**2 / (2 * radius) < 0.04


def test_the_tube_reaches_the_null_for_every_voltage_of_the_gun():
    for voltage in (450.0, 3000.0, 4800.0):
        plate_voltage = voltage / 3
        field = plate_voltage / TUBE.plates.gap / speed(voltage)  # E = v B
        current = field / field_per_ampere(TUBE.coils)
        settings = Settings(
            accelerating_voltage=voltage, plate_voltage=plate_voltage, coil_current=current
        )
        assert check_settings(TUBE, settings) == ()


@pytest.mark.parametrize(
    ("voltage", "diameter"),
    [(90.0, 0.04), (90.0, 0.11), (200.0, 0.08), (330.0, 0.055), (330.0, 0.11)],
)
def test_the_bulb_shows_whole_circles_within_the_ratings(voltage, diameter):
    radius = diameter / 2
    current = m_e * speed(voltage) / (e * radius) / field_per_ampere(BULB.coils)
    assert check_settings(BULB, Settings(accelerating_voltage=voltage, coil_current=current)) == ()
    x, y, _ = BULB.envelope.centre
    assert math.hypot(x, y - radius) + radius < BULB.envelope.radius
    assert BULB.screen.x_from < -radius
    assert BULB.screen.x_to > radius
    assert BULB.screen.y_from < 0
    assert BULB.screen.y_to > diameter


@pytest.mark.parametrize("turns", [1, 2, 3])
@pytest.mark.parametrize("voltage", [180.0, 500.0, 1100.0])
def test_the_axial_tube_comes_to_a_focus_after_one_two_and_three_turns(voltage, turns):
    coil, length = AXIAL.coils, AXIAL.screen.x
    cone = AXIAL.gun.divergence_vertical
    needed = 2 * math.pi * m_e * speed(voltage) * math.cos(cone) * turns / (e * length)
    ends = [(x - coil.x_from, coil.x_to - x) for x in (0.0, length / 2, length)]
    per_ampere = [
        mu_0
        * coil.turns
        / (coil.x_to - coil.x_from)
        * sum(d / math.hypot(d, coil.mean_radius) for d in distances)
        / 2
        for distances in ends
    ]
    current = needed / min(per_ampere)
    assert check_settings(AXIAL, Settings(accelerating_voltage=voltage, coil_current=current)) == ()


def test_the_spread_of_the_axial_beam_fits_the_end_face():
    spot = AXIAL.screen.x * math.tan(AXIAL.gun.divergence_vertical)
    assert 0.005 < spot < AXIAL.screen.height / 2
