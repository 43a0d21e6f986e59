"""Plans made in the ideal fields against closed forms written again here.

Speeds from E = (gamma - 1) m c^2; deflections from L. D. Landau and E. M. Lifshitz, "The Classical
Theory of Fields", sections 20 (uniform electric field), 21 (uniform magnetic field) and 22 (crossed
fields, whose drift is E/B); the pair's centre from (4/5)^(3/2) mu_0 n I / R (Purcell, "Electricity
and Magnetism"); the focus after one turn from the pitch 2 pi p / (e B) (H. Busch, Ann. Phys. 386
(1926) 974; from memory).
"""

import math

import numpy as np
import pytest
from scipy.constants import c, e, m_e, mu_0

from glowtrace.bench.prepared import PreparedBench
from glowtrace.demos.goals import (
    CoilDeflection,
    FullCircle,
    HelixFocus,
    PlateDeflection,
    StraightBeam,
    TurnBack,
)
from glowtrace.plan import plan_goal

EXACT = 1e-6


def momentum(voltage):
    k = e * voltage / (m_e * c**2)
    return m_e * c * math.sqrt(k * (k + 2))


def speed(voltage):
    p = momentum(voltage)
    return p * c / math.hypot(p, m_e * c)


def pair_field(bench, current):
    coils = bench.coils
    assert coils.spacing == coils.mean_radius
    return 0.8**1.5 * mu_0 * coils.turns * current / coils.mean_radius


def ideal_answers(prepared, goal, **fixed):
    planned = plan_goal(prepared, goal, model="ideal", fixed=fixed, answers=9)
    assert planned.refusal is None
    assert len({answer.settings for answer in planned.answers}) == len(planned.answers)
    return planned.answers


@pytest.fixture(scope="module")
def long_plates(deflection_tube):
    """Plates from the slit to the end of the screen: the ideal fields have no edge within.

    They would touch the anode, which no real bench may, so the bench is not checked again.
    """
    whole = deflection_tube.bench
    plates = whole.plates.model_copy(update={"start": 0.0, "length": 0.104})
    bench = whole.model_copy(update={"plates": plates})
    return PreparedBench(bench, deflection_tube.fields, deflection_tube.earth)


@pytest.mark.parametrize(("x", "height"), [(0.06, 0.004), (0.1, 0.015), (0.095, -0.012)])
def test_plates_deflect_along_the_catenary_and_its_tangent(deflection_tube, x, height):
    plates = deflection_tube.bench.plates
    for answer in ideal_answers(deflection_tube, PlateDeflection(x, height)):
        settings = answer.settings
        p0 = momentum(settings.accelerating_voltage)
        field = settings.signed_plate_voltage / plates.gap
        energy = math.hypot(p0 * c, m_e * c**2)
        inside = min(x - plates.start, plates.length)
        y = energy / (e * field) * (math.cosh(e * field * inside / (p0 * c)) - 1)
        slope = energy / (p0 * c) * math.sinh(e * field * inside / (p0 * c))
        y += slope * (x - plates.start - inside)
        assert y == pytest.approx(height, rel=EXACT)


@pytest.mark.parametrize("height", [0.012, -0.018])
def test_coils_bend_into_the_arc_through_the_point(deflection_tube, height):
    x = 0.1
    radius = (x**2 + height**2) / (2 * height)
    for answer in ideal_answers(deflection_tube, CoilDeflection(x, height)):
        field = pair_field(deflection_tube.bench, answer.settings.signed_coil_current)
        p0 = momentum(answer.settings.accelerating_voltage)
        assert p0 / (e * field) == pytest.approx(radius, rel=EXACT)


def test_the_null_is_where_the_speed_is_e_over_b(long_plates):
    goal = StraightBeam(length=0.1, plates_alone=0.01)
    for answer in ideal_answers(long_plates, goal):
        settings = answer.settings
        electric = settings.signed_plate_voltage / long_plates.bench.plates.gap
        magnetic = pair_field(long_plates.bench, settings.signed_coil_current)
        assert electric * magnetic < 0, "the forces must oppose each other"
        ratio = abs(electric / magnetic)
        assert ratio == pytest.approx(speed(settings.accelerating_voltage), rel=EXACT)
        assert answer.balance.excess == pytest.approx(0.0, abs=EXACT)
        p0 = momentum(settings.accelerating_voltage)
        energy = math.hypot(p0 * c, m_e * c**2)
        alone = math.cosh(e * electric * 0.1 / (p0 * c)) - 1
        assert abs(energy / (e * electric) * alone) == pytest.approx(0.01, rel=EXACT)


@pytest.mark.parametrize(("depth", "turns"), [(0.009, 0.75), (0.005, 1.3), (0.012, 0.6)])
def test_turn_backs_have_the_depth_and_pitch_of_the_trochoid(long_plates, depth, turns):
    """In the frame of the drift E/B the electron runs in a circle; depth and pitch from there."""
    goal = TurnBack(depth, turns)
    for answer in ideal_answers(long_plates, goal, accelerating_voltage=500.0):
        settings = answer.settings
        electric = abs(settings.signed_plate_voltage) / long_plates.bench.plates.gap
        magnetic = abs(pair_field(long_plates.bench, settings.signed_coil_current))
        drift, v0 = electric / magnetic, speed(500.0)
        gamma_d = 1 / math.sqrt(1 - (drift / c) ** 2)
        seen = (v0 - drift) / (1 - v0 * drift / c**2)  # its speed in that frame
        p_seen = m_e * seen / math.sqrt(1 - (seen / c) ** 2)
        radius = p_seen / (e * magnetic / gamma_d)
        period = gamma_d * 2 * math.pi * radius / seen
        assert 2 * radius == pytest.approx(depth, rel=EXACT)
        assert 0.104 / (drift * period) == pytest.approx(turns, rel=EXACT)
        forwards = (2 * drift - v0) / v0  # textbook's limit; 500 V is 0.1 % of the rest energy
        assert forwards > 0, "a beam that flew backwards could not light a grazed sheet"


@pytest.mark.parametrize("diameter", [0.04, 0.08, 0.11])
def test_circles_have_the_radius_of_their_momentum(fine_beam_bulb, diameter):
    for answer in ideal_answers(fine_beam_bulb, FullCircle(diameter)):
        field = pair_field(fine_beam_bulb.bench, answer.settings.signed_coil_current)
        p0 = momentum(answer.settings.accelerating_voltage)
        assert 2 * p0 / (e * field) == pytest.approx(diameter, rel=EXACT)


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_helices_come_together_after_whole_pitches(axial_coil_tube, turns):
    coil, face = axial_coil_tube.bench.coils, axial_coil_tube.bench.screen.x
    across = math.hypot(2 * coil.mean_radius, coil.x_to - coil.x_from)
    for answer in ideal_answers(axial_coil_tube, HelixFocus(turns, 0.0015)):
        field = mu_0 * coil.turns * answer.settings.coil_current / across
        pitch = 2 * np.pi * momentum(answer.settings.accelerating_voltage) / (e * field)
        assert face / pitch == pytest.approx(turns, rel=EXACT)
