"""The commands that make clips and worksheets."""

from __future__ import annotations

import json
import re
from pathlib import Path

import av
import pytest
from PIL import Image

from glowtrace.cli import run

TUBE = "deflection tube"
SMALL = ("--seconds", "1", "--rate", "10", "--size", "480p")
CROSSED = ("--accelerating", "1 kV", "--plate", "2.5 kV", "--coil", "1.2 A", "--reverse-coils")


def test_a_sweep_through_zero(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sweep.mp4"
    code = run(["clip", "sweep", TUBE, "--turn", "plate", "--range", "-1 kV to 1 kV",
                "--accelerating", "3 kV", *SMALL, "--out", str(out), "--json"])  # fmt: skip
    assert code == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["frames"], told["size"], told["written"]) == (10, [854, 480], [str(out)])
    with av.open(str(out)) as file:
        assert sum(1 for _ in file.decode(video=0)) == 10
        assert len(file.streams.subtitles) == 1


@pytest.mark.parametrize("shows", ["flight", "drift"])
def test_the_other_kinds(shows: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "clip.gif"
    assert run(["clip", shows, TUBE, *CROSSED, *SMALL, "--out", str(out)]) == 0
    assert "10 frames, 1 s" in capsys.readouterr().out
    with Image.open(out) as image:
        assert image.n_frames == 10


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("sweep", TUBE), "--turn: nothing is not allowed; a sweep turns a knob"),
        (("flight", TUBE, "--turn", "coil"), "--turn and --range belong to a sweep"),
        (("sweep", TUBE, "--turn", "coil", "--coil", "1 A"), "this knob is turned"),
        (("sweep", TUBE, "--turn", "coil", "--range", "1 A"), 'give two ends, for example "0 A'),
        (("sweep", TUBE, "--turn", "plate", "--range", "0 V to 9 kV", "--accelerating", "3 kV"),
         "the plates are rated 4.8 kV"),
        (("drift", TUBE), "Without a magnetic field"),
        (("flight", TUBE, "--seconds", "900"), "give from 1 s to 120 s"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_and_nothing_written(
    arguments: tuple[str, ...], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["clip", *arguments, "--out", str(tmp_path / "a.mp4")]) == 2
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "old.mp4"
    out.write_bytes(b"mine")
    assert run(["clip", "flight", TUBE, *SMALL, "--out", str(out)]) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert out.read_bytes() == b"mine"


def test_forces_can_be_drawn_on_a_picture(tmp_path: Path) -> None:
    """Letters are shapes in the SVG, so the arrows are counted by their colours."""
    paths = tmp_path / "plain.svg", tmp_path / "forces.svg"
    for path, more in zip(paths, ((), ("--forces",)), strict=True):
        assert run(["trace", TUBE, *CROSSED, "--electrons", "500", "--picture", str(path),
                    *more]) == 0  # fmt: skip
    plain, forces = (path.read_text() for path in paths)
    assert "#ffd84d" not in plain
    assert len(re.findall("#ffd84d", forces)) >= 6
    assert len(re.findall("#b79bff", forces)) >= 6


def test_worksheets_and_answers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, answers = tmp_path / "sheets.pdf", tmp_path / "answers.md"
    code = run(["worksheet", "fine-beam bulb", "--learners", "2", "--seed", "5",
                "--level", "proportion", "--out", str(out), "--answers", str(answers),
                "--json"])  # fmt: skip
    assert code == 0
    told = json.loads(capsys.readouterr().out)
    assert [sheet["number"] for sheet in told["sheets"]] == ["5–1", "5–2"]
    assert out.read_bytes().startswith(b"%PDF")
    written = answers.read_text(encoding="utf-8")
    for sheet in told["sheets"]:
        assert f"answers {sheet['number']}" in written
        assert all(one["text"].split(" = ")[-1] in written for one in sheet["results"])


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--out", "a.txt"), "must end in .pdf or .md"),
        (("--out", "a.pdf", "--answers", "a.pdf"), "give it a file of its own"),
        (("--out", "a.pdf", "--learners", "0"), "learners: 0 is not allowed; give from 1 to 60"),
        (("--out", "a.pdf", "--seed", "-3"), "seed: -3 is not allowed"),
    ],
)
def test_what_is_wrong_with_worksheets_is_told(
    arguments: tuple[str, ...],
    message: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["worksheet", "fine-beam bulb", *arguments]) == 2
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
