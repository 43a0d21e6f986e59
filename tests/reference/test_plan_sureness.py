"""How surely a plan works: against closed forms, and against whole benches solved anew.

Closed forms of the parabola and the circle (D. Halliday, R. Resnick, J. Walker, Fundamentals of
Physics; from memory) with the normal distribution of scipy.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from band_coverage import flown, known_bench, settings_of, whole_bench
from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.checking import change
from glowtrace.bench.path import Path
from glowtrace.bench.possible_tubes import possible_tubes
from glowtrace.bench.prediction import FACTOR, predict
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.demos.goals import FullCircle, HelixFocus, PlateDeflection
from glowtrace.plan import Plan, plan_goal

X, HEIGHT, TOLERANCE = 0.09, 0.01, 0.001
NOTHING = {
    "accelerating_meter": "0", "plate_meter": "0", "coil_meter": "0", "beam_height": "0 mm",
    "beam_aside": "0 mm", "beam_rise": "0 deg", "beam_turn": "0 deg", "grid_height": "0 mm",
    "stray_field": "0 T",
}  # fmt: skip
HELD = {"accelerating_voltage": 3000.0}


def doubting(kind: str, **slack: str) -> PreparedBench:
    """Give a bench of which nothing is uncertain but what is told here, away from Earth's field."""
    changes = {"place.ignore_earth": True} | {
        f"slack.{name}": size for name, size in (NOTHING | slack).items()
    }
    return prepare(change(ready_made(kind), changes))


def planned(tube: PreparedBench) -> Plan:
    goal = PlateDeflection(X, HEIGHT, TOLERANCE)
    return plan_goal(tube, goal, fixed=HELD, answers=1).answers[0]


def inside(middle: float, spread: float) -> float:
    """Give the probability that a height lies where the goal wants it."""
    low, high = HEIGHT - TOLERANCE, HEIGHT + TOLERANCE
    return float(norm.cdf(high, middle, spread) - norm.cdf(low, middle, spread))


def scatter(share: float, count: int = 200) -> float:
    """Give three standard deviations of a share that is counted on so many tubes."""
    return 3.0 * math.sqrt(share * (1.0 - share) / count)


@pytest.mark.slow
@pytest.mark.parametrize(
    "meter", [0.03, *(pytest.param(each, marks=pytest.mark.thorough) for each in (0.08, 0.2))]
)
def test_the_share_of_a_parabola_is_that_of_the_normal_distribution(meter: float) -> None:
    # y ~ V_p: a meter that is off by a part puts the line off by that part.
    plan = planned(doubting("deflection tube", plate_meter=str(meter)))
    sure, (height, _) = plan.certainty, plan.figures["height"]
    assert sure is not None
    share = inside(height, meter * height)
    assert sure.share == pytest.approx(share, abs=scatter(share) + 0.005)
    # To the second order, (y / x)^2.
    assert sure.expected[0].off == pytest.approx(FACTOR * meter * height, rel=0.02)
    assert sure.worth_measuring == "slack.plate_meter"
    assert sure.part == pytest.approx(1.0)
    assert sure.holds == (meter < 0.05)


@pytest.mark.thorough
def test_the_window_of_a_parabola_is_where_the_normal_distribution_gives_95_percent() -> None:
    meter = 0.03
    plan = planned(doubting("deflection tube", plate_meter=str(meter)))
    assert plan.certainty is not None
    height, voltage = plan.figures["height"][0], plan.settings.plate_voltage
    sure, window = plan.certainty.windows["plate_voltage"], plan.windows["plate_voltage"]
    assert window.low < sure.low < voltage < sure.high < window.high
    # The 95 % point of 200 draws scatters by sqrt(0.95 0.05 / 200) / phi(1.645) = 0.15 of their
    # spread; the end is found to a few per cent of its distance.
    for end in sure:
        middle = height * end / voltage
        spread = meter * middle
        wanted = HEIGHT + math.copysign(TOLERANCE - norm.ppf(0.95) * spread, middle - HEIGHT)
        assert middle == pytest.approx(wanted, abs=0.45 * spread + 0.05 * TOLERANCE)


def test_a_circle_is_as_sure_as_its_current() -> None:
    # D ~ 1 / I, and neither where the beam begins nor where the grid hangs counts.
    bulb = doubting("fine-beam bulb", coil_meter="0.01", grid_height="2 mm", beam_height="1 mm")
    goal = FullCircle.for_bench(bulb.bench)
    plan = plan_goal(bulb, goal, answers=1).answers[0]
    diameter, sure = plan.figures["diameter"][0], plan.certainty
    assert sure is not None
    assert sure.expected[0].off == pytest.approx(FACTOR * 0.01 * diameter, rel=0.05)
    low, high = goal.diameter - goal.tolerance, goal.diameter + goal.tolerance
    spread = 0.01 * diameter
    share = float(norm.cdf(high, diameter, spread) - norm.cdf(low, diameter, spread))
    assert sure.share == pytest.approx(share, abs=scatter(share) + 0.02)


