"""Command lines and files that nobody would make on purpose: one clear message, never a fault.

Exit codes: 0 and 1 for results, 2 for what was typed wrongly; 70 would be a fault of the program.
Sound command lines are changed at random: words left out, doubled, swapped, cut, or with letters
and numbers in them that no one expects. Files are spoiled in their bytes, or value by value, so
that they still are TOML, JSON, a table or an archive: benches, settings, readings, measurements,
calibrations, logbooks and photographs.
"""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli import run
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, take_photograph

TUBE, BULB = "deflection tube", "fine-beam bulb"
CIRCLES = "D (mm),V_a (V),I (A)\n82.0(5),250,1.5\n100.0(5),250,1.23\n70.0(5),250,1.757\n"
METERS = ("--meter", "ruler=of 1 mm")
KNOBS = ("--accelerating", "3 kV", "--plate", "1 kV", "--coil", "140 mA", "--reverse-coils")
CLICKS = tuple(
    word
    for place in ("20 mm, -20 mm = 31, 135", "100 mm, -20 mm = 165, 135",
                  "100 mm, 20 mm = 165, 68", "20 mm, 20 mm = 31, 68")
    for word in ("--at", place)
)  # fmt: skip
LINES = (
    ("safety", TUBE, *KNOBS, "--run-time", "10 min", "--room-temperature", "20 degC", "--json"),
    ("safety", "{bench}", "--settings", "{settings}", "--full"),
    ("wiring", TUBE, *KNOBS, "--earth", "anode", "--plate-tie", "lower at anode"),
    ("goals", TUBE, "--json"),
    ("goals", "{bench}"),
    ("bench", "show", "{bench}", "--json"),
    ("bench", "check", "{bench}"),
    ("bench", "check", "{bench}"),
    ("bench", "new", "{folder}/new.toml", "--from", BULB, "--overwrite"),
    ("bench", "doubts", BULB, "--at", "5 mm"),
    ("bench", "learn", BULB, "--circle", "80(1) mm", "--forget", "0", "--keep", "{folder}/k.toml"),
    ("bench", "ask", "{folder}/asked.toml", "--overwrite"),
    ("settings", "save", "mine", "{bench}", "--settings", "{settings}", *KNOBS, "--overwrite"),
    ("settings", "open", "mine", "--to", "{folder}/set.toml", "--overwrite"),
    ("settings", "rename", "mine", "yours"),
    ("settings", "delete", "yours", "--yes"),
    ("faults", TUBE, *KNOBS),
    ("trace", TUBE, *KNOBS, "--electrons", "20", "--seed", "3", "--model", "ideal"),
    ("trace", TUBE, "--settings", "{settings}", "--electrons", "20", "--table", "{folder}/t.csv"),
    ("trace", "{bench}", "--settings", "{settings}", "--electrons", "20", "--model", "ideal"),
    ("sweep", TUBE, "--turn", "plate", "--range", "0 V to 1 kV", "--points", "2", "--json"),
    ("readings", "circle", "{folder}/empty.csv", "--rows", "3", *METERS),
    ("measure", "circle", "{readings}", BULB, "--model", "ideal", "--known",
     "coil_factor=1.00(1)", *METERS, "--json"),
    ("measure", "circle", "{readings}", BULB, "--model", "ideal", "--columns",
     "D (mm), U (V), I (A)", "--robust", "huber", *METERS),
    ("redo", "{measured}"),
    ("redo", "{measured}", "--json"),
    ("calibration", "add", "{bench}", "{calibrated}"),
    ("calibration", "add", BULB, "{calibrated}"),
    ("calibration", "list", "{bench}"),
    ("logbook", "list", "--kind", "note", "--text", "null", "--bench", TUBE),
    ("logbook", "show", "0123456789abcdef"),
    ("logbook", "import", "{readings}"),
    ("logbook", "import", "{kept}"),
    ("restore", "{kept}"),
    ("lesson", "export", "0123", "{folder}/lesson.json"),
    ("photograph", "{readings}", TUBE, "--at", "20 mm, -10 mm = 812, 1433"),
    ("photograph", "{photograph}", TUBE, *CLICKS, "--points", "{folder}/p.csv", "--overwrite"),
    ("photograph", "{photograph}", TUBE, "--accelerating", "3 kV", "--plate", "1 kV", *CLICKS,
     "--readings", "{folder}/r.csv", "--overwrite"),
    ("plan", TUBE, "null", "--fix", "accelerating=3 kV", "--length", "-1 m"),
    ("outcomes", TUBE, "--across", "coil", "--up", "plate", "--size", "0x0"),
    ("clip", "sweep", TUBE, "--turn", "plate", "--range", "1 V", "--out", "{folder}/a.gif"),
    ("worksheet", TUBE, "--learners", "0", "--out", "{folder}/w.md"),
    ("explain", TUBE, *KNOBS, "--account", "nothing"),
    ("sheet", TUBE, *KNOBS, "--goal", "null", "--out", "{folder}/a.md"),
    ("light", TUBE, "--lux", "3", "--room", "lights on", "--input", "camera.iso=3 m"),
)  # fmt: skip
STRANGE = (
    "", " ", "-", "--", "-1", "0", "nan", "inf", "1e400", "-1e-400 V", "1e155 V", "1e300 A",
    "9" * 400, "٣ kV", "1_000 V", "3 kV 4", "µ" * 50, "\x00", "\x1b[2J", "\udcff", "💡", "a" * 5000,
    "../../..", "/dev/null", "/dev/full", "[]", "{{}}", "=", "=1", "plates.gap=1e9 m", "%s%n",
)  # fmt: skip
VALUES = (
    "0", "-1", "1e-300", "1e300", "1e999", "-0.0", "9" * 400, "true", "null", "nan", '""', '" "',
    "[]", "{}", "[[]]", '{"": 0}', "[1, 2, 3]", '"nan m"', '"-5 mm"', '"1e300 V"', '"5"',
    '"\\u0000"', '"1970-01-01"', '"' + "x" * 3000 + '"',
)  # fmt: skip
NUMBERS = ("0", "-1", "1", "2", "7.3", "1e-3", "1e-12", "50", "400", "1e6", "1e9", "-0")
NUMBER = re.compile(r"\d[\d.]*")
VALUE = re.compile(r'"(?:[^"\\\n]|\\.)*"|(?<![\w.])-?\d[\w.+-]*|\btrue\b|\bfalse\b|\bnull\b')


