"""What the safety check reports, and what it never says. No outside source but common practice."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.checking import change
from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import BenchError
from glowtrace.findings import Quantity, finding
from glowtrace.safety.lines import Limit, compare
from glowtrace.safety.review import check_safety
from glowtrace.words.safety import told_report
from glowtrace.words.telling import quantity_words

TUBE = ready_made("deflection tube")
MODEST = Settings(accelerating_voltage=800.0, coil_current=0.1)


def told(*args, **kwargs):
    return told_report(check_safety(*args, **kwargs))


def texts(report):
    yield from (*report.switch_on, *report.switch_off, *report.cautions)
    for line in report.lines:
        yield from (line.topic, line.value, line.limit, line.source, line.advice)


@pytest.mark.parametrize(
    "bench",
    [*map(ready_made, ready_made_names()), *beginnings().values()],
    ids=lambda each: each.name,
)
def test_a_bench_opens_with_settings_that_harm_nothing(bench: Bench) -> None:
    opened = opening_settings(bench)
    assert check_settings(bench, opened) == ()
    assert not check_safety(bench, opened).has_stop


@pytest.mark.parametrize("name", ready_made_names())
def test_every_line_is_complete(name):
    for line in told(ready_made(name), MODEST).lines:
        assert line.topic
        assert line.value
        assert line.limit
        assert line.source
        assert line.advice
        if line.margin is not None:
            assert (line.margin < 0.005) == (line.verdict != "ok"), line


@pytest.mark.parametrize("name", ready_made_names())
def test_modest_settings_need_attention_and_no_stop(name):
    bench = ready_made(name)
    volts = max(bench.gun.min_accelerating_voltage, 250.0)
    report = check_safety(bench, Settings(accelerating_voltage=volts, coil_current=0.1))
    assert report.verdict == "attention"  # hazardous voltage is never just "ok"
    assert not report.has_stop


@pytest.mark.parametrize(
    ("changed", "topic", "verdict"),
    [
        ({"accelerating_voltage": 5001.0}, "accelerating_voltage", "stop"),
        ({"coil_current": 2.01}, "coil_current", "stop"),
        ({"plate_voltage": 5001.0}, "plate_voltage", "stop"),
        ({"plate_voltage": 100.0, "plate_source": "accelerating supply"}, "plate_tie", "stop"),
        ({"accelerating_voltage": 100.0}, "accelerating_voltage", "attention"),
        ({"plate_voltage": 30.0}, "plate_voltage", "attention"),
    ],
)
def test_settings_above_a_rating_are_a_stop_and_below_one_need_attention(changed, topic, verdict):
    bench = change(TUBE, {"supplies.plates.min_voltage": "50 V"})
    report = check_safety(bench, MODEST.model_copy(update=changed))
    # Two ratings of the same value give a line each.
    assert {x.verdict for x in report.lines if x.topic.key == f"safety.topic.rating.{topic}"} == {
        verdict
    }
    assert report.has_stop == (verdict == "stop")


def test_a_hot_coil_is_a_stop_that_names_the_longest_run():
    hot = MODEST.model_copy(update={"coil_current": 1.9})
    long = check_safety(TUBE, hot, run_minutes=15.0)
    run = next(line for line in long.lines if line.topic.key == "safety.topic.run")
    assert run.verdict == "stop"
    minutes = run.limit_si / 60
    assert 1 < minutes < 15
    assert not check_safety(TUBE, hot, run_minutes=0.99 * minutes).has_stop
    assert check_safety(TUBE, hot, run_minutes=1.01 * minutes).has_stop


def test_a_warmer_room_shortens_the_run():
    hot = MODEST.model_copy(update={"coil_current": 1.9})
    limits = [
        next(
            line.limit_si
            for line in check_safety(TUBE, hot, room_temperature=kelvin).lines
            if line.topic.key == "safety.topic.run"
        )
        for kelvin in (288.15, 303.15)
    ]
    assert limits[1] < limits[0]


def test_contradicting_data_of_a_coil_are_reported():
    thick = change(TUBE, {"coils.resistance": "2 ohm"})
    topics = {line.topic.key: line for line in check_safety(thick, MODEST).lines}
    assert topics["safety.topic.wire"].verdict == "attention"
    assert "safety.topic.wire" not in {x.topic.key for x in check_safety(TUBE, MODEST).lines}


def test_a_heater_supply_that_can_pass_the_rating_wants_attention():
    strong = change(TUBE, {"supplies.heater.max_voltage": "12 V"})
    unknown = change(TUBE, {"supplies.heater": None})
    for bench in (strong, unknown):
        heater = next(
            x for x in check_safety(bench, MODEST).lines if x.topic.key == "safety.topic.heater"
        )
        assert heater.verdict == "attention"


def test_a_bench_without_coils_and_plates_has_no_lines_on_them():
    bare = change(TUBE, {"coils": None, "plates": None, "supplies.plates": None})
    report = told(bare, Settings(accelerating_voltage=800.0))
    assert not [x.topic for x in report.lines if "coil" in x.topic or "plate" in x.topic]
    assert not [step for step in report.switch_off if "oil current" in step or "Plate" in step]


def test_plates_on_the_accelerating_supply_have_no_output_of_their_own():
    shared = Settings(
        accelerating_voltage=800.0, plate_voltage=400.0, plate_source="accelerating supply",
        plate_tie="upper at anode",
    )  # fmt: skip
    topics = [line.topic.key for line in check_safety(TUBE, shared).lines]
    assert not [topic for topic in topics if topic.endswith(".plate")]


def test_the_order_is_heater_first_voltage_off_then_wait_discharge_and_touch():
    report = told(TUBE, MODEST.model_copy(update={"plate_voltage": 200.0}))
    on, off = " ".join(report.switch_on), " ".join(report.switch_off)
    assert on.index("Heater on") < on.index("Accelerating voltage") < on.index("Coil current")
    places = [
        off.index(w) for w in ("Accelerating voltage to zero", "Wait", "Discharge", "touch or")
    ]
    assert places == sorted(places)


def test_the_usual_cautions_are_always_there():
    said = " ".join(told(TUBE, MODEST).cautions).lower()
    for word in (
        "high voltage", "stored charge", "implode", "hot glass", "soft x-rays", "implants",
        "rating", "local rules", "person responsible",
    ):  # fmt: skip
        assert word in said


@pytest.mark.parametrize("name", ready_made_names())
def test_no_text_suggests_defeating_a_protection(name):
    defeat = re.compile(
        r"bypass|bridge|defeat|override|remove|disconnect the (earth|bleeder)", re.I
    )
    report = told(ready_made(name), MODEST)
    assert len(list(texts(report))) > 50
    assert not [text for text in texts(report) if defeat.search(text.lower())]


@pytest.mark.parametrize("minutes", [0.0, -1.0, math.nan, math.inf, 1441.0])
def test_a_senseless_run_is_refused(minutes):
    with pytest.raises(BenchError, match=r"run_minutes: .* give a time above 0"):
        check_safety(TUBE, MODEST, run_minutes=minutes)


@pytest.mark.parametrize("kelvin", [20.0, math.nan, 400.0])
def test_a_room_temperature_in_the_wrong_unit_is_refused(kelvin):
    with pytest.raises(BenchError, match=r"room_temperature: .* in kelvins"):
        check_safety(TUBE, MODEST, room_temperature=kelvin)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(324.15, "K", "51 °C"), (0.25, "s", "0.25 s"), (59.9, "s", "1 min"), (75.0, "s", "1 min 15 s"),
     (7260.0, "s", "2 h 1 min"), (math.inf, "s", "no end"), (5e-4, "mT", "0.500 mT")],
)  # fmt: skip
def test_values_are_written_for_people(value, unit, text):
    assert quantity_words(Quantity(value, unit)) == text


def test_a_value_at_its_limit_is_not_beyond_it():
    limit = Limit(0.3, "A", finding("none"))
    # Nothing that leaves 0 % is called kept, and it is not beyond either.
    assert compare(finding("x"), 0.1 + 0.2, limit, "stop", (), ()).verdict == "attention"
    assert compare(finding("x"), 0.2990, limit, "stop", (), ()).verdict == "attention"
    assert compare(finding("x"), 0.2980, limit, "stop", (), ()).verdict == "ok"
    assert compare(finding("x"), 0.3001, limit, "stop", (), ()).verdict == "stop"


@settings(max_examples=12)
@given(st.floats(0, 6000), st.floats(0, 6000), st.floats(0, 3), st.floats(0.1, 600))
def test_more_of_anything_never_makes_the_verdict_milder(volts, plates, amperes, minutes):
    order = ("ok", "attention", "stop")
    low = Settings(accelerating_voltage=500.0 + volts / 2, plate_voltage=plates / 2,
                   coil_current=amperes / 2)  # fmt: skip
    high = Settings(accelerating_voltage=500.0 + volts, plate_voltage=plates, coil_current=amperes)
    mild = check_safety(TUBE, low, run_minutes=minutes / 2)
    grave = check_safety(TUBE, high, run_minutes=minutes)
    assert order.index(mild.verdict) <= order.index(grave.verdict)
