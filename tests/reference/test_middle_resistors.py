"""Resistors for the plates' middle, against Kirchhoff's laws solved as a linear system by numpy.

Ohm's and Kirchhoff's laws and Joule's V squared over R: any textbook of electricity.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.plan.middle_resistors import middle_notes, middle_resistors

TUBE = ready_made("deflection tube")
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""IEC 60063, from memory."""
SET = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)


def plates_at(voltage, upper_resistance, lower_resistance, collected):
    """Potentials of both plates against the anode (V), the current leaving at the upper one."""
    equations = [[1.0, -1.0], [1 / upper_resistance, 1 / lower_resistance]]
    return np.linalg.solve(equations, [voltage, -collected])


def test_a_collected_current_moves_the_middle_as_kirchhoff_says():
    made = middle_resistors(TUBE, SET)
    plates = plates_at(1000.0, made.resistance, made.resistance, made.collected)
    assert abs(plates.mean()) == pytest.approx(made.move, rel=1e-9)
    assert made.move <= 0.01 * min(TUBE.plates.max_voltage, TUBE.supplies.plates.max_voltage)
    assert made.is_stiff


def test_the_tolerance_and_an_open_resistor_move_the_middle_as_the_note_says():
    made = middle_resistors(TUBE, SET)
    text = " ".join(middle_notes(made))
    unequal = plates_at(1000.0, 1.01 * made.resistance, 0.99 * made.resistance, 0.0)
    assert unequal.mean() == pytest.approx(0.005 * 1000.0, rel=1e-3)
    assert "0.5 % of the plate voltage" in text
    upper_open = plates_at(1000.0, 1e9 * made.resistance, made.resistance, 0.0)
    assert upper_open == pytest.approx([1000.0, 0.0], abs=1e-3)
    assert "the plate at the other one stands at the anode's potential" in text


def test_each_piece_stands_what_the_supply_can_give():
    supply = TUBE.supplies.plates
    made = middle_resistors(TUBE, SET)
    load = supply.max_voltage / (2 * made.resistance)
    assert made.load == pytest.approx(load)
    assert made.load <= 0.2 * supply.max_current
    assert made.piece_voltage == pytest.approx(load * made.piece)
    assert made.piece_voltage <= 250.0
    assert made.rated_power == pytest.approx(2 * load**2 * made.piece)
    assert made.time_constant == pytest.approx(2 * made.resistance * supply.output_capacitance)
    stated = re.search(
        r"every piece made for at least (\d+) V and (\d+) mW", next(middle_notes(made))
    )
    assert float(stated[1]) >= made.piece_voltage
    assert float(stated[2]) >= made.rated_power * 1e3


@pytest.mark.parametrize("most", [300.0, 700.0, 2500.0, 12_000.0])
@pytest.mark.parametrize("rated", [0.05e-3, 1.7e-3, 30e-3])
def test_on_any_supply_the_load_stays_small_and_values_are_of_the_series(most, rated):
    bench = change(TUBE, {"supplies.plates.max_voltage": most})
    bench = change(bench, {"supplies.plates.max_current": rated})
    made = middle_resistors(bench, SET.model_copy(update={"plate_voltage": 100.0}))
    assert made.load <= 0.2 * rated * (1 + 1e-9)
    assert made.piece_voltage <= 250.0
    assert f"{made.piece:.6e}"[:8] in {f"{value:.6f}" for value in E12}
    warned = any("tie one plate to the anode instead" in note for note in middle_notes(made))
    assert warned == (not made.is_stiff)
    assert made.is_stiff == (made.move <= 0.01 * min(most, TUBE.plates.max_voltage))


@pytest.mark.parametrize(
    "changed",
    [
        {"plate_tie": "lower at anode"},
        {"plate_source": "accelerating supply", "plate_tie": "upper at anode"},
    ],
)
def test_no_resistors_where_the_plates_do_not_stand_evenly(changed):
    assert middle_resistors(TUBE, SET.model_copy(update=changed)) is None


def test_no_time_is_told_where_the_capacitance_is_unknown():
    bench = change(TUBE, {"supplies.plates.output_capacitance": None})
    made = middle_resistors(bench, SET)
    assert made.time_constant is None
    assert not any("time constant" in note for note in middle_notes(made))