@dataclass(frozen=True)
class Sound:
    """A file as it should be, and how one is spoiled."""

    ending: str
    data: bytes
    spoil: Callable[[bytes, random.Random], bytes]


def renumbered(words: list[str], chance: random.Random) -> list[str]:
    """Give the words with another number in one or two of them, which may well make sense."""
    words = list(words)
    for _ in range(chance.randint(1, 2)):
        place = chance.randrange(len(words))
        words[place] = NUMBER.sub(lambda _: chance.choice(NUMBERS), words[place], count=1)
    return words


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


def damaged(whole: bytes, chance: random.Random) -> bytes:
    """Give a file with bytes in it that do not belong there, or as it was."""
    data = bytearray(whole)
    for _ in range(chance.randrange(3)):
        at = chance.randrange(len(data))
        match chance.randrange(4):
            case 0:
                del data[at : at + chance.randrange(1, 40)]
            case 1:
                data[at:at] = chance.choice(STRANGE)[:80].encode("utf-8", "surrogateescape")
            case 2 if len(data) > 400:
                del data[at:]
            case _:
                data[at] = chance.randrange(256)
        if not data:
            break
    return bytes(data)


def revalued(whole: bytes, chance: random.Random) -> bytes:
    """Give a text with one to three of its values changed to others, or with bytes spoiled."""
    if chance.random() < 0.3:
        return damaged(whole, chance)
    text = whole.decode()
    for _ in range(chance.randint(1, 3)):
        values = list(VALUE.finditer(text))
        if values:
            one = chance.choice(values)
            text = text[: one.start()] + chance.choice(VALUES) + text[one.end() :]
    return text.encode()


