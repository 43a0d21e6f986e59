"""The library of faults: what suits a bench, and what its texts must say.

High tension off and discharged before a lead is touched: common practice, no source.
"""

from __future__ import annotations

import re

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ratings import check_settings, knob_ranges
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.faults import FAULTS, OFF_FIRST, Safety, checks_for, faults_for, statements_for
from glowtrace.faults.variations import variations
from glowtrace.words.faults import statement_words

TOUCHES = re.compile(
    r"\b(exchange|fasten|connect|unplug the|swap|pull|turn the whole tube|measure each|"
    r"check (the |coil |heater |its )|put the meter|set the coils|move magnets|replace the tube)"
)
"""Words with which a hand goes to a lead, a meter in the circuit, or the tube."""
DEFEATS = re.compile(r"\b(bypass|bridge|defeat|remove the|short-circuit|hold down|without its)\b")
ASKED_FOR = (
    "no light at all",
    "light from the filament but no line",
    "line bends down",
    "line is thick or fan-shaped",
    "line is straight and does not move with the coils",
)


def settings_on(bench) -> Settings:
    """Give settings with every knob of a bench turned up."""
    opened = opening_settings(bench)
    current = opened.coil_current or 0.2
    return opened.model_copy(update={"coil_current": current})


def test_names_of_faults_are_unique():
    assert len({fault.key for fault in FAULTS}) == len(FAULTS)


def test_odds_are_told_with_where_they_come_from():
    assert all(fault.odds > 0.0 and fault.odds_from for fault in FAULTS)


def off_comes_before(text: str) -> bool:
    """Say whether every sentence that has something touched comes after the precautions."""
    found = TOUCHES.search(text.replace(OFF_FIRST, OFF_FIRST.upper()))
    return found is None or OFF_FIRST in text[: found.start()]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_a_remedy_that_touches_a_lead_has_it_off_and_discharged_first(fault):
    assert off_comes_before(fault.remedy)
    assert not DEFEATS.search(fault.remedy)


def test_the_words_that_touch_are_found():
    assert not off_comes_before("Just exchange the two leads.")
    assert not off_comes_before(f"Connect it, or exchange it. {OFF_FIRST} look.")
    assert off_comes_before(f"{OFF_FIRST} exchange the two leads.")


@pytest.mark.parametrize("name", ready_made_names())
def test_every_check_that_is_more_than_a_look_has_everything_off_first(name):
    bench = ready_made(name)
    for check in checks_for(bench, settings_on(bench)):
        if check.safety in {Safety.OFF, Safety.LEAD}:
            assert check.do.startswith(OFF_FIRST), check.key
        assert off_comes_before(check.do), check.key
        assert not DEFEATS.search(check.do), check.key


@pytest.mark.parametrize("name", ready_made_names())
def test_what_is_put_back_is_put_back_with_everything_off(name):
    bench = ready_made(name)
    for check in checks_for(bench, settings_on(bench)):
        if "put back" in check.do:
            assert check.do.count(OFF_FIRST) == 2, check.key


@pytest.mark.parametrize("name", ready_made_names())
def test_the_probe_is_for_the_person_responsible_only(name):
    bench = ready_made(name)
    probes = [one for one in checks_for(bench, settings_on(bench)) if "probe" in one.do]
    assert [one.safety for one in probes] == [Safety.RESPONSIBLE]
    assert "person responsible" in probes[0].do
    assert "discharged" in probes[0].do


def test_statements_that_were_asked_for_are_made_on_the_deflection_tube():
    bench = ready_made("deflection tube")
    said = {statement_words(one) for one in statements_for(bench, settings_on(bench))}
    assert set(ASKED_FOR) <= said


@pytest.mark.parametrize("name", ["fine-beam bulb", "axial coil tube"])
def test_a_bench_without_plates_has_no_faults_statements_or_checks_of_plates(name):
    bench = ready_made(name)
    settings = settings_on(bench)
    assert not any(fault.group == "plates" for fault in faults_for(bench, settings))
    words = [statement_words(one) for one in statements_for(bench, settings)]
    words += [one.do for one in checks_for(bench, settings)]
    assert not any("plate" in each for each in words)


def test_a_long_coil_has_no_second_coil_and_focuses_either_way():
    bench = ready_made("axial coil tube")
    keys = {fault.key for fault in faults_for(bench, settings_on(bench))}
    assert not keys & {"coils opposing", "one coil dead", "coil leads swapped"}
    assert "no coil current" in keys


def test_coils_that_are_meant_to_oppose_are_no_fault():
    bench = change(ready_made("deflection tube"), {"coils.sense": "opposing"}, "quadrupole")
    keys = {fault.key for fault in faults_for(bench, settings_on(bench))}
    assert "coils opposing" not in keys
    assert {"coil leads swapped", "one coil dead"} <= keys


def test_a_bulb_that_is_meant_to_glow_is_not_asked_about_a_haze():
    bench = ready_made("fine-beam bulb")
    assert not any(
        "haze" in statement_words(one) for one in statements_for(bench, settings_on(bench))
    )


def test_an_end_face_shows_a_spot_and_no_line():
    bench = ready_made("axial coil tube")
    settings = settings_on(bench)
    words = [statement_words(one) for one in statements_for(bench, settings)]
    words += [out for check in checks_for(bench, settings) for out in check.outcomes]
    assert any("spot" in each for each in words)
    assert not any(re.search(r"\bline\b", each) for each in words)


def test_a_bench_without_coils_has_no_faults_of_coils():
    bench = change(
        ready_made("deflection tube"), {"coils": None, "supplies.coils": None}, "no coils"
    )
    settings = opening_settings(bench)
    assert not any(fault.group == "coils" for fault in faults_for(bench, settings))
    words = [statement_words(one) for one in statements_for(bench, settings)]
    words += [one.key for one in checks_for(bench, settings)]
    assert not any("coil" in each for each in words)


@pytest.mark.parametrize("name", ready_made_names())
def test_no_check_raises_the_accelerating_voltage(name):
    bench = ready_made(name)
    low, high, _ = knob_ranges(bench)["accelerating_voltage"]
    for volts in (low, (low + high) / 2, high):
        settings = settings_on(bench).model_copy(update={"accelerating_voltage": volts})
        for state in variations(bench, settings):
            assert state.settings.accelerating_voltage <= volts


def test_no_check_goes_beyond_a_rating():
    for name in ready_made_names():
        bench = ready_made(name)
        for settings in (opening_settings(bench), settings_on(bench)):
            for state in variations(bench, settings):
                assert not check_settings(bench, state.settings), (name, state.key)
