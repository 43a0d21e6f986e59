"""The command on light: words, JSON, exit codes, errors that say what to do."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from glowtrace.cli import run

TUBE = ["light", "deflection tube", "--accelerating", "3 kV", "--plate", "900 V"]


def test_a_weak_beam_in_a_lit_room_is_not_seen(capsys):
    assert run([*TUBE, "--beam-current", "2 uA", "--room", "lights on"]) == 1
    told = capsys.readouterr().out
    assert "In the room: probably not seen" in told
    assert "within a factor of" in told
    assert "orders of magnitude" in " ".join(told.split())
    assert "What to change" in told
    assert "Room below 10 lx" in told
    assert "local rules" in told


def test_the_same_in_a_dark_room_is_seen(capsys):
    assert run([*TUBE, "--beam-current", "2 uA", "--lux", "0.5 lx"]) == 0
    told = capsys.readouterr().out
    assert "In the room: surely seen" in told
    assert "What to change" not in told
    assert "no bands" in told


def test_json_has_numbers_with_factors_and_changes(capsys):
    assert run([*TUBE, "--beam-current", "2 uA", "--lux", "400 lx", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["eye"]["word"] == "probably not"
    assert told["eye"]["factor"] > 3.0
    assert told["luminance_cd_per_m2"]["value"] < told["background_cd_per_m2"]["value"]
    assert told["scene"]["beam_current"] == "2 µA"
    voltage = next(each for each in told["changes"] if each["what"] == "voltage")
    assert 3000.0 < voltage["settings"]["accelerating_voltage_v"] < 4800.0
    assert told["exposure"]["shutter_s"] == pytest.approx(0.02)


def test_no_beam_is_told(capsys):
    assert run([*TUBE, "--heater-off"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "No electron makes any light" in told
    assert "nan" not in told


def test_shutter_as_photographers_write_it(capsys):
    assert run([*TUBE, "--lux", "1 lx", "--shutter", "1/60", "--mains", "60 Hz"]) == 0
    assert "1/60 s is a whole number of flickers of lamps on 60 Hz" in " ".join(
        capsys.readouterr().out.split()
    )


def test_picture_is_written(tmp_path: Path, capsys):
    path = tmp_path / "seen.png"
    assert run([*TUBE, "--lux", "1 lx", "--picture", str(path), "--as", "camera"]) == 0
    picture = np.asarray(Image.open(path).convert("L")).astype(int)
    assert picture.shape[1] >= 900
    words = picture[-110:]  # under the picture, on the dark ground
    assert words.max() > 150
    assert np.median(words) < 20
    assert f"written: {path}" in capsys.readouterr().out.replace("\n", "")


@pytest.mark.parametrize(
    ("options", "wanted"),
    [
        (["--lux", "-3 lx"], "choose between 0 lx and 100000 lx"),
        (["--lux", "3 V"], "give an illuminance"),
        (["--room", "dim"], "dimmed"),
        (["--phosphor", "blue"], "known names are green phosphor"),
        (["--input", "phosphor.eficiency=0.1"], "did you mean efficiency?"),
        (["--input", "nothing"], "give INPUT=VALUE"),
        (["--shutter", "1/0"], "give a time"),
        (["--picture", "seen.gif"], "must end in .png"),
    ],
)
def test_wrong_options_say_what_to_give(options, wanted, capsys):
    assert run([*TUBE, *options]) == 2
    assert wanted in capsys.readouterr().err
