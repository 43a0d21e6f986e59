"""The lead table, its reversals, and what must not depend on the earth. No outside source."""

from __future__ import annotations

import re

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.electron import drawing
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import RatingError
from glowtrace.plan.wiring import wire

TUBE = ready_made("deflection tube")
CROSSED = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.14)
SHARED = {"plate_source": "accelerating supply", "plate_tie": "upper at anode"}
FIXTURES = {
    "deflection tube": "deflection_tube",
    "fine-beam bulb": "fine_beam_bulb",
    "axial coil tube": "axial_coil_tube",
}


def modest(bench):
    return Settings(accelerating_voltage=bench.gun.max_accelerating_voltage / 2, coil_current=0.2)


def connections(leads):
    return {frozenset((lead.from_terminal, lead.to_terminal)) for lead in leads}


def all_texts(wiring):
    yield from wiring.notes
    yield from (reversal.text for reversal in wiring.reversals)
    yield from (lead.why for lead in wiring.leads)
    for check in wiring.checks:
        yield from (check.do, check.expect, check.if_wrong)


@pytest.mark.parametrize("name", ready_made_names())
def test_every_lead_is_whole_numbered_and_leaves_the_colour_to_local_practice(name, request):
    prepared = request.getfixturevalue(FIXTURES[name])
    leads = wire(prepared.bench, modest(prepared.bench), prepared=prepared).leads
    assert [lead.number for lead in leads] == list(range(1, len(leads) + 1))
    assert len(connections(leads)) == len(leads)
    for lead in leads:
        assert lead.from_terminal != lead.to_terminal
        assert lead.lead
        assert lead.why
        assert lead.colour == "by local practice"


@pytest.mark.parametrize("name", ready_made_names())
def test_the_earthed_point_changes_one_lead_and_no_prediction(name, request):
    prepared = request.getfixturevalue(FIXTURES[name])
    one, other = (
        wire(prepared.bench, modest(prepared.bench), earthed=point, prepared=prepared)
        for point in ("anode", "cathode")
    )
    assert one.checks == other.checks
    assert connections(one.leads) ^ connections(other.leads) == {
        frozenset(("anode", "protective earth")),
        frozenset(("cathode", "protective earth")),
    }


def exchanged(leads, pair, ends):
    """Swap the ends of two leads that sit on the given terminals."""
    swap = dict(zip(ends, reversed(ends), strict=True))
    for lead in leads:
        terminals = (lead.from_terminal, lead.to_terminal)
        if lead.number in pair:
            terminals = tuple(swap.get(terminal, terminal) for terminal in terminals)
        yield frozenset(terminals)


@pytest.mark.parametrize(
    ("switch", "ends", "settings"),
    [
        ("coil_reversed", ("front coil A", "back coil B"), {}),
        ("plate_reversed", ("upper plate", "lower plate"), {}),
        ("plate_reversed", ("upper plate", "lower plate"), {"plate_tie": "lower at anode"}),
    ],
)
def test_exchanging_the_named_leads_is_what_the_reversing_switch_does(
    deflection_tube, switch, ends, settings
):
    before = CROSSED.model_copy(update=settings)
    after = before.model_copy(update={switch: True})
    wiring = wire(TUBE, before, prepared=deflection_tube)
    reversal = next(r for r in wiring.reversals if r.switch == switch)
    by_hand = set(exchanged(wiring.leads, reversal.exchange, ends))
    assert by_hand == connections(wire(TUBE, after, prepared=deflection_tube).leads)


def test_exchanging_shared_plates_ties_the_other_one(deflection_tube):
    before = CROSSED.model_copy(update=SHARED)
    after = before.model_copy(update={"plate_tie": "lower at anode", "plate_reversed": True})
    wiring = wire(TUBE, before, prepared=deflection_tube)
    reversal = next(r for r in wiring.reversals if r.switch == "plate_reversed")
    by_hand = set(exchanged(wiring.leads, reversal.exchange, ("upper plate", "lower plate")))
    meters = {x for x in by_hand if any("voltmeter" in terminal for terminal in x)}
    wanted = connections(wire(TUBE, after, prepared=deflection_tube).leads)
    # The plates' meter is turned round as well, which no picture shows.
    assert by_hand - meters == {
        x for x in wanted if not any("voltmeter" in terminal for terminal in x)
    }
    assert "tie to the anode changes" in reversal.text


