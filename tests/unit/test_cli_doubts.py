"""The commands about how well a bench is known, as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from glowtrace.bench.checking import change
from glowtrace.bench.files import load_bench, save_bench
from glowtrace.bench.ready_made import ready_made
from glowtrace.cli import app, run

LINE = ("--accelerating", "3 kV", "--plate", "1 kV")


@pytest.fixture
def tube(tmp_path: Path) -> Path:
    path = tmp_path / "tube.toml"
    changes = {"plates.gap": "49(1) mm", "coils.spacing": "73(2) mm"}
    save_bench(change(ready_made("deflection tube"), changes), path)
    return path


def told(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


def test_doubts_tell_the_band_and_what_to_measure_better(tube, capsys) -> None:
    assert run(["bench", "doubts", str(tube), *LINE, "--at", "95 mm"]) == 0
    words = told(capsys)
    assert "95 % of the tubes" in words
    assert "Worth measuring better first: Stray field, z" in words
    assert "Plates, gap 49.0(1.0) mm" in words
    assert "± 30.0 µT" in words or "± 30 µT" in words
    assert run(["bench", "doubts", str(tube), *LINE, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    # GUM 5.1.2: the shares of a sum of squares add up to the whole.
    assert sum(each["share"] for each in found["shares"]) == pytest.approx(1.0)


def test_an_exact_bench_says_so(capsys) -> None:
    assert run(["bench", "doubts", "deflection tube", *LINE]) == 0
    assert "taken for exact" in told(capsys)


def test_what_was_seen_is_kept_told_and_taken_back(tube, capsys) -> None:
    kept = tube.with_name("kept.toml")
    seen = ["bench", "learn", str(tube), *LINE, "--point", "95 mm, 12.5(5) mm"]
    assert run([*seen, "--keep", str(kept)]) == 0
    words = told(capsys)
    assert "1 reading on this bench" in words
    assert "Worth looking at next" in words
    bench = load_bench(kept)
    assert bench.doubts is not None
    (reading,) = bench.doubts.seen
    assert (reading.x, reading.y, reading.uncertainty) == (0.095, 0.0125, 0.0005)
    assert bench.plates == load_bench(tube).plates
    again = ["bench", "learn", str(kept), *LINE, "--forget", "1", "--keep", str(kept)]
    assert run([*again, "--overwrite"]) == 0
    assert load_bench(kept) == load_bench(tube).model_copy(
        update={"doubts": load_bench(kept).doubts}
    )
    assert load_bench(kept).doubts.seen == ()  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("--point", "95 mm"), "give place and height"),
        (("--point", "95 mm, 12.5 mm"), "how well it was read"),
        (("--point", "95 V, 12.5(5) mm"), "this is a voltage"),
        (("--point", "400 mm, 12.5(5) mm"), "never comes there"),
        (("--circle", "80(1) mm"), "turning point"),
    ],
)
def test_readings_that_cannot_be_are_refused(tube, capsys, typed, words) -> None:
    assert run(["bench", "learn", str(tube), *LINE, *typed]) == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_asking_makes_a_bench_file(tmp_path) -> None:
    path = tmp_path / "mine.toml"
    # Kind, then every number: the opening's height is refused once, "?" explains its width.
    answers = ["7", "1", "", "0.9 V", "0.9(1) mm", "?", "", "", "76(1) mm", "50 mm to 52 mm"]
    result = CliRunner().invoke(
        app, ["bench", "ask", str(path)], input="\n".join([*answers, *[""] * 60]) + "\n"
    )
    assert result.exit_code == 0, result.output
    assert "this is a voltage" in result.output
    assert "With a ruler" in result.output
    bench = load_bench(path)
    assert bench.name == "mine"
    assert bench.plates is not None
    assert bench.plates.gap == pytest.approx(0.051)
    assert bench.doubts is not None
    assert set(bench.doubts.uncertainties()) == {
        "gun.aperture_height", "plates.length", "plates.gap",
    }  # fmt: skip
