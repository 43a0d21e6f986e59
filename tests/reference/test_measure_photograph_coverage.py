"""From whole synthetic photographs to e/m: how often the stated interval holds the truth.

Everything that is uncertain is drawn anew for each seed: the meters' errors, the tube's constants,
where the camera stands, its lens, noise, blur and light, and every click. The traces are circles
and catenaries written down here in closed form (momentum of a relativistic electron, any text on
mechanics); the camera is a pinhole with a radially distorting lens (see
`test_photograph_accuracy.py`). Not from a publication: a 95 % interval is right if it covers the
truth in 95 of 100 repetitions (GUM 2.3.5, JCGM 101 3.12); the band of 93 to 97 % is about two
standard errors of 500 trials.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.photograph_readings import KnobReadings, circle_readings, line_readings
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import reading, table
from glowtrace.measure.tube import nominal_tube
from glowtrace.photographs.circle import circle_of_line
from glowtrace.photographs.grid import fit_screen_map, screen_rectangle_of
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, take_photograph
from glowtrace.photographs.trace_line_extraction import extract_line

TRUE = 1.06 * SPECIFIC_CHARGE  # not what the program has in its tables
METERS = {
    "accelerating_voltage": Instrument(resolution=1.0, gain_limit=0.006),
    "plate_voltage": Instrument(resolution=1.0, gain_limit=0.006),
    "coil_current": Instrument(resolution=1e-3, gain_limit=0.008),
}
GRID = Known(0.0, 0.003), Known(0.0, 0.3e-3)  # tilt, shift


class Laboratory:
    """One seed's bench as it truly is, with its meters and its camera."""

    def __init__(self, name: str, seed: int) -> None:
        self.bench = ready_made(name)
        self.rng = np.random.default_rng(seed)
        self.tube = nominal_tube(self.bench, "ideal")
        self.gain = {n: self.rng.uniform(-m.gain_limit, m.gain_limit) for n, m in METERS.items()}
        self.has_lens = bool(self.rng.random() < 0.5)

    def draw(self, known: Known, nominal: float = 0.0) -> float:
        """Draw the truth about a constant that is known beforehand."""
        middle = nominal if known.value is None else known.value
        return middle + known.uncertainty * self.rng.normal()

    def shown(self, meter: str, true: float) -> float:
        """What a meter shows: with its gain, to its last figure."""
        step = METERS[meter].resolution
        return round(true * (1 + self.gain[meter]) / step) * step

    def momentum(self, voltage: float) -> float:
        """Momentum over charge in T m behind a voltage."""
        return math.sqrt(2 * voltage / TRUE + (voltage / SPEED_OF_LIGHT) ** 2)

    def energy(self, voltage: float) -> float:
        """Energy over rest energy behind a voltage."""
        return 1.0 + TRUE * voltage / SPEED_OF_LIGHT**2

    def line(self, curve: np.ndarray, width: float, distance: float, shape: str):
        """Photograph a curve, click, and extract the line."""
        rectangle = screen_rectangle_of(self.bench)
        u0, v0, u1, v1 = rectangle
        rng = self.rng
        camera = Camera(
            ((u0 + u1) / 2, (v0 + v1) / 2), distance, *rng.uniform(-0.3, 0.3, 2),
            rng.uniform(-0.05, 0.05), size=(480, 360), focal_length=525.0,
            distortion=rng.uniform(-0.05, 0.02) if self.has_lens else 0.0,
        )  # fmt: skip
        how = Conditions(
            exposure=rng.uniform(0.2, 0.7), blur=rng.uniform(0.6, 1.6),
            full_electrons=10 ** rng.uniform(2.8, 4.0), read_noise=rng.uniform(0.001, 0.006),
            room_light=rng.uniform(0.005, 0.03), gradient=rng.uniform(0.0, 1.0),
            grid_pitch=self.bench.screen.grid_pitch, seed=int(rng.integers(2**31)),
        )  # fmt: skip
        photograph = take_photograph(CurveLight(curve, width), camera, rectangle, how)
        grid = printed_grid(self.bench)
        left, middle, right = grid.u[0], grid.u[len(grid.u) // 2], grid.u[-1]
        bottom, top = grid.v[0], grid.v[-1]
        places = [(left, bottom), (right, bottom), (right, top), (left, top)]
        if self.has_lens:
            half = grid.v[len(grid.v) // 2]
            places += [(middle, bottom), (middle, top), (left, half), (right, half)]
        clicks = camera.clicks(places, uncertainty=0.7, seed=int(rng.integers(2**31)))
        found = fit_screen_map(photograph, clicks, rectangle, lens=self.has_lens)
        return extract_line(photograph, found, shape=shape, grid_pitch=grid.pitch)


def on_sheet(lab: Laboratory, x: np.ndarray, y: np.ndarray, tilt: float, shift: float):
    """A trace on the inclined sheet, as its grid shows it."""
    return np.column_stack([x / lab.tube.grid_cosine, y + shift + tilt * x])


def arcs(seed: int):
    """Two photographs of arcs on the sheet of a deflection tube, the current reversed."""
    lab = Laboratory("deflection tube", seed)
    known = {
        "coil_constant": Known(None, 0.004 * lab.tube.coil_constant),
        "contact_offset": Known(0.0, 2.0), "earth_z": Known(0.0, 8e-6),
        "grid_tilt": GRID[0], "grid_shift": GRID[1],
    }  # fmt: skip
    constant = lab.draw(known["coil_constant"], lab.tube.coil_constant)
    contact, earth = lab.draw(known["contact_offset"]), lab.draw(known["earth_z"])
    tilt, shift = map(lab.draw, GRID)
    x = np.linspace(0.005, 0.108, 400)
    tables = []
    for sign in (1.0, -1.0):
        voltage = lab.rng.uniform(2900.0, 3100.0)
        current = sign * lab.rng.uniform(0.13, 0.15)
        radius = lab.momentum(voltage + contact) / (constant * current + earth)
        y = math.copysign(1.0, radius) * (abs(radius) - np.sqrt(radius**2 - x**2))
        line = lab.line(on_sheet(lab, x, y, tilt, shift), 0.4e-3, 0.17, "single-valued")
        knobs = KnobReadings(
            reading(lab.shown("accelerating_voltage", voltage)),
            coil_current=reading(lab.shown("coil_current", current)),
        )
        meters = {name: METERS[name] for name in ("accelerating_voltage", "coil_current")}
        tables.append(line_readings(line, lab.bench.screen, knobs, instruments=meters))
    return experiment(lab.bench, tables, known=known)


def parabolas(seed: int):
    """Two photographs of parabolas give the plates' gap, nulls read off meters e/m with it."""
    lab = Laboratory("deflection tube", seed)
    known = {
        "plate_gap": Known(None, 2e-3), "plate_length": Known(None, 0.5e-3),
        "coil_constant": Known(None, 0.003 * lab.tube.coil_constant),
        "contact_offset": Known(0.0, 2.0), "grid_tilt": GRID[0], "grid_shift": GRID[1],
    }  # fmt: skip
    gap, length = (
        lab.draw(known[name], getattr(lab.tube, name)) for name in ("plate_gap", "plate_length")
    )
    constant = lab.draw(known["coil_constant"], lab.tube.coil_constant)
    contact = lab.draw(known["contact_offset"])
    tilt, shift = map(lab.draw, GRID)
    x = np.linspace(0.005, 0.108, 400)
    tables = []
    for sign in (1.0, -1.0):
        voltage, plates = lab.rng.uniform(2900.0, 3100.0), sign * lab.rng.uniform(1100.0, 1200.0)
        # A constant force across: the catenary y = (energy / force) (cosh(force x / p c) - 1)
        momentum, energy = lab.momentum(voltage + contact), lab.energy(voltage + contact)
        bend = (plates / gap) / (momentum * SPEED_OF_LIGHT)
        within = np.clip(x - lab.tube.plate_start, 0.0, length)
        scale = energy * SPEED_OF_LIGHT**2 / TRUE / (plates / gap)
        y = scale * (np.cosh(bend * within) - 1.0)
        slope = scale * bend * math.sinh(bend * length)
        y = y + slope * np.maximum(x - lab.tube.plate_start - length, 0.0)
        line = lab.line(on_sheet(lab, x, y, tilt, shift), 0.4e-3, 0.17, "single-valued")
        knobs = KnobReadings(
            reading(lab.shown("accelerating_voltage", voltage)),
            plate_voltage=reading(lab.shown("plate_voltage", plates)),
        )
        meters = {name: METERS[name] for name in ("accelerating_voltage", "plate_voltage")}
        tables.append(line_readings(line, lab.bench.screen, knobs, instruments=meters))
    rows = []
    for sign in (1.0, -1.0, 1.0, -1.0):
        voltage, current = lab.rng.uniform(2900.0, 3100.0), sign * lab.rng.uniform(0.13, 0.18)
        momentum, energy = lab.momentum(voltage + contact), lab.energy(voltage + contact)
        plates = -constant * current * gap * TRUE * momentum / energy
        judged = reading(lab.shown("plate_voltage", plates + 4.0 * lab.rng.normal()))
        rows.append(
            {"accelerating_voltage": lab.shown("accelerating_voltage", voltage),
             "coil_current": lab.shown("coil_current", current), "plate_voltage": judged}
        )  # fmt: skip
    # Judged by the trace at the plates' far edge, where 4 V too much lift it by 0.04 mm over where
    # it lies without deflection: how the grid lies does not matter.
    voltmeter = replace(METERS["plate_voltage"], judgement=4.0)
    meters = METERS | {"plate_voltage": voltmeter}
    nulls = table("null", rows, meters)
    return experiment(lab.bench, [nulls, *tables], known=known)


def circles(seed: int):
    """Three photographs of circles in a bulb."""
    lab = Laboratory("fine-beam bulb", seed)
    known = {
        "coil_constant": Known(None, 0.004 * lab.tube.coil_constant),
        "contact_offset": Known(0.0, 0.7), "earth_z": Known(0.0, 8e-6),
    }  # fmt: skip
    constant = lab.draw(known["coil_constant"], lab.tube.coil_constant)
    contact, earth = lab.draw(known["contact_offset"]), lab.draw(known["earth_z"])
    angle = np.linspace(-np.pi / 2, 1.45 * np.pi, 900)
    rows = []
    for volts, amperes in ((200.0, 1.5), (250.0, 1.45), (180.0, 1.7)):
        voltage, current = (
            volts * lab.rng.uniform(0.99, 1.01),
            amperes * lab.rng.uniform(0.99, 1.01),
        )
        radius = lab.momentum(voltage + contact) / (constant * current + earth)
        curve = radius * np.column_stack([np.cos(angle), 1 + np.sin(angle)])
        line = lab.line(curve, 0.7e-3, 0.30, "loop")
        knobs = KnobReadings(
            reading(lab.shown("accelerating_voltage", voltage)),
            coil_current=reading(lab.shown("coil_current", current)),
        )
        rows += circle_readings(circle_of_line(line), knobs).rows
    meters = {name: METERS[name] for name in ("accelerating_voltage", "coil_current")}
    return experiment(lab.bench, table("circle", rows, meters), known=known)


SETUPS = {"arcs": arcs, "parabolas": parabolas, "circles": circles}


def outcome(name: str, seed: int) -> tuple[float, ...]:
    """Error and its interval, relative to the truth; chi-square and its degrees of freedom."""
    setup = SETUPS[name](seed)
    fit = setup.fit()
    found = fit_budget(setup, fit)
    relative = found.value / TRUE - 1, found.uncertainty / TRUE, found.expanded / TRUE
    return *relative, fit.chi_square, fit.degrees_of_freedom


def outcomes(name: str, seeds: int) -> np.ndarray:
    # Two processes at most: other work runs beside the tests.
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        return np.array(list(pool.map(outcome, [name] * seeds, range(seeds), chunksize=4)))


def in_standard_uncertainties(found: np.ndarray) -> np.ndarray:
    return found[:, 0] / found[:, 1]


def covered_share(found: np.ndarray) -> float:
    return float(np.mean(np.abs(found[:, 0]) <= found[:, 2]))


def poor_share(found: np.ndarray, chance: float) -> float:
    """Share of the fits whose chi-square is larger than chance makes it in that share."""
    return float(np.mean(stats.chi2.sf(found[:, 3], found[:, 4]) < chance))


@pytest.mark.slow
@pytest.mark.parametrize("name", SETUPS)
def test_an_interval_from_photographs_holds_the_truth(name):
    found = np.array([outcome(name, 1)])
    assert covered_share(found) == 1.0
    assert stats.chi2.sf(found[:, 3].sum(), found[:, 4].sum()) > 1e-3


@pytest.mark.thorough
@pytest.mark.parametrize("name", SETUPS)
def test_most_intervals_from_photographs_hold_the_truth(name):
    # 20 trials of 95 %: 15 or fewer hits have a chance of 0.26 % (binomial); a standard deviation
    # of the normalised errors outside 0.55 to 1.55 has one of less than 1 % (chi-square).
    found = outcomes(name, 20)
    assert covered_share(found) >= 16 / 20
    assert 0.55 < np.sqrt(np.mean(in_standard_uncertainties(found) ** 2)) < 1.55
    # The sum of all chi-squares is chi-square distributed: model and stated uncertainties agree
    # with what was drawn, or the verdict of a sound fit would be "poor" too often.
    assert stats.chi2.sf(found[:, 3].sum(), found[:, 4].sum()) > 1e-3


@pytest.mark.thorough
@pytest.mark.parametrize("name", SETUPS)
def test_coverage_of_the_95_percent_interval_and_rate_of_poor_verdicts(name):
    found = outcomes(name, 500)
    assert 0.93 <= covered_share(found) <= 0.97
    # The verdict is "poor" below a chance of 1 %. The uncertainty of a photograph's points is taken
    # from their own scatter, which is known to a tenth or so: chi-square therefore scatters by 1.3
    # times what it should, to both sides. 250 seeds gave 6 and 11 % (arcs), 4 and 9 % (parabolas)
    # instead of 1 and 5 %; three standard errors of 500 are 3 and 4 %.
    assert poor_share(found, 0.01) <= 0.09
    assert poor_share(found, 0.05) <= 0.15