@pytest.mark.parametrize("name", ready_made_names())
def test_every_text_that_has_a_lead_touched_says_off_and_discharged_first(name, request):
    prepared = request.getfixturevalue(FIXTURES[name])
    bench = prepared.bench
    plates = {"plate_voltage": 100.0} if bench.plates else {}
    wiring = wire(bench, modest(bench).model_copy(update=plates), prepared=prepared)
    touching = [
        t for t in all_texts(wiring) if re.search(r"exchange|look at the lead|follow the", t)
    ]
    assert len(touching) >= 4
    for text in touching:
        if "need be exchanged" not in text:
            assert "off and discharged" in text
    assert any("before any lead is touched, every time" in note for note in wiring.notes)


def test_checks_go_from_the_heater_to_the_whole_picture(deflection_tube):
    checks = wire(TUBE, CROSSED, prepared=deflection_tube).checks
    assert [check.number for check in checks] == [1, 2, 3, 4, 5]
    words = ["Heater", "Accelerating", "Coil current", "Plate voltage", "Accelerating"]
    assert all(check.do.startswith(word) for check, word in zip(checks, words, strict=True))
    for check in checks[:4]:
        assert check.settings.accelerating_voltage <= 1000.0
    assert checks[-1].settings == CROSSED


def test_predictions_follow_the_forward_model(deflection_tube):
    # The electron that draws the line there, between its points by straight lines here.
    check = wire(TUBE, CROSSED, prepared=deflection_tube).checks[2]
    before = check.settings.model_copy(update={"coil_current": 0.0})
    heights = []
    for each in (before, check.settings):
        launch = drawing(deflection_tube.bench, check.at_x)
        x, y, _ = deflection_tube.fly(each, launch).position.T
        after = int((x >= check.at_x).argmax())
        part = (check.at_x - x[after - 1]) / (x[after] - x[after - 1])
        heights.append(y[after - 1] + part * (y[after] - y[after - 1]))
    assert check.shift[0] == pytest.approx(heights[1] - heights[0], abs=1e-7)
    assert f"about {1000 * abs(check.shift[0]):.1f} mm" in check.expect


@pytest.mark.parametrize(
    ("changes", "circuits"),
    [
        ({"plates": None, "supplies.plates": None}, {"earth", "heater", "coils", "accelerating"}),
        ({"coils": None}, {"earth", "heater", "plates", "accelerating"}),
        ({"supplies.coils": None}, {"earth", "heater", "plates", "accelerating"}),
    ],
)
def test_only_what_stands_there_is_wired(changes, circuits):
    wiring = wire(change(TUBE, changes), Settings(accelerating_voltage=3000.0))
    assert {lead.circuit for lead in wiring.leads} == circuits


def test_plates_without_a_voltage_from_the_shared_supply_both_lie_at_the_anode(deflection_tube):
    idle = Settings(accelerating_voltage=3000.0, plate_source="accelerating supply")
    wiring = wire(TUBE, idle, prepared=deflection_tube)
    joins = connections(wiring.leads)
    assert {frozenset(("upper plate", "anode")), frozenset(("lower plate", "anode"))} <= joins
    assert not [check for check in wiring.checks if "plates" in check.if_wrong]


def test_plates_on_the_whole_accelerating_voltage_need_no_divider(deflection_tube):
    whole = CROSSED.model_copy(update={**SHARED, "plate_voltage": 3000.0})
    wiring = wire(TUBE, whole, prepared=deflection_tube)
    assert frozenset(("accelerating supply −", "lower plate")) in connections(wiring.leads)
    assert not [lead for lead in wiring.leads if "divider" in lead.from_terminal]
    check = next(c for c in wiring.checks if "take as a whole" in c.do)
    assert check.settings.plate_voltage == check.settings.accelerating_voltage


def test_settings_that_no_wiring_gives_are_refused(deflection_tube):
    impossible = CROSSED.model_copy(update={"plate_source": "accelerating supply"})
    with pytest.raises(RatingError, match="plate_tie"):
        wire(TUBE, impossible, prepared=deflection_tube)
