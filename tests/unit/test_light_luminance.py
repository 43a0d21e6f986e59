"""Luminances against energy balance and closed forms worked out here by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.light.glow import GRAIN, make_glow, scaled
from glowtrace.light.luminance import (
    ESCAPE,
    GLASS,
    OUTWARD,
    backgrounds,
    dead_voltage,
    excitation,
    heater_illuminance,
    trace_luminance,
)
from glowtrace.light.photometry import band_efficacy, black_body_efficacy
from glowtrace.light.ripple import trace_flicker
from glowtrace.light.scaling import scale_settings
from glowtrace.light.scene import Phosphor, Room, Scene, beam_share

TUBE = Settings(accelerating_voltage=3000.0)
BULB = Settings(accelerating_voltage=200.0, coil_current=1.5)
FACE = Settings(accelerating_voltage=600.0)
UNSATURATED = Phosphor(saturation=1e6, dead_voltage=0.0)


def test_all_light_adds_up_to_the_power_of_the_beam(deflection_tube):
    # Energy balance: flux = power x efficiency x lm/W; a Lambertian layer of luminance L sends
    # pi L A to one side, a half of the whole here.
    scene = Scene(phosphor=UNSATURATED, beam_current=1e-6, beam_share=1.0)
    glow = make_glow(deflection_tube, TUBE)
    u0, u1, _, _ = glow.extent
    pixel = (u1 - u0) / glow.density.shape[1]
    luminance = trace_luminance(deflection_tube.bench, scene, glow, glow.density)
    flux = math.pi * float(luminance.sum()) * pixel**2
    landed = float(glow.density.sum()) * pixel**2  # share of the electrons that land
    assert 0.9 < landed <= 1.0
    power = 1e-6 * 3000.0 * landed * scene.phosphor.efficiency
    lumens = power * band_efficacy(525e-9, 40e-9) * OUTWARD * GLASS
    assert flux == pytest.approx(lumens, rel=0.03)


def test_light_grows_with_current_until_it_saturates(axial_coil_tube):
    bench, glow = axial_coil_tube.bench, make_glow(axial_coil_tube, FACE)
    density = float(glow.ridge.max())

    def luminance(current: float, saturation: float) -> float:
        scene = Scene(phosphor=Phosphor(saturation=saturation), beam_current=current)
        return float(trace_luminance(bench, scene, glow, density)[0])

    assert luminance(2e-9, 1e6) == pytest.approx(2.0 * luminance(1e-9, 1e6), rel=1e-4)
    # At the saturation load, by its definition, half of the light is left.
    share = beam_share(bench, Scene())
    load = 1e-4 * share * density * glow.voltage
    assert luminance(1e-4, load) == pytest.approx(
        0.5 * 1e5 * luminance(1e-9, 1e6), rel=0.02
    )  # fmt: skip


def test_no_light_below_the_dead_voltage(axial_coil_tube):
    glow = make_glow(axial_coil_tube, FACE)
    scene = Scene(phosphor=Phosphor(dead_voltage=700.0))
    assert float(trace_luminance(axial_coil_tube.bench, scene, glow, 1e6)[0]) == 0.0
    assert float(trace_luminance(axial_coil_tube.bench, scene, scaled(glow, 1.5), 1e6)[0]) > 0.0


def test_dead_layer_is_thicker_for_a_grazing_beam():
    assert float(dead_voltage(200.0, math.pi / 2)) == pytest.approx(200.0)
    # At 30 degrees the way is twice as long: V grows by 2^(1/1.67).
    assert float(dead_voltage(200.0, math.pi / 6)) == pytest.approx(200.0 * 2.0 ** (1 / 1.67))
    assert float(dead_voltage(200.0, 0.001)) == pytest.approx(600.0)  # the model's own limit


def test_gas_light_adds_up_to_photons_per_metre(fine_beam_bulb):
    # Each electron makes n sigma photons per metre; they go evenly to all sides.
    scene = Scene(beam_current=1e-4, beam_share=1.0)
    glow = make_glow(fine_beam_bulb, BULB)
    u0, u1, _, _ = glow.extent
    pixel = (u1 - u0) / glow.density.shape[1]
    luminance = trace_luminance(fine_beam_bulb.bench, scene, glow, glow.density)
    flux = 4.0 * math.pi * float(luminance.sum()) * pixel**2
    path = float(glow.density.sum()) * pixel**2  # m per electron in the picture
    electrons = 1e-4 / 1.602176634e-19
    molecules = 1.0 / (1.380649e-23 * 293.15)
    photons = electrons * path * molecules * 5e-22 * excitation(200.0)
    energy = 6.62607015e-34 * 299792458.0 / 520e-9
    assert flux == pytest.approx(photons * energy * band_efficacy(520e-9, 150e-9) * GLASS, rel=1e-6)


def test_excitation_is_largest_at_e_times_its_threshold():
    voltages = np.linspace(1.0, 500.0, 2000)
    values = np.array([excitation(v) for v in voltages])
    assert values.max() == pytest.approx(1.0, abs=1e-4)
    assert voltages[int(values.argmax())] == pytest.approx(20.0 * math.e, abs=0.5)
    assert excitation(19.0) == 0.0
    # Fast electrons make less light per metre: (ln 20 / 20) / (ln 10 / 10).
    assert excitation(400.0) / excitation(200.0) == pytest.approx(
        (math.log(20) / 20) / (math.log(10) / 10)
    )


def test_room_light_on_a_lambertian_screen(deflection_tube):
    # L = rho E / pi; 500 lx on a layer of 0.7 behind glass: 94 cd/m².
    glow = make_glow(deflection_tube, TUBE)
    scene = Scene(room=Room(illuminance=500.0))
    behind = backgrounds(deflection_tube.bench, TUBE, scene, glow)
    assert float(behind.room[0]) == pytest.approx(0.92**2 * 0.7 * 500.0 / math.pi)
    # A mirror image of walls of reflectance 0.5, 4 % at each of two surfaces of glass (Fresnel).
    fresnel = 2.0 * ((1.5 - 1.0) / (1.5 + 1.0)) ** 2
    assert float(behind.mirror[0]) == pytest.approx(fresnel * 0.5 * 500.0 / math.pi)
    hooded = Scene(room=Room(illuminance=500.0, hood=0.1))
    less = backgrounds(deflection_tube.bench, TUBE, hooded, glow)
    assert float(less.room[0]) == pytest.approx(0.1 * float(behind.room[0]))
    assert float(less.heater[0]) == pytest.approx(float(behind.heater[0]))


def test_heater_glow_spreads_over_half_of_space(axial_coil_tube):
    bench = axial_coil_tube.bench
    glow = make_glow(axial_coil_tube, FACE)
    flux = 5.8 * 0.65 * black_body_efficacy(1100.0) * ESCAPE  # the bench's heater
    expected = flux / (2.0 * math.pi * bench.screen.x**2)
    assert float(heater_illuminance(bench, FACE, glow)[0]) == pytest.approx(expected)
    cold = FACE.model_copy(update={"heater_on": False})
    assert float(heater_illuminance(bench, cold, glow)[0]) == 0.0


def test_scaled_voltages_keep_the_trace(deflection_tube):
    # Slow electrons: all voltages times k, all currents times its root, same paths (scaling law).
    # The cathode's heat does not scale: it is left out here, and makes a trace a little narrower
    # and brighter at a higher voltage than is suggested.
    slow = Settings(
        accelerating_voltage=1000.0, plate_voltage=300.0, coil_current=0.05, thermal_spread=False
    )
    fast = scale_settings(slow, 2.0)
    assert fast.coil_current == pytest.approx(0.05 * math.sqrt(2.0))
    predicted = scaled(make_glow(deflection_tube, slow), 2.0)
    flown = make_glow(deflection_tube, fast)
    assert flown.voltage == pytest.approx(predicted.voltage, rel=2e-3)
    assert float(np.median(flown.ridge)) == pytest.approx(
        float(np.median(predicted.ridge)), rel=0.02
    )
    assert flown.width == pytest.approx(predicted.width, rel=0.02)
    assert np.corrcoef(flown.density.ravel(), predicted.density.ravel())[0, 1] > 0.97


def test_width_of_a_trace_of_known_width(axial_coil_tube):
    # Full width at half maximum is 2.355 sigma; grain adds in squares.
    glow = make_glow(axial_coil_tube, FACE)
    picture = axial_coil_tube.picture(FACE, electrons=20_000)
    sigma = math.hypot(float(picture.mean_trace.width_v[0]), GRAIN)
    assert glow.width == pytest.approx(2.3548 * sigma, rel=1e-3)


@pytest.mark.parametrize("settings", [
    Settings(accelerating_voltage=3000.0, heater_on=False),
    Settings(accelerating_voltage=0.0),
])  # fmt: skip
def test_no_beam_is_dark(deflection_tube, settings):
    assert make_glow(deflection_tube, settings).is_dark


def test_ripple_of_the_trace(deflection_tube):
    # d ln(V - V_dead) / d ln V = V / (V - V_dead); a first-order low-pass damps by
    # 1 / sqrt(1 + (2 pi f tau)²); the bench's supply has 0.2 % of ripple at 100 Hz.
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    layer = Phosphor(dead_voltage=200.0, saturation=1e6, decay=0.0)
    scene = Scene(phosphor=layer, beam_current=1e-7)
    lost = float(dead_voltage(200.0, glow.grazing))
    swing = 0.001 * glow.voltage / (glow.voltage - lost)
    assert trace_flicker(bench, TUBE, scene, glow) == pytest.approx(swing, rel=2e-3)
    slow = Scene(phosphor=layer.model_copy(update={"decay": 0.01}), beam_current=1e-7)
    damped = swing / math.sqrt(1.0 + (2.0 * math.pi * 100.0 * 0.01) ** 2)
    assert trace_flicker(bench, TUBE, slow, glow) == pytest.approx(damped, rel=2e-3)
    # A whole period of the ripple averages it out.
    assert trace_flicker(bench, TUBE, scene, glow, shutter=0.01) == pytest.approx(0.0, abs=1e-12)
    smooth = TUBE.model_copy(update={"ripple": False})
    assert trace_flicker(bench, smooth, scene, glow) == 0.0
