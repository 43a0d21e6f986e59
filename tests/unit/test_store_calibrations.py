"""Calibrations of a tube in the database: with their bench, date and uncertainty, and back."""

from __future__ import annotations

import dataclasses
import datetime
import json

import pytest

from glowtrace.bench.identity import fields_key
from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.measure.calibration import Factor, TubeCalibration
from glowtrace.store import open_store

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
MADE = TubeCalibration(
    fields_key(TUBE),
    "bench",
    datetime.date(2026, 11, 20),
    plate_factor=Factor(0.931, 0.012),
    note="invented",
)


def test_calibration_comes_back_with_bench_date_and_uncertainty(address):
    with open_store(address) as store:
        kept = store.calibrations.keep(MADE, TUBE, data={"readings": "rows"})
    with open_store(address) as store:
        assert store.calibrations.list(TUBE) == (kept,)
        assert store.calibrations.open(kept.id).calibration == MADE
        entry = store.logbook.open(kept.id)
    assert (entry.kind, entry.bench) == ("calibration", TUBE)
    assert (
        entry.title
        == "Calibration of 20 Nov 2026: plate factor 0.931(12) (the real fields of this bench)"
    )
    assert entry.payload["readings"] == "rows"


def test_calibration_is_offered_for_benches_of_its_geometry_only(store):
    kept = store.calibrations.keep(MADE, TUBE)
    same = TUBE.model_copy(update={"name": "under another name"})
    wider = TUBE.plates.model_copy(update={"gap": 1.1 * TUBE.plates.gap})
    assert store.calibrations.list(same) == (kept,)
    assert store.calibrations.list(TUBE.model_copy(update={"plates": wider})) == ()
    assert store.calibrations.list(BULB) == ()
    with pytest.raises(GlowtraceError, match="other geometry"):
        store.calibrations.keep(MADE, BULB)
    assert store.calibrations.list() == (kept,)


def test_the_one_measured_last_comes_first(store):
    later = dataclasses.replace(MADE, date=datetime.date(2026, 11, 24))
    earlier = dataclasses.replace(MADE, date=datetime.date(2025, 3, 1))
    for each in (MADE, later, earlier):
        store.calibrations.keep(each, TUBE)
    dates = [each.calibration.date for each in store.calibrations.list(TUBE)]
    assert dates == [later.date, MADE.date, earlier.date]


def test_same_calibration_is_kept_once(store):
    kept = store.calibrations.keep(MADE, TUBE)
    assert store.calibrations.keep(MADE, TUBE) == kept
    assert store.calibrations.list() == (kept,)


def test_withdrawn_calibration_is_no_longer_offered(store):
    kept = store.calibrations.keep(MADE, TUBE)
    store.logbook.withdraw(kept.id, reason="the plates were swapped")
    assert store.calibrations.list(TUBE) == ()
    assert store.calibrations.open(kept.id).calibration == MADE


def test_other_entries_hold_no_calibration(store):
    note = store.logbook.add("note", "nothing")
    newer = store.logbook.add("calibration", "newer", payload={"calibration": {"format": "9"}})
    for entry in (note, newer):
        with pytest.raises(StoreError, match="holds no calibration"):
            store.calibrations.open(entry.id)
    assert store.calibrations.list() == ()


def test_calibration_goes_out_and_in_with_the_logbook(store, tmp_path):
    kept = store.calibrations.keep(MADE, TUBE)
    store.logbook.export_to(tmp_path / "logbook.zip")
    with open_store(tmp_path / "elsewhere.sqlite") as elsewhere:
        elsewhere.logbook.import_from(tmp_path / "logbook.zip")
        assert elsewhere.calibrations.list(TUBE) == (kept,)


def test_correlation_of_both_factors_comes_back_and_is_told(store):
    both = dataclasses.replace(MADE, coil_factor=Factor(1.004, 0.012), correlation=-0.97)
    kept = store.calibrations.keep(both, TUBE)
    assert store.calibrations.open(kept.id).calibration.correlation == -0.97
    assert "coil factor 1.004(12), correlation -0.97 (" in store.logbook.open(kept.id).title
    # One kept by a program that knew of no correlation
    old = json.loads(both.to_json()) | {"format": "glowtrace-calibration 1"}
    del old["correlation"]
    payload = {"calibration": old}
    entry = store.logbook.add("calibration", "an older one", bench=TUBE, payload=payload)
    assert store.calibrations.open(entry.id).calibration.correlation == 0.0
