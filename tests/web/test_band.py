"""The band of where the line may lie, as the page shows it."""

from __future__ import annotations

import asyncio

import numpy as np
import pytest
from scipy.stats import chi2

from glowtrace.bench.checking import change
from glowtrace.bench.learning import learn
from glowtrace.bench.prediction import FACTOR, predict
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.web.knob_history import KnobHistory
from glowtrace.web.rack import Rack
from glowtrace.web.showing import RESTING, TURNING, Setup, compute_showing

UP = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(change(ready_made("deflection tube"), {"plates.gap": "49(1) mm"}))


def test_a_bench_of_which_nothing_is_known_shows_no_band(deflection_tube) -> None:
    belief = asyncio.run(Rack(None).believe(deflection_tube))
    assert belief.names == ()
    shown = compute_showing(Setup(deflection_tube, UP, "bench", 0.09, None, belief), TURNING)
    assert len(shown.band) == 0
    assert shown.doubt == ""


def test_the_band_lies_around_the_line_and_is_told_at_the_place(tube) -> None:
    belief = asyncio.run(Rack(None).believe(tube))
    shown = compute_showing(Setup(tube, UP, "bench", 0.09, None, belief), RESTING)
    upper, lower = np.split(shown.band, 2)
    lower = lower[::-1]
    u = tube.plane.u_of(0.09)
    height = predict(tube, UP, belief=belief).height(0.09)
    edges = [np.interp(u, side[:, 0], side[:, 1]) for side in (lower, upper)]
    expected = [height.value + side * FACTOR * height.uncertainty for side in (-1.0, 1.0)]
    assert edges == pytest.approx(expected, abs=0.15e-3)
    assert "95 %" in shown.doubt
    assert "x = 90.0 mm" in shown.doubt


def test_a_held_line_is_that_of_its_own_knobs(tube) -> None:
    held = UP.model_copy(update={"plate_voltage": 500.0})
    shown = compute_showing(Setup(tube, UP, "bench", 0.09, None, None, held), TURNING)
    inside = shown.held[np.isfinite(shown.held).all(axis=1)]
    height = np.interp(tube.plane.u_of(0.09), inside[:, 0], inside[:, 1])
    assert height == pytest.approx(tube.line_height(held, 0.09), abs=0.1e-3)


def test_the_textbooks_trace_is_lower_or_higher_by_what_its_parabola_says(tube) -> None:
    # y = V_p x^2 / (4 d V_a) between plates that are long enough: Halliday, Resnick, Walker,
    # Fundamentals of Physics, electric fields (from memory); relativity takes off 0.3 % at 3 kV.
    x, start, gap = 0.08, 0.009, 0.049
    parabola = 900.0 * (x - start) ** 2 / (4.0 * gap * 3000.0)
    shown = compute_showing(Setup(tube, UP, "bench", x), RESTING)
    assert shown.off_textbook == pytest.approx(tube.line_height(UP, x) - parabola, abs=0.1e-3)


def test_a_knob_that_is_turned_without_a_pause_goes_back_in_one_step() -> None:
    history = KnobHistory()
    steps = [UP.model_copy(update={"plate_voltage": volts}) for volts in (900.0, 910.0, 920.0)]
    history.note(steps[0], steps[1], 10.0)
    history.note(steps[1], steps[2], 10.2)
    later = steps[2].model_copy(update={"coil_current": 0.1})
    history.note(steps[2], later, 10.3)
    assert [history.back(), history.back(), history.back()] == [steps[2], steps[0], None]


def test_the_textbooks_fields_have_no_band(tube) -> None:
    belief = learn(tube).after
    shown = compute_showing(Setup(tube, UP, "ideal", 0.09, None, belief), TURNING)
    assert len(shown.band) == 0


def test_a_spot_has_an_ellipse_that_holds_95_percent() -> None:
    coil = ready_made("axial coil tube")
    spot = prepare(change(coil, {"coils.mean_radius": f"{1e3 * coil.coils.mean_radius} mm ± 1 mm"}))
    settings = Settings(accelerating_voltage=1000.0)
    found = predict(spot, settings)
    outline = found.outline
    change_of = found.response.at_x(spot.bench.screen.x)
    rows = change_of[:, ::-1]
    inverse = np.linalg.inv(rows.T @ found.belief.covariance @ rows)
    away = outline - outline[:-1].mean(axis=0)
    # Of two normal numbers 95 % lie within a chi-square of 5.99 (tables of two degrees of freedom).
    assert np.einsum("ki,ij,kj->k", away, inverse, away) == pytest.approx(chi2.ppf(0.95, 2))