def repacked(whole: bytes, chance: random.Random) -> bytes:
    """Give an archive whose checks are sound and whose files are not, or with bytes spoiled."""
    if chance.random() < 0.2:
        return damaged(whole, chance)
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(packed, "w") as new:
        spoiled = chance.choice(old.namelist())
        for name in old.namelist():
            data = old.read(name)
            if name != spoiled:
                new.writestr(name, data)
            elif chance.random() < 0.9:
                new.writestr(name, revalued(data, chance))
    return packed.getvalue()


def photograph() -> Image.Image:
    """Make a small photograph of a line on the deflection tube's sheet."""
    x = np.linspace(0.0, 0.115, 200)
    light = CurveLight(np.column_stack([x, 2.0 * (x - 0.01) ** 2 - 0.005]), 0.8e-3)
    camera = Camera((0.06, 0.0), 0.16, size=(200, 200), focal_length=270.0)
    sheet = (0.010, -0.0225, 0.105, 0.0225)
    return Image.fromarray(take_photograph(light, camera, sheet, Conditions()).pixels)


def ran(words: list[str]) -> tuple[int, str]:
    """Run a command line, and give its exit code and what it told on stderr."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(words)
    return code, err.getvalue()


def try_out(folder: Path, sound: dict[str, Sound], seed: int) -> None:
    chance = random.Random(seed)
    line = chance.choice(LINES)
    places: dict[str, object] = {"folder": folder}
    used = [name for name in sound if any(f"{{{name}}}" in word for word in line)]
    spoiled = chance.choice(used) if used else ""
    for name in used:
        one = sound[name]
        places[name] = folder / f"{name}{one.ending}"
        places[name].write_bytes(one.spoil(one.data, chance) if name == spoiled else one.data)
    words = [each.format(**places) for each in line]
    # Where a file is spoiled the words are sound every other time, or it would not be read.
    if not used or chance.random() < 0.5:
        words = chance.choice((changed, renumbered))(words, chance)
    if "page" in words:
        return
    code, told = ran(words)
    assert code in (0, 1, 2, 130), (seed, words, code, told)
    assert "Traceback" not in told, (seed, words)
    if code == 2:
        messages = [line for line in told.splitlines() if line.startswith("glowtrace: ")]
        assert len(messages) - told.count("glowtrace: note: ") == 1, (seed, words, told)
        assert len(told) < 3000, (seed, words, told)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", io.StringIO())
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path


@pytest.fixture
def sound(folder):
    """Files as the program writes them, and a photograph as JPEG."""
    readings, fit = folder / "sound.csv", ("--model", "ideal", *METERS)
    readings.write_text(CIRCLES)
    to = {name: str(folder / f"sound-{name}") for name in ("m.json", "c.json", "b.zip")}
    for words in (
        ("measure", "circle", readings, BULB, *fit, "--keep", "--out", to["m.json"]),
        ("calibration", "make", "circle", readings, BULB, *fit, "--out", to["c.json"]),
        ("settings", "save", "kept", TUBE, *KNOBS),
        ("backup", to["b.zip"]),
    ):
        code, told = ran([str(word) for word in words])
        assert code == 0, (words, told)
    picture = io.BytesIO()
    photograph().save(picture, "JPEG")
    return {
        "bench": Sound(".toml", bench_to_toml(ready_made(TUBE)).encode(), revalued),
        "settings": Sound(
            ".toml", settings_to_toml(Settings(accelerating_voltage=2e3)).encode(), revalued
        ),
        "readings": Sound(".csv", CIRCLES.encode(), revalued),
        "measured": Sound(".json", Path(to["m.json"]).read_bytes(), revalued),
        "calibrated": Sound(".json", Path(to["c.json"]).read_bytes(), revalued),
        "kept": Sound(".zip", Path(to["b.zip"]).read_bytes(), repacked),
        "photograph": Sound(".jpg", picture.getvalue(), damaged),
    }


@pytest.mark.slow
def test_no_command_line_ends_in_a_fault(folder, sound):
    for seed in range(25):
        try_out(folder, sound, seed)


@pytest.mark.thorough
def test_no_command_line_of_ten_thousand_ends_in_a_fault(folder, sound):
    for seed in range(1_000, 11_000):
        try_out(folder, sound, seed)
