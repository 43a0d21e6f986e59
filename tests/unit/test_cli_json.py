"""Every command with --json, on every ready-made bench: one object that any program can read.

RFC 8259 knows no infinite numbers; names of units are those of the SI brochure (BIPM, 9th edition)
in small letters.
"""

from __future__ import annotations

import datetime
import json
import math
import re
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made_names
from glowtrace.cli import run
from glowtrace.cli.encoding import json_text

FORMAT = re.compile(r"glowtrace-[a-z-]+ [1-9][0-9]*")
NOT_SI = re.compile(r"_(mm|cm|um|us|ms|ns|kv|ma|min|minutes|hours|deg|m_s|mt|ev|kev)$")
CIRCLES = "D (mm),V_a (V),I (A)\n82.0(5),250,1.5\n100.0(5),250,1.23\n70.0(5),250,1.757\n"
QUICK = {
    "trace": ("--electrons", "200"),
    "goals": (),
    "outcomes": ("--across=coil", "--up=accelerating", "--size=4x4", "--electrons=4"),
    "wiring": (),
    "safety": (),
    "sheet": ("--out", "{folder}/sheet.md"),
    "faults": (),
    "light": (),
    "clip flight": ("--out={folder}/clip.gif", "--seconds=1", "--rate=10", "--size=480p"),
    "worksheet": ("--out", "{folder}/worksheet.md"),
    "explain": ("--part", "motion"),
    "bench show": (),
    "calibration list": (),
}  # fmt: skip


@pytest.fixture(autouse=True)
def own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


def refuse_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


def record_of(out: str) -> dict[str, object]:
    """Give the object, having checked what all of them promise."""
    whole = json.loads(out, parse_constant=refuse_constant)
    assert isinstance(whole, dict)
    assert next(iter(whole)) == "format"
    assert FORMAT.fullmatch(whole["format"])
    assert not [name for name in names_of_numbers(whole) if NOT_SI.search(name)]
    return whole


def names_of_numbers(value: object, name: str = ""):
    if isinstance(value, dict):
        for key, each in value.items():
            yield from names_of_numbers(each, key)
    elif isinstance(value, list):
        for each in value:
            yield from names_of_numbers(each, name)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield name


@pytest.mark.parametrize("bench", ready_made_names())
@pytest.mark.parametrize("command", QUICK)
def test_every_command_gives_one_object(command, bench, tmp_path, capsys):
    more = [each.format(folder=tmp_path) for each in QUICK[command]]
    code = run([*command.split(), bench, *more, "--json"])
    out, err = capsys.readouterr()
    assert code in (0, 1), err
    whole = record_of(out)
    if "bench" in whole and command != "bench show":
        assert whole["bench"] == {"name": bench, "invented": True}
    assert all(Path(each).is_file() for each in whole.get("written", ()))


@pytest.mark.parametrize("bench", ready_made_names())
def test_a_plan_gives_one_object(bench, capsys):
    run(["goals", bench, "--json"])
    goals = json.loads(capsys.readouterr().out)["goals"]
    suiting = next(each["name"] for each in goals if each["suits"])
    assert run(["plan", bench, suiting, "--answers", "1", "--json"]) in (0, 1)
    record_of(capsys.readouterr().out)


def test_measurements_give_one_object(tmp_path, capsys):
    readings, saved = tmp_path / "circles.csv", tmp_path / "circles.json"
    readings.write_text(CIRCLES)
    bulb = [str(readings), "fine-beam bulb", "--model", "ideal", "--json"]
    found = {}
    for command in (
        ["measure", "circle", *bulb, "--out", str(saved), "--keep"],
        ["redo", str(saved), "--json"],
        ["calibration", "make", "circle", *bulb],
        ["calibration", "list", "--json"],
        ["logbook", "list", "--json"],
    ):
        assert run(command) == 0
        found[command[0], command[1]] = record_of(capsys.readouterr().out)
    (entry, *_) = found["logbook", "list"]["entries"]
    assert run(["logbook", "show", entry["id"][:7], "--json"]) == 0
    assert record_of(capsys.readouterr().out)["id"] == entry["id"]


@pytest.mark.parametrize("command", ["bench list", "settings list", "goals"])
def test_lists_give_one_object(command, capsys):
    assert run([*command.split(), "--json"]) == 0
    record_of(capsys.readouterr().out)


def test_a_limit_that_is_never_reached_is_null(capsys):
    # Coils that carry no current never grow warm: the time until they do is infinite.
    assert run(["safety", "deflection tube", "--accelerating", "2 kV", "--json"]) == 0
    lines = record_of(capsys.readouterr().out)["lines"]
    assert any(line["value_si"] is None or line["limit_si"] is None for line in lines)


class Way(Enum):
    UP = "up"


@dataclass
class Found:
    value: float
    way: Way
    times: tuple[float, ...]


def test_what_is_no_number_is_null_and_everything_else_keeps_its_value():
    found = Found(math.inf, Way.UP, (1.5, math.nan))
    text = json_text("trial", {
        "found": found, "many": np.array([[1.0, -math.inf]]), "count": np.int64(3), "is": np.True_,
        "file": Path("a"), "day": datetime.date(2026, 11, 30), "half": "\udcff", 5: {"x"},
    })  # fmt: skip
    assert text.isascii()
    assert json.loads(text) == {
        "format": "glowtrace-trial 1",
        "found": {"value": None, "way": "up", "times": [1.5, None]},
        "many": [[1.0, None]],
        "count": 3,
        "is": True,
        "file": "a",
        "day": "2026-11-30",
        "half": "\udcff",
        "5": ["x"],
    }
