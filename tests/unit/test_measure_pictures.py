"""Readings taken off whole pictures, with the spread of the beam, against the fits.

The pictures are made by another way through the program (bundle, screen, mean of the light) than
the axis that the fits trace; what is read off them has to lead back to the accepted e/m.
"""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.measure.calibration import calibrate_tube
from glowtrace.measure.experiment import experiment
from glowtrace.measure.fits.fitted import FitVerdict
from glowtrace.measure.observing import Knobs, observe
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import nominal_tube

RULER = {"ruler": Instrument(resolution=0.2e-3)}
PLACES = np.linspace(0.03, 0.1, 57)
"""Along the sheet, which stands at 6 degrees to the beam. Each column of the picture has the mean
of about 100 electrons from a slit 1 mm high, so it takes many places to average that out."""


def heights(prepared, settings):
    trace = prepared.picture(settings, electrons=20_000).mean_trace
    return {float(u): trace.at(u)[0] for u in PLACES}


def test_arcs_on_a_sheet_at_an_angle(deflection_tube):
    rows = [
        {"x": u, "y": v, "accelerating_voltage": 3000.0, "coil_current": current}
        for current in (0.12, -0.12)
        for u, v in heights(
            deflection_tube,
            Settings(accelerating_voltage=3000.0, coil_current=abs(current),
                     coil_reversed=current < 0),
        ).items()
    ]  # fmt: skip
    found = experiment(deflection_tube, table("coils only", rows, RULER), model="bench").fit()
    assert found.value("specific_charge") == pytest.approx(SPECIFIC_CHARGE, rel=3e-3)
    assert found.verdict in (FitVerdict.GOOD, FitVerdict.TOO_GOOD)
    # 1 / cos(6 deg) = 1.0056 along the sheet would be 2 x 2 x 0.6 % of e/m = 2.2 %, if left out.
    ideal = experiment(deflection_tube.bench, table("coils only", rows, RULER)).fit()
    assert abs(ideal.value("specific_charge") / SPECIFIC_CHARGE - 1) > 0.03


@pytest.mark.parametrize("tie", ["symmetric", "lower at anode"])
def test_plates_and_their_tie(deflection_tube, tie):
    rows = [
        {"x": u, "y": v, "accelerating_voltage": 3000.0, "plate_voltage": 900.0}
        for u, v in heights(
            deflection_tube,
            Settings(accelerating_voltage=3000.0, plate_voltage=900.0, plate_tie=tie),
        ).items()
    ]
    made = table("plates only", rows, RULER, plate_tie=tie)
    day = datetime.date(2026, 1, 2)
    traced = calibrate_tube(deflection_tube, made, model="bench", date=day).calibration
    assert traced.plate_factor.value == pytest.approx(1.0, abs=3e-3)
    ideal = calibrate_tube(deflection_tube, made, model="ideal", date=day).calibration
    assert ideal.plate_factor.value < 0.95


def test_the_current_of_the_smallest_spot(axial_coil_tube):
    tube = nominal_tube(axial_coil_tube.bench, "bench")
    length = axial_coil_tube.bench.screen.x
    expected = observe("axial focus", Tracer(axial_coil_tube), tube, Knobs(500.0, length=length))
    currents = expected.value * np.linspace(0.97, 1.03, 13)

    def spread(current):
        shown = axial_coil_tube.picture(
            Settings(accelerating_voltage=500.0, coil_current=float(current), ripple=False,
                     thermal_spread=False),
            electrons=4000,
        )  # fmt: skip
        return shown.landings.var(axis=0).sum()

    bend, slope, _ = np.polyfit(currents, [spread(each) for each in currents], 2)
    assert expected.value == pytest.approx(-slope / (2 * bend), rel=2e-3)


def test_the_diameter_of_a_glowing_circle(fine_beam_bulb):
    tube = nominal_tube(fine_beam_bulb.bench, "bench")
    knobs = Knobs(200.0, coil_current=1.5)
    expected = observe("circle", Tracer(fine_beam_bulb), tube, knobs).value
    shown = fine_beam_bulb.picture(Settings(accelerating_voltage=200.0, coil_current=1.5))
    # Rows 2.5 mm apart miss the top by up to s^2 / 8 R = 20 um, and divergence by 0.5 deg turns
    # circles about the start, which lowers their tops by up to a^2 / 2 x R.
    assert shown.mean_trace.v.max() == pytest.approx(expected, abs=40e-6)