def test_a_planned_height_is_as_well_known_as_the_line_that_is_rehearsed() -> None:
    tube = prepare(known_bench())
    plan = planned(tube)
    assert plan.certainty is not None
    band = predict(tube, plan.settings).height(X)
    assert plan.certainty.expected[0].off == pytest.approx(FACTOR * band.uncertainty, rel=0.01)
    assert plan.certainty.expected[0].value == pytest.approx(band.value, abs=2e-5)


@pytest.mark.slow
def test_a_spot_moves_as_its_electron() -> None:
    bench = change(beginnings()["Spot on an end face"], {"plates.gap": "10.0(2) mm"})
    tube = prepare(bench)
    goal = PlateDeflection.for_bench(bench)
    plan = plan_goal(tube, goal, answers=1).answers[0]
    assert plan.certainty is not None
    band = predict(tube, plan.settings).height(goal.x)
    assert plan.certainty.expected[0].off == pytest.approx(FACTOR * band.uncertainty, rel=0.02)


def test_what_is_exact_or_made_by_the_whole_beam_has_no_share(
    deflection_tube: PreparedBench,
) -> None:
    plan = planned(deflection_tube)
    assert plan.certainty is None
    assert "certainty" not in plan.as_dict()
    coil = prepare(change(ready_made("axial coil tube"), {"screen.x": "200(1) mm"}))
    focus = plan_goal(coil, HelixFocus.for_bench(coil.bench), answers=1)
    assert all(each.certainty is None for each in focus.answers)


def test_a_circle_whose_beam_leaves_downwards_is_told_by_its_far_side() -> None:
    # A circle of radius 40 mm that starts 0.3 degrees below level.
    turned = np.radians(np.linspace(-0.3, 200.0, 2004))
    place = np.stack([np.sin(turned), -np.cos(turned), 0.0 * turned], axis=1)
    way = np.stack([np.cos(turned), np.sin(turned), 0.0 * turned], axis=1)
    path = Path(time=turned, position=0.04 * place, velocity=0.04 * way, end="anode")
    wanted = 0.04 * (1.0 + math.cos(math.radians(0.3)))
    assert path.circle_height() == pytest.approx(wanted, rel=1e-6)
    assert path.far_height() == pytest.approx(-0.04, rel=1e-6)


@pytest.mark.thorough
def test_possible_tubes_are_whole_benches() -> None:
    """The line of each, at the planned knobs and nearby, against fields that are solved anew."""
    tube = prepare(known_bench())
    plan = planned(tube)
    settings = plan.settings
    drawn = possible_tubes(tube, settings)
    own = flown(tube, dict.fromkeys(drawn.belief.names, 0.0), settings)
    spread = plan.certainty.expected[0].off / FACTOR if plan.certainty else math.nan
    agree = []
    for numbers, possible in list(zip(drawn.numbers, drawn.tubes, strict=True))[:24]:
        whole, off = whole_bench(tube.bench, drawn.belief.names, numbers)
        for part in (1.0, 1.06, 0.94):
            turned = settings_of(settings.accelerating_voltage, part * settings.plate_voltage, 0.0)
            turned = turned.model_copy(update={"plate_reversed": settings.plate_reversed})
            axis = tube.line_height(settings, X) - own.height_at(X)  # the sheet's electron
            true = flown(whole, off, turned).height_at(X) + off["slack.grid_height"] + axis
            found = possible.line_height(turned, X)
            assert found == pytest.approx(true, abs=0.1 * spread)
            if abs(abs(true - HEIGHT) - TOLERANCE) > 0.1 * spread:
                is_met = PlateDeflection(X, HEIGHT, TOLERANCE).is_met(possible, turned).ok
                agree.append(is_met == (abs(true - HEIGHT) < TOLERANCE))
    assert len(agree) > 50
    assert all(agree)


@pytest.mark.parametrize(
    ("meter", "beyond"),
    [(0.03, 0.02), pytest.param(0.01, 0.05, marks=pytest.mark.thorough)],
)
def test_a_refusal_is_perhaps_where_possible_tubes_do_it(meter: float, beyond: float) -> None:
    # Plates rated a little below what is needed: reached where the meter reads so much too little.
    tube = doubting("deflection tube", plate_meter=str(meter))
    goal, held = PlateDeflection(X, HEIGHT, TOLERANCE), HELD | {"plate_tie": "symmetric"}
    needed = plan_goal(tube, goal, fixed=held, answers=1).answers[0].settings.plate_voltage
    changes = {"plates.max_voltage": f"{needed / (1.0 + beyond):.1f} V"}
    weak = PreparedBench(change(tube.bench, changes), tube.fields, tube.earth)
    refusal = plan_goal(weak, goal, fixed=held, remedies="none").refusal
    assert refusal is not None
    assert refusal.possible_on is not None
    share = float(norm.sf(beyond / meter))
    assert refusal.possible_on == pytest.approx(share, abs=scatter(share, 100) + 0.02)
    assert refusal.is_sure == (share < 0.05)
