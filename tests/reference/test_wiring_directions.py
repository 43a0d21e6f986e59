"""The predicted directions against the right-hand rule, done by hand; the leads as a circuit.

Sources: force on an electron F = -e (E + v x B) and potentials in a circuit (any text, from
memory). Each expected direction below is worked out by hand in a comment.
"""

from __future__ import annotations

import math

import pytest
from scipy.constants import e, m_e, mu_0

from glowtrace.bench.checking import change
from glowtrace.bench.layout import bench_windings
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.plan.wiring import wire

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
AXIAL = ready_made("axial coil tube")


def step(wiring, word):
    found = [check for check in wiring.checks if check.do.startswith(word)]
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize(
    ("is_reversed", "way"),
    [
        (False, "up"),  # B along +z: v x B = x cross z = -y, times -e: +y
        (True, "down"),
    ],
)
@pytest.mark.parametrize("name", ["deflection_tube", "fine_beam_bulb"])
def test_the_coils_push_the_beam_as_the_right_hand_rule_says(name, is_reversed, way, request):
    prepared = request.getfixturevalue(name)
    chosen = Settings(
        accelerating_voltage=prepared.bench.gun.max_accelerating_voltage / 2,
        coil_current=0.5,
        coil_reversed=is_reversed,
    )
    check = step(wire(prepared.bench, chosen, prepared=prepared), "Coil current")
    assert f"moves {way} by" in check.expect
    assert (check.shift[0] > 0) == (way == "up")
    assert abs(check.shift[0]) > 10 * abs(check.shift[1])


@pytest.mark.parametrize(
    ("is_reversed", "tie", "way"),
    [
        (False, "symmetric", "up"),  # upper plate +, E along -y, times -e: +y
        (True, "symmetric", "down"),
        (False, "lower at anode", "up"),
        (True, "upper at anode", "down"),
    ],
)
def test_the_plates_draw_the_beam_to_the_positive_one(deflection_tube, is_reversed, tie, way):
    chosen = Settings(
        accelerating_voltage=3000.0, plate_voltage=1000.0, plate_tie=tie, plate_reversed=is_reversed
    )
    check = step(wire(TUBE, chosen, prepared=deflection_tube), "Plate voltage")
    assert f"moves {way} by" in check.expect


@pytest.mark.parametrize(
    ("tie", "is_reversed", "way"),
    [
        # The plate that is not at the anode is negative and pushes the beam away.
        ("upper at anode", False, "up"),
        ("lower at anode", True, "down"),
    ],
)
def test_plates_on_the_accelerating_supply_push_from_the_negative_one(
    deflection_tube, tie, is_reversed, way
):
    chosen = Settings(
        accelerating_voltage=3000.0, plate_voltage=1000.0, plate_source="accelerating supply",
        plate_tie=tie, plate_reversed=is_reversed,
    )  # fmt: skip
    check = step(wire(TUBE, chosen, prepared=deflection_tube), "Plate voltage")
    assert f"moves {way} by" in check.expect


def test_coils_stood_on_edge_push_the_beam_sideways():
    # A pair turned by +90 degrees about x has its axis along -y: B along -y, v x B = x cross -y
    # = -z, times -e: +z, towards the audience.
    turned = change(BULB, {"coils.tilt_x": "90 deg", "coils.centre": ["0 mm", "46 mm", "0 mm"]})
    check = step(wire(turned, Settings(accelerating_voltage=200.0)), "Coil current")
    assert "moves towards the audience by" in check.expect
    axis = bench_windings(turned)[0].axis
    assert axis == pytest.approx((0.0, -1.0, 0.0), abs=1e-12)


def test_the_predicted_move_in_the_bulb_is_that_of_a_circle(fine_beam_bulb):
    # In a uniform field the beam runs on a circle of radius r = m v / (e B): y = r - sqrt(r^2-x^2);
    # coils of Helmholtz's spacing, (4/5)^(3/2) mu_0 N I / R at the centre (CHECKS section 5),
    # uniform to a few per cent where the beam passes.
    check = step(
        wire(BULB, Settings(accelerating_voltage=200.0), prepared=fine_beam_bulb), "Coil current"
    )
    tried = check.settings
    field = 0.8**1.5 * mu_0 * 141 * tried.coil_current / 0.163
    radius = math.sqrt(2 * m_e * tried.accelerating_voltage / e) / field
    height = radius - math.sqrt(radius**2 - check.at_x**2)
    assert check.shift[0] == pytest.approx(height, rel=0.05)


def test_the_predicted_move_between_the_plates_is_a_parabola(deflection_tube):
    # y = V_p x^2 / (4 d V_a) from the plates' edge on (any text); fringes change it by up to 15 %.
    chosen = Settings(accelerating_voltage=3000.0, plate_voltage=500.0)
    check = step(wire(TUBE, chosen, prepared=deflection_tube), "Plate voltage")
    inside = check.at_x - TUBE.plates.start
    volts = check.settings
    height = volts.plate_voltage * inside**2 / (4 * 0.049 * volts.accelerating_voltage)
    assert check.shift[0] == pytest.approx(height, rel=0.25)


