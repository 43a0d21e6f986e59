"""The width of the line against closed forms, at every number of electrons.

Without fields an electron flies straight, so the line's width follows from how it left the slit:

- a slit of height h, parallel electrons: standard deviation h / sqrt(12) of an even spread;
- directions spread evenly within +-theta: x tan(theta) / sqrt(3) for small angles;
- a cathode at temperature T: each component of velocity across the beam has the standard deviation
  sqrt(k T / m) (Maxwell's distribution), which makes x sqrt(k T / m) / v at the distance x;
- a disc of radius r, evenly lit: r / 2 along any diameter.

Textbook statistics, derived here; no single source.
"""

import math

import numpy as np
import pytest
from scipy.constants import electron_mass, elementary_charge, k

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

VOLTAGE = 1500.0
STILL = {"thermal_spread": False, "ripple": False, "divergence": False}
NUMBERS = [200, 1000, 5000, 20_000, 100_000]
SEEDS = range(3)


def with_changes(tube, **changes):
    bench = change(tube.bench, {f"gun.{name}": value for name, value in changes.items()})
    return PreparedBench(bench, tube.fields, tube.earth)


def widths(tube, electrons, expected, **causes):
    """Give the root mean square width of the rows over what is expected at their places."""
    settings = Settings(accelerating_voltage=VOLTAGE, **STILL | causes)
    found, wanted = [], []
    for seed in SEEDS:
        picture = tube.picture(settings, electrons=electrons, seed=seed, model="ideal")
        trace, screen = picture.mean_trace, tube.bench.screen
        x = trace.u * math.cos(screen.angle) if screen.kind == "sheet" else screen.x
        there = expected(np.asarray(x) + 0.0 * trace.u)
        found.append(np.average(trace.width_v**2, weights=trace.weight))
        wanted.append(np.average(there**2, weights=trace.weight))
    return math.sqrt(sum(found) / sum(wanted))


@pytest.mark.parametrize("electrons", NUMBERS)
def test_slit(deflection_tube, electrons):
    height = deflection_tube.bench.gun.aperture_height
    found = widths(deflection_tube, electrons, lambda x: height / math.sqrt(12) + 0 * x)
    assert found == pytest.approx(1.0, abs=0.01 if electrons == 200 else 0.003)


@pytest.mark.parametrize("electrons", NUMBERS)
def test_divergence(deflection_tube, electrons):
    angle = math.radians(2.0)
    tube = with_changes(
        deflection_tube, aperture_height="0.01 mm", divergence_vertical="2 deg",
        divergence_sideways="0 deg",
    )  # fmt: skip
    found = widths(tube, electrons, lambda x: x * math.tan(angle) / math.sqrt(3), divergence=True)
    assert found == pytest.approx(1.0, abs=0.02 if electrons == 200 else 0.005)


@pytest.mark.parametrize("electrons", NUMBERS)
def test_thermal_spread(deflection_tube, electrons):
    tube = with_changes(deflection_tube, aperture_height="0.01 mm", cathode_temperature="3000 K")
    speed = math.sqrt(2 * elementary_charge * VOLTAGE / electron_mass)  # 0.2 % relativity left out
    across = math.sqrt(k * 3000.0 / electron_mass)
    found = widths(tube, electrons, lambda x: x * across / speed, thermal_spread=True)
    assert found == pytest.approx(1.0, abs=0.02 if electrons == 200 else 0.01)


@pytest.mark.parametrize("electrons", NUMBERS)
def test_a_line_that_climbs_is_no_wider(deflection_tube, electrons):
    """An arc in a uniform flux density: its slope within a row does not count as width."""
    height = deflection_tube.bench.gun.aperture_height
    found = []
    for current in (0.0, 0.1):
        settings = Settings(accelerating_voltage=VOLTAGE, coil_current=current, **STILL)
        trace = deflection_tube.picture(settings, electrons=electrons, model="ideal").mean_trace
        found.append(math.sqrt(np.average(trace.width_v**2, weights=trace.weight)))
    # Parallel electrons of one speed describe equal arcs one above the other.
    assert found[1] == pytest.approx(found[0], rel=0.003)
    assert found[1] == pytest.approx(height / math.sqrt(12), rel=0.02)


@pytest.mark.parametrize("electrons", NUMBERS)
def test_round_aperture(axial_coil_tube, electrons):
    radius = axial_coil_tube.bench.gun.aperture_height / 2
    found = widths(axial_coil_tube, electrons, lambda x: radius / 2 + 0 * x)
    assert found == pytest.approx(1.0, abs=0.01 if electrons == 200 else 0.003)
