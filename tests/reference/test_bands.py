"""How far each number moves the line, and where the line may lie, against outside references.

Closed forms of straight flight, the parabola and the circle (D. Halliday, R. Resnick, J. Walker,
Fundamentals of Physics, chapters on electric and magnetic fields; from memory); GUM
(JCGM 100:2008) 5.1 for the spread of a sum; whole benches with their fields solved anew.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.constants import c, e, m_e

from band_coverage import KNOBS, flown, known_bench, settings_of, whole_bench
from glowtrace.beam.variation import vary_path
from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.checking import change
from glowtrace.bench.doubts import Seen
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import Belief, learn, narrowed, prior
from glowtrace.bench.line_response import distances, line_response
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made

X = 0.095


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(known_bench())


def slope(tube: PreparedBench, knobs: tuple[float, float, float], name: str, x: float = X) -> float:
    response = line_response(tube, tube.effects, settings_of(*knobs))
    found = response.at_x(x)
    assert found is not None
    return float(found[tube.effects.names.index(name), 0])


def speed(voltage: float) -> float:
    """Gamma v of an electron that passed a voltage."""
    ratio = e * voltage / (m_e * c**2)
    return c * math.sqrt(ratio * (ratio + 2.0))


def test_a_change_of_the_flux_density_turns_a_circle_into_the_next() -> None:
    # An electron flies a circle of radius R = m gamma v / (e B); after a length s it is at
    # (R sin(s/R), R (1 - cos(s/R))).
    flux, u, spacing, count = 2e-3, speed(1500.0), 1e-3, 201
    radius = m_e * u / (e * flux)
    turned = np.arange(count) * spacing / radius
    states = np.zeros((count, 6))
    states[:, 0], states[:, 1] = radius * np.sin(turned), radius * (1.0 - np.cos(turned))
    states[:, 3], states[:, 4] = u * np.cos(turned), u * np.sin(turned)
    nothing, even = np.zeros((count, 3)), np.tile([0.0, 0.0, flux], (count, 1))
    slopes = np.zeros((count, 3, 3))
    more = np.zeros((1, count, 3)), np.tile([0.0, 0.0, 1.0], (1, count, 1))
    (moved,) = vary_path(states, (nothing, even), (slopes, slopes), more, np.zeros((1, 6)), spacing)
    per_radius = -radius / flux
    s = turned[::2]
    expected = per_radius * np.stack(
        [np.sin(s) - s * np.cos(s), 1.0 - np.cos(s) - s * np.sin(s), 0.0 * s], axis=1
    )
    assert moved == pytest.approx(expected, abs=1e-7 * radius / flux)


def test_straight_flight(tube: PreparedBench) -> None:
    dark = (3000.0, 0.0, 0.0)
    assert slope(tube, dark, "slack.beam_rise") == pytest.approx(X, rel=1e-6)
    assert slope(tube, dark, "slack.beam_height") == pytest.approx(1.0, rel=1e-6)
    assert slope(tube, dark, "slack.grid_height") == 1.0
    # A weak field bends the line by x^2 / (2 R).
    by_field = e * X**2 / (2.0 * m_e * speed(3000.0))
    assert slope(tube, dark, "slack.stray_field[2]") == pytest.approx(by_field, rel=2e-4)


def test_parabola_and_circle(tube: PreparedBench) -> None:
    # y ~ V_p / V_a between plates and y ~ B / sqrt V_a in coils, for small deflections and speeds;
    # the second order is (y/x)^2, and the relativistic one 1 % at 5 kV.
    plates, coils = (3000.0, 300.0, 0.0), (3000.0, 0.0, -0.03)
    for knobs, name, power in (
        (plates, "slack.plate_meter", 1.0),
        (plates, "slack.accelerating_meter", -1.0),
        (coils, "slack.coil_meter", 1.0),
        (coils, "slack.accelerating_meter", -0.5),
    ):
        height = tube.line_height(settings_of(*knobs), X)
        assert slope(tube, knobs, name) / height == pytest.approx(power, abs=0.01), name


def test_wide_plates_deflect_as_one_over_their_gap() -> None:
    # d ln y / d ln gap = -1 where the fringe is small: plates nine gaps long.
    changes = {"plates.gap": "8(1) mm", "screen.height": "6 mm", "gun.aperture_height": "0.5 mm"}
    narrow = prepare(change(ready_made("deflection tube"), changes))
    knobs = (4000.0, 60.0, 0.0)
    height = narrow.line_height(settings_of(*knobs), X)
    found = slope(narrow, knobs, "plates.gap") * 0.008 / height
    assert found == pytest.approx(-1.0, abs=0.03)


def test_the_spread_is_that_of_a_sum(tube: PreparedBench) -> None:
    # GUM 5.1.2: u^2 = sum (c_i u_i)^2 for numbers that do not go together.
    found = predict(tube, settings_of(*KNOBS["plates"]), belief=prior(knowledge_of(tube.bench)))
    shares = found.shares(X)
    assert found.way == "linear"
    assert sum(each.share for each in shares) == pytest.approx(1.0)
    alone = math.sqrt(sum(each.alone**2 for each in shares))
    assert found.height(X).uncertainty == pytest.approx(alone, rel=1e-9)
    without = [math.sqrt(alone**2 - each.alone**2) for each in shares]
    assert [each.without for each in shares] == pytest.approx(without)


def test_one_more_reading_is_the_weighted_mean() -> None:
    # Two readings of one thing: 1/u^2 = 1/u1^2 + 1/u2^2 (least squares, GUM H.5 and any textbook).
    before = Belief(("plates.gap",), np.zeros(1), np.array([[0.3**2]]))
    after = narrowed(before, np.array([1.0]), 0.4)
    assert math.sqrt(after.covariance[0, 0]) == pytest.approx(0.24)


@pytest.mark.slow
def test_whole_benches_lie_where_linear_puts_them(tube: PreparedBench) -> None:
    names = tube.effects.names
    sizes = knowledge_of(tube.bench).uncertainties
    drawn = np.random.default_rng(5).standard_normal((2, len(names))) * sizes
    for numbers in drawn:
        whole, off = whole_bench(tube.bench, names, numbers)
        for knobs in (KNOBS["plates"], KNOBS["null"]):
            settings = settings_of(*knobs)
            response = line_response(tube, tube.effects, settings)
            places = np.array([len(response.position) - 8])
            path = flown(whole, off, settings)
            true = distances(response, places, path, off["slack.grid_height"])
            linear = numbers @ response.across[:, places]
            spread = np.sqrt((sizes**2) @ response.across[:, places] ** 2)
            assert abs(true - linear) < 0.1 * spread


def test_loops_are_told_by_whole_electrons(tube: PreparedBench) -> None:
    found = predict(tube, settings_of(*KNOBS["loops"]))
    assert found.way == "rays"
    line = predict(tube, settings_of(*KNOBS["coils"]))
    assert line.way == "linear"
    assert line.elsewhere == 0.0


def test_a_circle_is_as_wide_as_its_current_and_voltage_make_it() -> None:
    # D = 2 m v / (e B) with v ~ sqrt(V): d ln D / d ln I = -1, d ln D / d ln V = 1/2, and where the
    # beam begins does not count. The pair's field falls off by less than 2 % over the circle.
    bulb = prepare(change(ready_made("fine-beam bulb"), {"coils.spacing": "163(2) mm"}))
    settings = settings_of(230.0, 0.0, 1.7)
    response = line_response(bulb, bulb.effects, settings)
    turn = response.at_turn()
    assert turn is not None
    slopes = dict(zip(bulb.effects.names, turn / bulb.line_turn(settings), strict=True))
    assert slopes["slack.coil_meter"] == pytest.approx(-1.0, abs=0.03)
    assert slopes["slack.accelerating_meter"] == pytest.approx(0.5, abs=0.02)
    assert slopes["slack.grid_height"] == pytest.approx(0.0, abs=1e-9)
    assert abs(slopes["slack.beam_height"]) * bulb.line_turn(settings) < 0.05


def test_a_face_farther_away_is_met_where_the_straight_line_goes_on() -> None:
    # Behind the plates the electron flies straight: dy = (dy/dx) dx.
    tube = beginnings()["Spot on an end face"]
    far = prepare(change(tube, {"screen.x": f"{1e3 * tube.screen.x} mm ± 2 mm"}))
    settings = settings_of(2000.0, 100.0, 0.0)
    found = predict(far, settings)
    change_of = found.response.at_x(far.bench.screen.x)
    assert change_of is not None
    heights = [far.line_height(settings, far.bench.screen.x - back) for back in (0.01, 0.002)]
    per_x = (heights[1] - heights[0]) / 0.008
    assert change_of[far.effects.names.index("screen.x"), 0] == pytest.approx(per_x, rel=0.01)
    assert found.way == "linear"


def test_a_wrong_gap_is_found_out(tube: PreparedBench) -> None:
    # The tube has a gap of 55 mm where 49(1) mm was told: six standard uncertainties.
    truth = prepare(change(tube.bench, {"plates.gap": "55(1) mm"}))
    seen = [
        Seen(
            settings=settings_of(*knobs), x=x, uncertainty=0.3e-3,
            y=truth.line_height(settings_of(*knobs), x),
        )
        for knobs, x in (
            (KNOBS["plates"], X), ((3000.0, -1000.0, 0.0), X), (KNOBS["coils"], X),
            ((2000.0, 1000.0, 0.0), 0.08),
        )
    ]  # fmt: skip
    found = learn(tube, seen)
    assert found.is_contradicted
    assert found.suspect is not None
    assert found.suspect.name == "plates.gap"
    assert found.suspect.value == pytest.approx(0.055, abs=0.0015)
