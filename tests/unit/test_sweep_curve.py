"""What the page offers to turn, and the curve that it draws.

Places on a drawing are worked out by hand; the ratings are those of the ready-made benches' files.
"""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace import GlowtraceError, Settings, ready_made, ready_made_names, sweep
from glowtrace.web.sweep.curve import drawn_of
from glowtrace.web.sweep.span import end_text, offered, read_span, standing, usual_span, where

TUBE = ready_made("deflection tube")
SETTINGS = Settings(accelerating_voltage=3000.0, plate_voltage=600.0, plate_reversed=True)
SHARED = SETTINGS.changed(plate_source="accelerating supply")


@pytest.mark.parametrize("name", ready_made_names())
def test_every_offer_has_a_range_about_what_is_set(name):
    bench = ready_made(name)
    settings = Settings(accelerating_voltage=bench.gun.min_accelerating_voltage * 2)
    offers = offered(bench)
    assert len(offers["Knobs"]) == (3 if bench.plates else 2)
    assert not any("max_" in each or "heater" in each for each in offers["Numbers of the bench"])
    for each in [*offers["Knobs"], *offers["Numbers of the bench"]]:
        span = usual_span(bench, settings, each)
        assert span.low < span.high
        assert span.low <= where(bench, settings, each) <= span.high
        assert len(span.values) == (41 if span.is_knob else len(set(span.values)))


def test_polarity_is_the_sign_of_what_is_turned():
    span = usual_span(TUBE, SETTINGS, "plate_voltage")
    assert (span.low, span.high) == (-4800.0, 0.0)
    assert end_text(span, span.high) == "0 V"
    assert where(TUBE, SETTINGS, "plate_voltage") == -600.0
    kept = standing(SETTINGS, "plate_voltage")
    assert kept.turned(plate_voltage=-600.0) == SETTINGS
    assert usual_span(TUBE, SHARED, "plate_voltage").high == 3000.0
    turns = read_span(TUBE, SETTINGS, "coils.turns", "340", "345").values
    assert turns.tolist() == [340, 341, 342, 343, 344, 345]
    assert read_span(TUBE, SETTINGS, "plates.gap", "45", "5 cm").high == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("settings", "name", "ends", "words"),
    [
        (SETTINGS, "plate_voltage", ("1 kV", "0 V"), "to: .*give more than where it begins"),
        (SETTINGS, "plate_voltage", ("0 V", "5 kV"), "range: 0 V to 5 kV .*4.8 kV"),
        (SETTINGS, "plate_voltage", ("0 V", "wide"), "to: .*give a voltage"),
        (SETTINGS, "plate_voltage", ("", "1 kV"), "from: nothing was given"),
        (SHARED, "plate_voltage", ("-1 kV", "1 kV"), "from: .*no other polarity"),
        (SETTINGS, "accelerating_voltage", ("-1 kV", "1 kV"), "from: .*no other polarity"),
    ],
)
def test_a_range_that_cannot_be_meant_is_refused_by_its_field(settings, name, ends, words):
    with pytest.raises(GlowtraceError, match=words):
        read_span(TUBE, settings, name, *ends)


def test_a_curve_has_gaps_beyond_ratings_and_where_nothing_is(deflection_tube):
    volts = np.array([0.0, 1000.0, 2000.0, 3000.0, 6000.0])
    made = sweep(
        deflection_tube, Settings(accelerating_voltage=3000.0), plate_voltage=volts,
        beyond_ratings=True,
    )  # fmt: skip
    drawn = drawn_of(made, "height_m")
    assert np.isfinite(drawn.lines["read"]).tolist() == [True] * 3 + [False] * 2
    half = (drawn.lines["read"][0] + drawn.lines["read"][1]) / 2
    assert drawn.at(500.0)["read"] == pytest.approx(half)
    assert drawn.share(3000.0, drawn.reach[1]) == (0.5, 1.0)
    assert drawn.told(1000.0).startswith("plate voltage 1000 V: height 9.2")
    assert drawn.told(3000.0) == "plate voltage 3000 V: nothing to read"
    dark = sweep(
        deflection_tube,
        Settings(accelerating_voltage=3000.0, heater_on=False),
        plate_voltage=volts[:2],
    )
    assert drawn_of(dark, "height_m") is None
