"""The command that explains: what it tells people and programs, and what it refuses.

Exit codes: 0 for success, 2 for wrong use (common practice of Unix programs: no source).
"""

from __future__ import annotations

import csv
import json
import math
import re

import pytest

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.ready_made import ready_made
from glowtrace.explain.path_table import COLUMNS

TUBE = "deflection tube"
TURN_BACK = ("--accelerating", "1 kV", "--plate", "2.5 kV", "--coil", "1 A", "--reverse-coils")


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


def words(text):
    return " ".join(text.split())


@pytest.mark.slow
def test_everything_is_told(glowtrace):
    code, out, _ = glowtrace("explain", TUBE, *TURN_BACK)
    assert code == 0
    told = words(out)
    for heading in (
        "The electron on its way",
        "Why it is not as in the textbook",
        "Why the line is as wide as it is",
        "Often told",
    ):
        assert heading in told
    assert "Lowest point" in told
    tube = ready_made(TUBE)  # E/B of the textbook: 2.5 kV on the plates, 1 A in the coils
    drift = 2500.0 / tube.plates.gap / math.hypot(*flux_density_per_ampere(tube))
    seen = re.search(r"Seen by somebody who moves along at (\d\.\d\d) × 10⁷ m/s", told)
    assert seen is not None
    assert 1e7 * float(seen[1]) == pytest.approx(drift, rel=0.05)  # the real fields differ a little
    assert "The coils' real field" in told
    assert "At the lowest point the electrons stop" in told
    assert "the electron moves forwards at" not in told


def test_one_part_with_its_answers(glowtrace):
    code, out, _ = glowtrace("explain", TUBE, *TURN_BACK, "--part", "accounts", "--answers")
    assert code == 0
    assert "the electron moves forwards at" in words(out)
    assert "The electron on its way" not in out


def test_programs_get_one_object_and_the_table(glowtrace, tmp_path):
    table = tmp_path / "path.csv"
    command = ("explain", TUBE, *TURN_BACK, "--part", "motion", "--part", "differences")
    code, out, _ = glowtrace(*command, "--json", "--table", table)
    assert code == 0
    record = json.loads(out)
    assert record["model"] == "bench"
    assert record["spread"] is None
    assert record["written"] == [str(table)]
    causes = {each["cause"]: each["mean_m"] for each in record["differences"]["causes"]}
    assert set(causes) == {"plates", "coils", "mass"}
    shift = record["differences"]["bench_m"] - record["differences"]["textbook_m"]
    assert sum(causes.values()) == pytest.approx(shift, abs=1e-9)
    rows = list(csv.reader(table.read_text().splitlines()))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) > 300

    code, _, err = glowtrace(*command, "--table", table)
    assert code == 2
    assert "exists already" in err
    assert glowtrace(*command, "--json", "--table", table, "--overwrite")[0] == 0


def test_a_table_of_another_kind_is_refused(glowtrace, tmp_path):
    code, _, err = glowtrace("explain", TUBE, "--table", tmp_path / "path.xyz")
    assert code == 2
    assert "must end in .csv" in err


def test_a_cold_cathode_is_a_result(glowtrace):
    code, out, _ = glowtrace("explain", TUBE, "--accelerating", "2 kV", "--heater-off")
    assert code == 0
    assert "No electron leaves the gun" in out
    code, out, _ = glowtrace("explain", TUBE, "--heater-off", "--accelerating", "2 kV", "--json")
    assert code == 0
    record = json.loads(out)
    assert record["places"] == []
    assert record["moving_frame"]["exists"] is False


def test_the_ideal_model_tells_of_its_edges(glowtrace):
    command = ("--accelerating", "3 kV", "--plate", "1 kV", "--part", "motion")
    _, out, _ = glowtrace("explain", TUBE, *command, "--model", "ideal")
    assert "sharp edges of the uniform field are wrong by" in words(out)
    _, out, _ = glowtrace("explain", TUBE, *command)
    assert "sharp edges" not in words(out)
