"""The files that commands write: never over another one unasked, and refused before any work.

Common practice of programs that write files, no source.
"""

from __future__ import annotations

import csv
import os
import sys

import pytest

from glowtrace.cli import run

TUBE = "deflection tube"
KNOBS = ("--across", "coil", "--up", "plate")
WRITING = {
    "trace --picture": (("trace", TUBE, "--picture"), ".png"),
    "trace --table": (("trace", TUBE, "--table"), ".csv"),
    "plan --picture": (("plan", TUBE, "plate deflection", "--picture"), ".svg"),
    "plan --settings-file": (("plan", TUBE, "plate deflection", "--settings-file"), ".toml"),
    "outcomes --picture": (("outcomes", TUBE, *KNOBS, "--picture"), ".png"),
    "outcomes --table": (("outcomes", TUBE, *KNOBS, "--table"), ".csv"),
    "wiring --diagram": (("wiring", TUBE, "--diagram"), ".svg"),
    "sheet --out": (("sheet", TUBE, "--out"), ".pdf"),
    "light --picture": (("light", TUBE, "--picture"), ".png"),
    "clip --out": (("clip", "flight", TUBE, "--out"), ".mp4"),
    "worksheet --out": (("worksheet", TUBE, "--out"), ".pdf"),
    "worksheet --answers": (("worksheet", TUBE, "--out", "{folder}/w.pdf", "--answers"), ".pdf"),
    "explain --table": (("explain", TUBE, "--table"), ".csv"),
    "photograph --points": (("photograph", "no.jpg", TUBE, "--points"), ".csv"),
    "photograph --overlay": (("photograph", "no.jpg", TUBE, "--overlay"), ".png"),
    "photograph --readings": (("photograph", "no.jpg", TUBE, "--readings"), ".csv"),
    "readings": (("readings", "circle"), ".csv"),
    "measure --out": (("measure", "circle", "no.csv", TUBE, "--out"), ".json"),
    "measure --report": (("measure", "circle", "no.csv", TUBE, "--report"), ".pdf"),
    "redo --report": (("redo", "no.json", "--report"), ".pdf"),
    "calibration make --out": (("calibration", "make", "circle", "no.csv", TUBE, "--out"), ".json"),
    "calibration save": (("calibration", "save", "0123456789abcdef"), ".json"),
    "bench new": (("bench", "new"), ".toml"),
    "settings open --to": (("settings", "open", "null", "--to"), ".toml"),
    "logbook export": (("logbook", "export"), ".zip"),
    "backup": (("backup",), ".zip"),
}


@pytest.fixture(autouse=True)
def nothing_is_computed(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))

    def refuse(*_, **__):
        raise AssertionError("computed before the files were looked at")

    monkeypatch.setattr("glowtrace.bench.prepared.prepare", refuse)


def asked(command: str, tmp_path, *more: object) -> list[str]:
    words, _ = WRITING[command]
    return [*(each.format(folder=tmp_path) for each in words), *map(str, more)]


@pytest.mark.parametrize("command", WRITING)
def test_a_file_that_is_there_stays(glowtrace, command, tmp_path):
    there = tmp_path / f"there{WRITING[command][1]}"
    there.write_text("mine")
    code, out, err = glowtrace(*asked(command, tmp_path, there))
    assert (code, out) == (2, "")
    assert str(there) in err
    assert "--overwrite" in err
    assert there.read_text() == "mine"


@pytest.mark.parametrize("command", WRITING)
def test_a_folder_that_is_not_there_is_told_before_any_work(glowtrace, command, tmp_path):
    path = tmp_path / "nowhere" / f"new{WRITING[command][1]}"
    code, out, err = glowtrace(*asked(command, tmp_path, path))
    assert (code, out) == (2, "")
    assert str(path.parent) in err


def test_a_backup_is_written_and_restored(glowtrace, tmp_path, monkeypatch):
    knobs = ("--accelerating", "3 kV", "--plate", "1 kV")
    assert glowtrace("settings", "save", "mine", TUBE, *knobs)[0] == 0
    assert glowtrace("backup", tmp_path / "all.zip")[0] == 0
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "other"))
    assert glowtrace("restore", tmp_path / "all.zip")[0] == 0
    assert "mine" in glowtrace("settings", "list")[1]
    code, _, err = glowtrace("restore", tmp_path / "none.zip")
    assert code == 2
    assert "none.zip" in err


def test_two_files_of_one_name_are_refused(glowtrace, tmp_path):
    one = tmp_path / "one.csv"
    code, _, err = glowtrace("photograph", "no.jpg", TUBE, "--points", one, "--readings", one)
    assert code == 2
    assert "--readings" in err


def test_a_taken_name_for_settings_is_told_before_planning(glowtrace):
    knobs = ("--accelerating", "3 kV", "--plate", "1 kV")
    assert glowtrace("settings", "save", "mine", TUBE, *knobs)[0] == 0
    code, _, err = glowtrace("plan", TUBE, "plate deflection", "--save", "mine")
    assert code == 2
    assert "--overwrite" in err


@pytest.mark.parametrize(
    ("option", "typed"),
    [("--seen", "lin bends up"), ("--answer", "coil curent=line does not move")],
)
def test_names_of_the_fault_search_are_looked_at_first(glowtrace, option, typed):
    code, _, err = glowtrace("faults", TUBE, option, typed)
    assert code == 2
    assert option in err
    assert "did you mean" in err


def test_standard_output_carries_the_file_and_words_go_to_stderr(capfd, monkeypatch):
    monkeypatch.undo()
    assert run(["trace", TUBE, "--electrons", "200", "--table", "-"]) == 0
    sys.stdout.flush()
    out, err = capfd.readouterr()
    rows = list(csv.DictReader(out.splitlines()))
    assert rows[0].keys() == {"u_mm", "v_mm", "width_mm", "weight", "textbook_v_mm"}
    assert TUBE in err


@pytest.mark.parametrize("more", [("--json",), ("--picture", "-")])
def test_standard_output_is_given_once(glowtrace, more):
    code, _, err = glowtrace("trace", TUBE, "--table", "-", *more)
    assert code == 2
    assert "standard output" in err


@pytest.mark.skipif(os.name == "nt", reason="access rights are others there")
def test_a_folder_that_may_not_be_written_to_is_told(glowtrace, tmp_path, monkeypatch):
    monkeypatch.setattr("os.access", lambda *_: False)
    code, _, err = glowtrace("trace", TUBE, "--picture", tmp_path / "a.png")
    assert code == 2
    assert "may not be written to" in err


def test_a_file_that_is_no_photograph_is_told(glowtrace, tmp_path):
    file = tmp_path / "readings.csv"
    file.write_text("D (mm),V_a (V),I (A)\n")
    code, _, err = glowtrace("photograph", file, TUBE)
    assert code == 2
    assert "HEIC" in err
