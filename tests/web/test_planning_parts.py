"""Parts of the planning pages without a browser: address, axes, drawings."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import parse_qsl
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import KINDS
from glowtrace.demos.goals import suitable_goals
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import GlowtraceError
from glowtrace.plan import NOT_YET
from glowtrace.web.naming import read_field
from glowtrace.web.plan.outcome_axes import read_axes, usual_axes
from glowtrace.web.plan.outcome_picture import place_labels
from glowtrace.web.plan.small_picture import small_picture
from glowtrace.web.preparation import Preparation, read_preparation, receive_preparation

TUBE = "ready-made/deflection tube"


def _bench_at(place: str) -> Bench:
    return ready_made(place.partition("/")[2])


def _read_back(preparation: Preparation) -> Preparation:
    query = dict(parse_qsl(preparation.query))
    return read_preparation(query, preparation.place, _bench_at)[0]


@pytest.mark.parametrize("name", ready_made_names())
def test_every_goal_survives_the_address(name: str) -> None:
    bench = ready_made(name)
    for goal in suitable_goals(bench):
        preparation = Preparation(f"ready-made/{name}", opening_settings(bench), goal)
        assert _read_back(preparation) == preparation


@given(
    volts=st.floats(450.0, 4800.0),
    amperes=st.floats(0.0, 1.9),
    minutes=st.floats(0.01, 1440.0),
    is_held=st.booleans(),
    is_letter=st.booleans(),
)
def test_what_is_prepared_survives_the_address(
    volts: float, amperes: float, minutes: float, is_held: bool, is_letter: bool
) -> None:
    preparation = Preparation(
        TUBE,
        Settings(accelerating_voltage=volts, coil_current=amperes, coil_reversed=True),
        held={"accelerating_voltage": volts} if is_held else {},
        earthed="cathode",
        run_minutes=minutes,
        paper="us-letter" if is_letter else "a4",
    )
    assert _read_back(preparation) == preparation


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ({"goal": "nul"}, "nul"),
        ({"goal": "null", "aim.length": "-1"}, "aim.length"),
        ({"hold.plate_voltage": "much"}, "much"),
        ({"minutes": "nan"}, "minutes"),
        ({"earthed": "grid"}, "grid"),
        ({"paper": "a3"}, "a3"),
    ],
)
def test_nonsense_in_the_address_is_told_and_starts_anew(query: dict[str, str], told: str) -> None:
    with pytest.raises(GlowtraceError, match=told):
        read_preparation(query, TUBE, _bench_at)
    preparation, bench, wrong = receive_preparation(query, TUBE, _bench_at)
    assert told in wrong[0]
    assert preparation == Preparation(TUBE, opening_settings(bench))


def test_another_bench_starts_a_new_preparation() -> None:
    bench = ready_made("deflection tube")
    settings = opening_settings(bench)
    preparation = Preparation(TUBE, settings, suitable_goals(bench)[0], run_minutes=40.0)
    assert preparation.moved_to(TUBE, settings) == preparation
    assert preparation.moved_to("ready-made/fine-beam bulb", settings).goal is None


def test_axes_survive_the_address_and_nonsense_does_not() -> None:
    bench = ready_made("deflection tube")
    axes = replace(usual_axes(bench), reach_across=(100.0, 2500.0), reach_up=(1e-05, 0.3))
    query = dict(parse_qsl(axes.query))
    read = read_axes(query, bench)
    assert (read.across, read.up, read.reach_across) == (axes.across, axes.up, axes.reach_across)
    assert read.reach_up == axes.reach_up
    assert read_axes({"across": "coil_current", "up": "coil_current"}, bench) == usual_axes(bench)
    assert read_axes({**query, "across.range": "5_1"}, bench).reach_across == (0.0, 4800.0)


@pytest.mark.parametrize(
    ("text", "unit", "usual", "value"),
    [("90", "m", "mm", 0.09), ("9 cm", "m", "mm", 0.09), ("1,5 kV", "V", "V", 1500.0),
     ("0.75", "1", "1", 0.75)],
)  # fmt: skip
def test_a_bare_number_has_the_usual_unit(text: str, unit: str, usual: str, value: float) -> None:
    assert read_field(text, unit, usual) == pytest.approx(value)


@pytest.mark.parametrize("name", ready_made_names())
def test_a_small_picture_is_a_drawing_with_light(name: str) -> None:
    bench = ready_made(name)
    prepared = prepare(bench)
    drawing = ElementTree.fromstring(
        small_picture(prepared, opening_settings(bench), 'a "quoted" <title>')
    )
    assert drawing.attrib["aria-label"] == 'a "quoted" <title>'
    glow = drawing.find(".//path[@class='drawn-glow']")
    assert glow is not None
    assert glow.attrib["d"].startswith("M")


def test_plates_that_push_up_lift_the_small_picture() -> None:
    # The force on an electron points to the positive plate (textbook physics).
    prepared = prepare(ready_made("deflection tube"))
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
    drawing = ElementTree.fromstring(small_picture(prepared, settings, "up"))
    group = drawing.find("g")
    glow = drawing.find(".//path[@class='drawn-glow']")
    assert group is not None
    assert glow is not None
    assert group.attrib["transform"] == "scale(1 -1)"  # heights in the path grow upwards
    heights = [float(dot.split()[1].removesuffix("h0")) for dot in glow.attrib["d"][1:].split("M")]
    assert np.mean(heights) > 2


def test_a_label_stands_inside_its_region() -> None:
    codes = np.full((50, 50), KINDS.index("full line"), dtype=np.int8)
    codes[30:, 10:30] = KINDS.index("null")
    codes[0] = NOT_YET
    labels = {label.outcome: label for label in place_labels(codes, KINDS)}
    assert set(labels) == {"full line", "null"}
    null = labels["null"]
    assert 10 / 50 < null.across < 30 / 50
    assert null.up > 30 / 50
    assert null.is_whole


def test_a_region_too_small_for_its_name_keeps_its_letter() -> None:
    codes = np.zeros((50, 50), dtype=np.int8)
    codes[20, 20] = KINDS.index("null")
    labels = {label.outcome: label for label in place_labels(codes, KINDS)}
    assert not labels["null"].is_whole
