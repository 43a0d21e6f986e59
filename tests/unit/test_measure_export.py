"""Measurements as JSON: all that is needed to redo them. Rules of the project, no source."""

from __future__ import annotations

import json

import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import FREE, Known, experiment
from glowtrace.measure.export import export_measurement, redo_measurement
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, table


def measurement(apparatus, model="ideal"):
    rows = [
        {"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 0.0825},
        {"accelerating_voltage": 250.0, "coil_current": 1.5, "diameter": [0.092, 0.0925, 0.093]},
        {"accelerating_voltage": 250.0, "coil_current": 1.4, "diameter": Reading(0.099, 5e-4)},
        {"accelerating_voltage": 250.0, "coil_current": 1.4, "diameter": None},
        {"accelerating_voltage": 150.0, "coil_current": 1.5, "diameter": 0.0715},
    ]
    meters = {"ruler": Instrument(1e-3), "coil_current": Instrument(0.01, 0.01, name="M1")}
    made = table("circle", rows, meters, is_invented=True, note="invented")
    known = {"coil_constant": Known(None, 4e-6), "specific_charge": FREE}
    return experiment(apparatus, made, model=model, known=known)


@pytest.mark.parametrize("robust", ["none", "student"])
def test_a_measurement_can_be_redone(robust):
    setup = measurement(ready_made("fine-beam bulb"))
    found = setup.fit(robust=robust)
    text = export_measurement(setup, found)
    again, refound = redo_measurement(text)
    assert again.tables == setup.tables
    assert again.bench == setup.bench
    assert refound.values.tolist() == found.values.tolist()
    assert refound.covariance.tolist() == found.covariance.tolist()
    assert export_measurement(again, refound) == text


def test_a_traced_measurement_can_be_redone(fine_beam_bulb):
    setup = measurement(fine_beam_bulb, "bench")
    found = setup.fit()
    again, refound = redo_measurement(
        export_measurement(setup, found), preparing=lambda bench: fine_beam_bulb
    )
    assert again.model == "bench"
    assert refound.values.tolist() == found.values.tolist()


def test_the_text_says_what_was_done():
    setup = measurement(ready_made("fine-beam bulb"))
    data = json.loads(export_measurement(setup, setup.fit()))
    assert data["tables"][0]["faults"] == {"4": "D: missing"}
    assert data["tables"][0]["is_invented"] is True
    assert data["result"]["series"][0]["rows"] == [1, 2, 3, 5]
    assert "contact potentials and losses" in data["result"]["taken_as_exact"]
    assert data["known"]["specific_charge"] == {"value": None, "uncertainty": None}
    lines = data["result"]["budgets"]["specific_charge"]["lines"]
    assert sum(line["share"] for line in lines) == pytest.approx(1.0)
    assert data["versions"].keys() >= {"glowtrace", "numpy", "scipy", "python"}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"format": "other"}, "'other'"),
        ({"model": "best"}, '"ideal" or "bench"|"bench" or "ideal"'),
        ({"robust": "very"}, "student"),
        ({"tables": [{}]}, "without its 'method'"),
        ({"known": {"specific_charge": 1}}, "broken"),
        ({"bench": {"toml": "format = 3"}}, "format"),
    ],
)
def test_broken_texts_are_refused(change, says):
    setup = measurement(ready_made("fine-beam bulb"))
    data = json.loads(export_measurement(setup, setup.fit())) | change
    with pytest.raises(GlowtraceError, match=says):
        redo_measurement(json.dumps(data))
    with pytest.raises(GlowtraceError, match="broken"):
        redo_measurement("{")
