"""Verdicts, how uncertainty is carried to them, and what is suggested."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from glowtrace.bench.checking import change, check
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError
from glowtrace.light.assessment import assess, assess_glow, eye_margins
from glowtrace.light.changes import brightest_room, suggest_changes
from glowtrace.light.doubts import doubts
from glowtrace.light.glow import make_glow
from glowtrace.light.scaling import X_RAYS_FROM, greatest_voltage, scale_settings
from glowtrace.light.scene import PHOSPHORS, ROOMS, Phosphor, Room, Scene
from glowtrace.light.trust import DRAWS, TRUSTS, Draws, factor_of
from glowtrace.light.verdict import judge
from glowtrace.words.light import trust_name
from glowtrace.words.light_changes import change_note

TUBE = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
BULB = Settings(accelerating_voltage=200.0, coil_current=1.5)
WEAK = Scene(room=Room(illuminance=400.0), beam_current=1e-6)


def test_drawn_factors_have_the_stated_range():
    draws = Draws(100_000)
    for key, trust in TRUSTS.items():
        values = draws.around(key, 1.0)
        inside = np.mean((values > 1.0 / trust.factor) & (values < trust.factor))
        assert inside == pytest.approx(0.95, abs=0.003)
        assert float(np.median(values)) == pytest.approx(1.0, rel=0.02)
        assert factor_of(values) == pytest.approx(trust.factor, rel=0.03)


def test_factors_of_a_product_add_in_squares_of_their_logarithms():
    # A product of log-normal values is log-normal, and the variances of the logarithms add.
    draws = Draws(100_000)
    product = draws.around("efficiency", 1.0) * draws.around("gas", 1.0)
    expected = math.exp(math.hypot(math.log(2.5), math.log(4.0)))
    assert factor_of(product) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    ("middle", "word"), [(5.0, "surely"), (1.5, "probably"), (0.7, "probably not"), (0.1, "no")]
)
def test_words_follow_the_chance(middle, word):
    factor = 3.0
    sigma = math.log(factor) / 1.959964
    margins = middle * np.exp(sigma * np.random.default_rng(1).standard_normal(50_000))
    verdict = judge(margins)
    assert verdict.chance == pytest.approx(float(norm.cdf(math.log(middle) / sigma)), abs=0.01)
    assert verdict.word == word
    assert verdict.margin == pytest.approx(middle, rel=0.02)
    assert verdict.factor == pytest.approx(factor, rel=0.03)


def test_no_light_at_all_is_no_and_has_no_factor():
    verdict = judge(np.zeros(100))
    assert verdict.word == "no"
    assert math.isinf(verdict.factor)


def test_each_input_alone_puts_no_more_doubt_than_its_factor(deflection_tube):
    glow = make_glow(deflection_tube, TUBE)
    found = doubts(deflection_tube.bench, TUBE, WEAK, glow)
    assert [doubt.factor for doubt in found] == sorted((d.factor for d in found), reverse=True)
    assert found[0].trust.key == "beam_share"
    for doubt in found:
        assert 1.0 < doubt.factor <= doubt.trust.factor * 1.1
    # Together they make up the whole factor: squares of logarithms add, within their bends.
    together = math.exp(math.sqrt(sum(math.log(doubt.factor) ** 2 for doubt in found)))
    whole = judge(eye_margins(deflection_tube.bench, TUBE, WEAK, glow)).factor
    assert whole == pytest.approx(together, rel=0.15)


def test_a_measured_room_narrows_the_answer(deflection_tube):
    guessed = assess(deflection_tube, TUBE, WEAK)
    measured = assess_glow(
        deflection_tube.bench, TUBE, change(WEAK, {"room.is_measured": True}), guessed.glow
    )
    assert measured.background.factor < guessed.background.factor
    assert measured.background.value == pytest.approx(guessed.background.value, rel=0.05)


@pytest.mark.parametrize("lux", [0.1, 10.0, 1000.0])
def test_more_room_light_never_helps(deflection_tube, lux):
    glow = make_glow(deflection_tube, TUBE)
    darker = assess_glow(deflection_tube.bench, TUBE, Scene(room=Room(illuminance=lux)), glow)
    brighter = assess_glow(deflection_tube.bench, TUBE, Scene(room=Room(illuminance=3 * lux)), glow)
    assert brighter.eye.margin < darker.eye.margin
    assert brighter.contrast < darker.contrast


def test_a_gas_discharge_needs_a_dark_room(fine_beam_bulb):
    # Common practice with fine-beam bulbs: nothing to see with the lights on, something in a dark
    # room.
    glow = make_glow(fine_beam_bulb, BULB)
    bright = assess_glow(fine_beam_bulb.bench, BULB, Scene(room=Room(illuminance=400.0)), glow)
    dark = assess_glow(fine_beam_bulb.bench, BULB, Scene(room=Room(illuminance=0.1)), glow)
    assert bright.eye.word == "no"
    assert dark.eye.word in ("probably", "surely")


def test_suggestions_suffice_by_themselves(deflection_tube):
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    changes = suggest_changes(bench, TUBE, WEAK, glow)
    room = next(change for change in changes if change.key == "room")
    assert room.after.word == "surely"
    # Flown and judged anew with what was suggested.
    again = assess(deflection_tube, room.settings, room.scene)
    assert again.eye.word == "surely"
    # And no darker than needed: with half as much light again it is not sure any more.
    lux = 2.0 * room.scene.room.illuminance
    lighter = change(room.scene, {"room.illuminance": lux})
    assert assess_glow(bench, TUBE, lighter, glow).eye.word != "surely"


def test_suggestions_keep_ratings_and_stay_below_soft_x_rays(deflection_tube):
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    changes = suggest_changes(bench, TUBE, WEAK, glow)
    assert {"room", "hood", "voltage", "current", "distance"} <= {change.key for change in changes}
    for each in changes:
        assert check_settings(bench, each.settings) == ()
        assert greatest_voltage(bench, each.settings) <= X_RAYS_FROM * (1.0 + 1e-6)
        current = each.scene.beam_current or bench.gun.beam_current
        assert current <= bench.supplies.accelerating.max_current
        assert each.gain > 1.0
    voltage = next(each for each in changes if each.key == "voltage")
    assert voltage.settings.accelerating_voltage > 3000.0
    # Raised together, so that the picture keeps its shape.
    ratio = voltage.settings.plate_voltage / voltage.settings.accelerating_voltage
    assert ratio == pytest.approx(0.3)
    assert "soft X-rays" in change_note(voltage)


def test_voltages_of_the_suggestion_hold_when_flown(deflection_tube):
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    voltage = next(
        each for each in suggest_changes(bench, TUBE, WEAK, glow) if each.key == "voltage"
    )
    flown = assess(deflection_tube, voltage.settings, voltage.scene)
    assert flown.eye.margin == pytest.approx(voltage.after.margin, rel=0.15)


def test_in_gas_slower_electrons_and_a_backdrop_help(fine_beam_bulb):
    scene = Scene(room=Room(illuminance=20.0))
    glow = make_glow(fine_beam_bulb, BULB)
    changes = suggest_changes(fine_beam_bulb.bench, BULB, scene, glow)
    assert changes[0].key == "together"
    assert changes[0].after.chance >= max(each.after.chance for each in changes)
    voltage = next(each for each in changes if each.key == "voltage")
    assert voltage.settings.accelerating_voltage < 200.0
    assert any(each.key == "backdrop" for each in changes)


def test_nothing_is_suggested_where_nothing_is_needed(deflection_tube):
    bright = Scene(room=Room(illuminance=1.0))
    glow = make_glow(deflection_tube, TUBE)
    assert suggest_changes(deflection_tube.bench, TUBE, bright, glow) == ()
    dark = make_glow(deflection_tube, Settings(accelerating_voltage=0.0))
    assert suggest_changes(deflection_tube.bench, TUBE, bright, dark) == ()


def test_brightest_room_is_where_it_stops_being_sure(deflection_tube):
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    lux = brightest_room(bench, TUBE, WEAK, glow)
    assert lux is not None

    def word(illuminance: float) -> str:
        scene = change(WEAK, {"room.illuminance": illuminance})
        return assess_glow(bench, TUBE, scene, glow).eye.word

    assert word(0.9 * lux) == "surely"
    assert word(1.3 * lux) != "surely"


def test_scaling_is_none_at_one():
    assert scale_settings(TUBE, 1.0) == TUBE


def test_wrong_values_are_told_with_their_range():
    with pytest.raises(BenchError) as caught:
        check(Scene, {"room": {"illuminance": "-3 lx"}, "away": "6"}, "scene", is_written=True)
    text = str(caught.value)
    assert 'room.illuminance: "-3 lx" is not allowed; choose between 0 lx and 100000 lx' in text
    assert "away" in text
    with pytest.raises(BenchError, match="efficiency"):
        change(Scene(), {"phosphor.efficiency": 2.0})


def test_presets_are_in_order_and_valid():
    usual = [usual for usual, _, _ in ROOMS.values()]
    assert usual == sorted(usual)
    for middle, low, high in ROOMS.values():
        assert low < middle < high
        Room(illuminance=middle)
    assert all(name == phosphor.name for name, phosphor in PHOSPHORS.items())
    assert next(iter(PHOSPHORS.values())) == Phosphor()
    assert DRAWS >= 1000


def test_the_guide_tells_every_input_with_its_factor():
    guide = (Path(__file__).parents[2] / "docs" / "light.md").read_text("utf-8")
    rows = {
        cells[1].strip(): cells[3]
        for cells in (line.split("|") for line in guide.splitlines())
        if len(cells) == 6
    }
    for key, trust in TRUSTS.items():
        assert trust_name(trust) in rows, key
        assert f"{trust.factor:g}" in rows[trust_name(trust)], key
    for usual, low, high in ROOMS.values():
        assert f"{usual:g} ({low:g} to {high:g})" in guide
