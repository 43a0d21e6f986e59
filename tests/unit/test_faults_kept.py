"""Pictures of faults on disk: the same as computed ones, found again, and bounded."""

from __future__ import annotations

import os
from dataclasses import fields

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceWarning
from glowtrace.faults import Sighting, prepare_suspects, rank, suspects
from glowtrace.faults.looks import Look
from glowtrace.faults.table_files import load_table, store_table, table_key, trim

SET = Settings(accelerating_voltage=640.0, coil_current=0.35)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "faults"


def test_what_was_simulated_is_not_simulated_again(axial_coil_tube, folder, monkeypatch):
    first = prepare_suspects(axial_coil_tube, SET, draws=2, folder=folder)

    def fly(*given):
        raise AssertionError("nothing needs to fly")

    monkeypatch.setattr(suspects, "appearance_in", fly)
    again = prepare_suspects(axial_coil_tube, SET, draws=2, folder=folder)
    for one, other in zip(first.suspects, again.suspects, strict=True):
        assert one.fault == other.fault
        assert one.conditions == other.conditions
        for state, look in one.looks.items():
            for each in fields(Look):
                kept = getattr(other.looks[state], each.name)
                np.testing.assert_array_equal(getattr(look, each.name), kept)
    seen = Sighting(seen=("elsewhere",), line=((0.0, 0.004),))
    assert rank(first, seen).probabilities == rank(again, seen).probabilities
    with pytest.raises(AssertionError):  # other settings are another table
        prepare_suspects(axial_coil_tube, SET.model_copy(update={"coil_current": 0.3}),
                         draws=2, folder=folder)  # fmt: skip


def test_a_key_tells_bench_settings_seed_and_draws_apart(axial_coil_tube, fine_beam_bulb):
    bench = axial_coil_tube.bench
    keys = {
        table_key(bench, SET, 0, 32),
        table_key(fine_beam_bulb.bench, SET, 0, 32),
        table_key(bench, SET.model_copy(update={"coil_reversed": True}), 0, 32),
        table_key(bench, SET, 1, 32),
        table_key(bench, SET, 0, 33),
    }
    assert len(keys) == 5
    assert table_key(bench, SET, 0, 32) in keys


def test_a_damaged_table_is_computed_anew(axial_coil_tube, folder):
    before = prepare_suspects(axial_coil_tube, SET, draws=2, folder=folder)
    (path,) = folder.glob("*.npz")
    path.write_bytes(path.read_bytes()[:5000])
    assert load_table(folder, path.stem) is None
    again = prepare_suspects(axial_coil_tube, SET, draws=2, folder=folder)
    assert rank(before, Sighting()).probabilities == rank(again, Sighting()).probabilities
    assert load_table(folder, path.stem) is not None


def test_a_folder_that_takes_nothing_costs_a_warning_only(axial_coil_tube, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way", "utf-8")
    with pytest.warns(GlowtraceWarning, match="Free some space"):
        found = prepare_suspects(axial_coil_tube, SET, draws=2, folder=blocked / "faults")
    assert found.suspects


def test_what_was_not_used_for_longest_goes_first(axial_coil_tube, folder):
    prepare_suspects(axial_coil_tube, SET, draws=2, folder=folder)
    (path,) = folder.glob("*.npz")
    table = load_table(folder, path.stem)
    for age, name in enumerate(("newest", "middle", "oldest")):
        store_table(folder, name, table)
        os.utime(folder / f"{name}.npz", (1000.0 - age, 1000.0 - age))
    path.unlink()
    size = (folder / "newest.npz").stat().st_size
    assert load_table(folder, "oldest") is not None  # used now
    trim(folder, 2 * size)
    assert {each.stem for each in folder.glob("*.npz")} == {"newest", "oldest"}
