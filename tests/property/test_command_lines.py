"""Command lines that nobody would type on purpose: one clear message each, never a fault.

Exit codes: 0 and 1 for results, 2 for what was typed wrongly; 70 would be a fault of the program.
Sound command lines are changed at random: words left out, doubled, swapped, cut, or with letters
and numbers in them that no one expects; files are damaged in the same way.
"""

from __future__ import annotations

import io
import random
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli import run

TUBE, BULB = "deflection tube", "fine-beam bulb"
CIRCLES = "D (mm),V_a (V),I (A)\n82.0(5),250,1.5\n100.0(5),250,1.23\n70.0(5),250,1.757\n"
KNOBS = ("--accelerating", "3 kV", "--plate", "1 kV", "--coil", "140 mA", "--reverse-coils")
LINES = (
    ("safety", TUBE, *KNOBS, "--run-time", "10 min", "--room-temperature", "20 degC", "--json"),
    ("safety", "{bench}", "--settings", "{settings}", "--full"),
    ("wiring", TUBE, *KNOBS, "--earth", "anode", "--plate-tie", "lower at anode"),
    ("goals", TUBE, "--json"),
    ("goals", "{bench}"),
    ("bench", "show", "{bench}", "--json"),
    ("bench", "check", "{bench}"),
    ("bench", "new", "{folder}/new.toml", "--from", BULB, "--overwrite"),
    ("settings", "save", "mine", "{bench}", "--settings", "{settings}", *KNOBS, "--overwrite"),
    ("settings", "open", "mine", "--to", "{folder}/set.toml", "--overwrite"),
    ("settings", "rename", "mine", "yours"),
    ("settings", "delete", "yours", "--yes"),
    ("faults", TUBE, *KNOBS),
    ("trace", TUBE, *KNOBS, "--electrons", "20", "--seed", "3", "--model", "ideal"),
    ("trace", TUBE, "--settings", "{settings}", "--electrons", "20", "--table", "{folder}/t.csv"),
    ("readings", "circle", "{folder}/empty.csv", "--rows", "3", "--meter", "ruler=of 1 mm"),
    ("measure", "circle", "{readings}", BULB, "--model", "ideal", "--known",
     "coil_factor=1.00(1)", "--meter", "ruler=of 1 mm", "--json"),
    ("redo", "{readings}"),
    ("calibration", "list", "{bench}"),
    ("logbook", "list", "--kind", "note", "--text", "null", "--bench", TUBE),
    ("logbook", "show", "0123456789abcdef"),
    ("logbook", "import", "{readings}"),
    ("photograph", "{readings}", TUBE, "--at", "20 mm, -10 mm = 812, 1433"),
    ("plan", TUBE, "null", "--fix", "accelerating=3 kV", "--length", "-1 m"),
    ("outcomes", TUBE, "--across", "coil", "--up", "plate", "--size", "0x0"),
    ("clip", "sweep", TUBE, "--turn", "plate", "--range", "1 V", "--out", "{folder}/a.gif"),
    ("sheet", TUBE, *KNOBS, "--goal", "null", "--out", "{folder}/a.md"),
    ("light", TUBE, "--lux", "3", "--room", "lights on", "--input", "camera.iso=3 m"),
)  # fmt: skip
STRANGE = (
    "", " ", "-", "--", "-1", "0", "nan", "inf", "1e400", "-1e-400 V", "1e155 V", "1e300 A",
    "9" * 400, "٣ kV", "1_000 V", "3 kV 4", "µ" * 50, "\x00", "\x1b[2J", "\udcff", "💡", "a" * 5000,
    "../../..", "/dev/null", "/dev/full", "[]", "{{}}", "=", "=1", "plates.gap=1e9 m", "%s%n",
)  # fmt: skip


def changed(words: list[str], chance: random.Random) -> list[str]:
    """Give the words with one to three changes."""
    words = list(words)
    for _ in range(chance.randint(1, 3)):
        place = chance.randrange(len(words))
        match chance.randrange(6):
            case 0:
                del words[place]
            case 1:
                words.insert(place, chance.choice(STRANGE))
            case 2:
                words[place] = chance.choice(STRANGE)
            case 3:
                other = chance.randrange(len(words))
                words[place], words[other] = words[other], words[place]
            case 4:
                words[place] = words[place][: chance.randrange(len(words[place]) + 1)]
            case _:
                at = chance.randrange(len(words[place]) + 1)
                words[place] = words[place][:at] + chance.choice(STRANGE)[:60] + words[place][at:]
        if not words:
            return [chance.choice(STRANGE)]
    return words


def damaged(text: str, chance: random.Random) -> bytes:
    """Give a file with bytes in it that do not belong there, or as it was."""
    data = bytearray(text.encode())
    for _ in range(chance.randrange(3)):
        at = chance.randrange(len(data))
        match chance.randrange(3):
            case 0:
                del data[at : at + chance.randrange(1, 40)]
            case 1:
                data[at:at] = chance.choice(STRANGE)[:80].encode("utf-8", "surrogateescape")
            case _:
                data[at] = chance.randrange(256)
    return bytes(data)


def try_out(folder: Path, seed: int) -> None:
    chance = random.Random(seed)
    sources = {
        "bench": (".toml", bench_to_toml(ready_made(chance.choice((TUBE, BULB))))),
        "settings": (".toml", settings_to_toml(Settings(accelerating_voltage=2e3))),
        "readings": (".csv", CIRCLES),
    }
    places = {"folder": folder}
    for name, (ending, text) in sources.items():
        places[name] = folder / f"{name}{ending}"
        places[name].write_bytes(damaged(text, chance))
    words = changed([each.format(**places) for each in chance.choice(LINES)], chance)
    if "page" in words:
        return
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(words)
    told = err.getvalue()
    assert code in (0, 1, 2, 130), (seed, words, code, told)
    assert "Traceback" not in told, (seed, words)
    if code == 2:
        assert told.startswith("glowtrace: "), (seed, words, told)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", io.StringIO())
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path


def test_no_command_line_ends_in_a_fault(folder):
    for seed in range(100):
        try_out(folder, seed)


@pytest.mark.thorough
def test_no_command_line_of_ten_thousand_ends_in_a_fault(folder):
    for seed in range(1_000, 11_000):
        try_out(folder, seed)