def test_a_field_along_the_beam_focuses_alike_in_both_senses(axial_coil_tube):
    # The turn of a helix has another sense, its projection on the spot's size has not.
    chosen = Settings(accelerating_voltage=500.0, coil_current=0.3)
    check = step(wire(AXIAL, chosen, prepared=axial_coil_tube), "Coil current")
    assert "shrinks" in check.expect
    assert "either sense" in check.expect
    assert check.exchange is None


def test_opposing_coils_push_a_beam_beside_their_axis_sideways():
    # B_z is 0 midway and grows towards the front coil, so that, free of sources, B points to the
    # axis there: up for a beam below it. v x B = x cross y = +z, times -e: away from the audience.
    opposing = change(BULB, {"coils.sense": "opposing"})
    check = step(wire(opposing, Settings(accelerating_voltage=200.0)), "Coil current")
    assert "moves away from the audience by" in check.expect


def test_opposing_coils_hardly_move_a_beam_on_their_axis():
    # In their very middle both fields cancel; the beam crosses it (symmetry).
    opposing = change(BULB, {"coils.sense": "opposing", "coils.centre": (0.0, 0.0, 0.0)})
    check = step(wire(opposing, Settings(accelerating_voltage=200.0)), "Coil current")
    assert "hardly moves" in check.expect


# The lead table as a circuit: potentials follow from leads and supplies alone.


def potentials(wiring, chosen):
    """Solve the circuit by spreading potentials from the earthed point."""
    links = [(lead.from_terminal, lead.to_terminal, 0.0) for lead in wiring.leads]
    sources = [("accelerating supply −", "accelerating supply +", chosen.accelerating_voltage)]
    if chosen.plate_source == "own supply":
        half = chosen.plate_voltage / 2
        sources += [("plate supply −", "plate supply middle", half),
                    ("plate supply middle", "plate supply +", half)]  # fmt: skip
    else:
        sources.append(("divider tap", "divider +", chosen.plate_voltage))
    known = {"protective earth": 0.0}
    everything = [*links, *sources]
    for _ in everything:
        for low, high, volts in everything:
            if low in known:
                assert known.setdefault(high, known[low] + volts) == pytest.approx(
                    known[low] + volts
                )
            elif high in known:
                known[low] = known[high] - volts
    return known


OWN = [
    {"plate_source": "own supply", "plate_tie": tie, "plate_reversed": reverse}
    for tie in ("symmetric", "lower at anode", "upper at anode")
    for reverse in (False, True)
]
SHARED = [
    {"plate_source": "accelerating supply", "plate_tie": tie, "plate_reversed": reverse,
     "plate_voltage": volts}
    for tie, reverse in (("upper at anode", False), ("lower at anode", True))
    for volts in (0.0, 1000.0, 3000.0)
]  # fmt: skip


@pytest.mark.parametrize("earthed", ["anode", "cathode"])
@pytest.mark.parametrize("plates", [*OWN, *SHARED])
def test_the_leads_give_every_electrode_the_potential_that_the_settings_ask_for(
    deflection_tube, plates, earthed
):
    chosen = Settings(**{"accelerating_voltage": 3000.0, "plate_voltage": 1000.0, **plates})
    known = potentials(wire(TUBE, chosen, earthed=earthed, prepared=deflection_tube), chosen)
    anode = known["anode"]
    assert known[earthed] == 0.0
    assert known["cathode"] - anode == -3000.0
    assert known["heater supply 2"] == known["cathode"]
    across = known["upper plate"] - known["lower plate"]
    assert across == pytest.approx(chosen.signed_plate_voltage)
    tied = {
        "symmetric": (known["upper plate"] + known["lower plate"]) / 2,
        "lower at anode": known["lower plate"],
        "upper at anode": known["upper plate"],
    }[chosen.plate_tie]
    assert tied == pytest.approx(anode)


@pytest.mark.parametrize("sense", ["aiding", "opposing"])
@pytest.mark.parametrize("is_reversed", [False, True])
def test_the_current_enters_each_coil_at_the_end_that_its_sense_asks_for(sense, is_reversed):
    # By definition of terminal A: a current entering there gives a field along +z in this coil.
    bench = change(BULB, {"coils.sense": sense})
    chosen = Settings(accelerating_voltage=200.0, coil_current=1.0, coil_reversed=is_reversed)
    follow = {lead.from_terminal: lead.to_terminal for lead in wire(bench, chosen).leads}
    assert follow["coil supply +"] == "ammeter +"
    entered, terminal = {}, follow["ammeter −"]
    while terminal != "coil supply −":
        coil, end = terminal[:-2], terminal[-1]
        entered[coil] = end == "A"
        terminal = follow[f"{coil} {'B' if end == 'A' else 'A'}"]
    back, front = (
        winding.turns > 0 for winding in sorted(bench_windings(bench), key=lambda w: w.centre[2])
    )
    assert entered == {"back coil": back != is_reversed, "front coil": front != is_reversed}
