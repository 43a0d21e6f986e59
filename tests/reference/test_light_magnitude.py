"""Whether the model's luminances are of the right order, where everyday experience tells them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import assess, assess_glow
from glowtrace.light.glow import Glow
from glowtrace.light.luminance import trace_luminance
from glowtrace.light.scene import Phosphor, Room, Scene


def evenly_lit(area: float, voltage: float) -> Glow:
    """A face that the whole beam lights evenly, struck at right angles."""
    density = np.full((1, 1), 1.0 / area)
    return Glow(False, density, (0, 1, 0, 1), np.zeros(1), density[0], 1e-3, 0.1, voltage,
                math.pi / 2)  # fmt: skip


def test_a_picture_tube_is_as_bright_as_one():
    # A black-and-white picture tube: some 15 kV, 100 µA on the mean, on a face of about 0.06 m²
    # shows whites of 100 to 300 cd/m² (from memory). Its phosphor is several times as efficient
    # as the slow one of a demonstration tube, some 15 % (from memory).
    glow = evenly_lit(0.06, 15e3)
    tube = Phosphor(efficiency=0.15, breadth=120e-9, peak=540e-9)
    scene = Scene(phosphor=tube, beam_current=100e-6, beam_share=1.0)
    luminance = float(trace_luminance(ready_made("axial coil tube"), scene, glow, 1.0 / 0.06)[0])
    assert 100.0 / 3.0 < luminance < 300.0 * 3.0


def test_white_paper_in_full_sun():
    # 100 000 lx on a white sheet: rho E / pi, about 25 000 cd/m² (from memory: 20 000 to 30 000).
    bench, glow = ready_made("axial coil tube"), evenly_lit(1e-3, 600.0)
    scene = Scene(room=Room(illuminance=1e5), phosphor=Phosphor(reflectance=0.8))
    found = assess_glow(bench, Settings(accelerating_voltage=600.0), scene, glow)
    assert float(found.behind.room[0]) == pytest.approx(25_000.0, rel=0.2)


def test_demonstrations_as_they_are_given(deflection_tube, fine_beam_bulb):
    # Common practice, no source: the glow of gas is shown in the dark and is gone in a lit room;
    # a beam of tens of microamperes on phosphor is seen with the blinds down.
    bulb = Settings(accelerating_voltage=200.0, coil_current=1.5)
    tube = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)

    def word(prepared, settings, lux, **more):
        return assess(prepared, settings, Scene(room=Room(illuminance=lux), **more)).eye.word

    assert word(fine_beam_bulb, bulb, 400.0) == "no"
    assert word(fine_beam_bulb, bulb, 0.3, away=3.0) in ("probably", "surely")
    assert word(deflection_tube, tube, 20.0, beam_current=30e-6) == "surely"
    assert word(deflection_tube, tube, 20_000.0, beam_current=3e-6) == "no"
