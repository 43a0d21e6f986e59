"""How well a bench is known: in its file, in its keys, and as means and covariance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.identity import bench_hash, fields_key
from glowtrace.bench.knowledge import USUAL, Knowledge, knowledge_of, moved, number_at
from glowtrace.bench.model import Bench
from glowtrace.bench.parts import Plates
from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import BenchError, GlowtraceError

EXACT = ready_made("deflection tube")
CHANGES = {
    "plates.gap": "49(1) mm",
    "coils.turns": "343 ± 2",
    "coils.centre": ["47 mm to 51 mm", "0 mm ± 1 mm", "0 mm"],
    "supplies.plates.ripple": "0.002 ± 0.001",
    "supplies.accelerating.output_capacitance": "1.9 nF ± 10 %",
}
KNOWN = change(EXACT, CHANGES, is_written=False)
SEEN = {
    "settings": {"accelerating_voltage": "3 kV", "plate_voltage": "1 kV"},
    "x": "95 mm",
    "y": "12.5 mm",
    "uncertainty": "0.5 mm",
}
TOLD = {
    "told": [{"number": "plates.gap", "source": "ruler"}],
    "together": [{"numbers": ["plates.gap", "coils.turns"], "correlation": -0.4}],
    "seen": [SEEN],
}


def told(bench: Bench, table: dict[str, object]) -> Bench:
    """Give the bench with more told in its table of doubts."""
    data = bench.model_dump(mode="json")
    return Bench.model_validate(data | {"doubts": data.get("doubts", {}) | table})


def test_numbers_with_uncertainties_are_read_and_stay_the_means() -> None:
    assert KNOWN.plates is not None
    assert KNOWN.doubts is not None
    assert KNOWN.plates.gap == EXACT.plates.gap  # type: ignore[union-attr]
    assert KNOWN.doubts.uncertainties() == pytest.approx(
        {
            "plates.gap": 1e-3,
            "coils.turns": 2.0,
            # GUM (JCGM 100:2008) 4.3.7
            "coils.centre[0]": 2e-3 / math.sqrt(3.0),
            "coils.centre[1]": 1e-3,
            "supplies.plates.ripple": 1e-3,
            "supplies.accelerating.output_capacitance": 0.19e-9,
        }
    )


@pytest.mark.parametrize("is_explained", [False, True])
def test_a_file_keeps_what_is_known(is_explained: bool) -> None:
    bench = told(KNOWN, TOLD)
    text = bench_to_toml(bench, is_explained=is_explained)
    assert 'gap = "49 mm ± 1 mm"' in text
    assert bench_from_toml(text) == bench


def test_a_bench_that_tells_no_uncertainty_is_written_and_keyed_as_before() -> None:
    text = bench_to_toml(EXACT)
    assert "doubts" not in text
    assert "slack" not in text
    assert fields_key(KNOWN) == fields_key(EXACT)
    assert bench_hash(KNOWN) != bench_hash(EXACT)
    assert knowledge_of(EXACT).names == ()


def test_means_covariance_and_sources() -> None:
    known = knowledge_of(told(KNOWN, TOLD))
    assert known.names[:2] == ("plates.gap", "coils.turns")
    assert known.means[:2] == pytest.approx([0.049, 343.0])
    assert known.covariance[:2, :2] == pytest.approx(np.array([[1e-6, -0.8e-3], [-0.8e-3, 4.0]]))
    assert known.sources["plates.gap"] == "ruler"
    assert known.sources["slack.stray_field[2]"] == USUAL
    assert known.uncertainty("slack.stray_field[2]") == 30e-6
    assert known.uncertainty("plates.start") == 0.0


@pytest.mark.parametrize("changes", [{"plates.gap": "53 mm"}, {"plates.gap": 0.053}])
def test_a_number_that_is_changed_is_exact_and_nothing_else_is_told_of_it(
    changes: dict[str, object],
) -> None:
    bench = change(told(KNOWN, TOLD), changes)
    assert bench.doubts is not None
    assert "plates.gap" not in bench.doubts.uncertainties()
    assert "coils.turns" in bench.doubts.uncertainties()
    assert bench.doubts.together == ()
    kept = change(told(KNOWN, TOLD), {"plates.gap": "53(2) mm"})
    assert kept.doubts is not None
    assert kept.doubts.uncertainties()["plates.gap"] == pytest.approx(2e-3)
    assert len(kept.doubts.together) == 1


def test_a_part_that_goes_takes_its_doubts_along() -> None:
    assert change(told(KNOWN, TOLD), {"coils": None, "supplies.coils": None}).coils is None


def test_slack_that_is_told_to_be_none_is_none() -> None:
    exact_beam = change(KNOWN, {"slack": {"beam_height": "0 mm", "stray_field": "10 µT"}})
    known = knowledge_of(exact_beam)
    assert "slack.beam_height" not in known.names
    assert known.uncertainty("slack.stray_field[0]") == pytest.approx(10e-6)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"plates.gap": "49 mm ± 0 mm"}, "plates.gap", "above 0"),
        ({"plates.gap": "49 mm ± -1 mm"}, "plates.gap", "negative"),
        ({"plates.gap": "54 mm to 44 mm"}, "plates.gap", "lower end"),
        ({"plates.gap": "49 mm ± 60 mm"}, "plates.gap", "reaches out of what is allowed"),
        ({"slack": {"beam_height": "-1 mm"}}, "slack.beam_height", "choose between"),
        ({"doubts": {"told": [{"number": "plates.gapp"}]}}, "doubts.told", "plates.gap"),
        ({"doubts": {"told": [{"number": "plates.gap"}]}}, "plates.gap", "above 0"),
        (
            {"doubts": {"together": [{"numbers": ["plates.gap"] * 2, "correlation": 0.5}]}},
            "doubts.together",
            "no uncertainty",
        ),
    ],
)
def test_bad_doubts_are_refused_by_name(changes: dict[str, object], field: str, words: str) -> None:
    with pytest.raises(BenchError) as told_error:
        change(EXACT, changes)
    (problem,) = told_error.value.problems
    assert problem.field == field
    assert words in str(problem)


def test_correlations_that_are_no_covariance_are_refused_by_name() -> None:
    # 0.9, 0.9 and -0.9 among three numbers: the determinant of that matrix is negative.
    assert np.linalg.det([[1, 0.9, 0.9], [0.9, 1, -0.9], [0.9, -0.9, 1]]) < 0
    names = ["slack.beam_rise", "slack.beam_height", "slack.beam_turn"]
    pairs = [
        {"numbers": [names[0], names[1]], "correlation": 0.9},
        {"numbers": [names[0], names[2]], "correlation": 0.9},
        {"numbers": [names[1], names[2]], "correlation": -0.9},
    ]
    with pytest.raises(BenchError, match="no covariance has them") as told_error:
        change(EXACT, {"doubts": {"together": pairs}})
    assert all(name in str(told_error.value) for name in names)


@pytest.mark.parametrize(
    ("covariance", "words"),
    [
        ([[0.0, 0.0], [0.0, 1.0]], "plates.gap: a variance of 0"),
        ([[-1.0, 0.0], [0.0, 1.0]], "plates.gap: a variance of -1"),
        ([[1.0, 2.0], [2.0, 1.0]], "plates.gap, plates.start: no covariance"),
        ([[1.0, 0.5], [0.1, 1.0]], "no covariance"),
    ],
)
def test_knowledge_that_is_none_is_refused_by_name(
    covariance: list[list[float]], words: str
) -> None:
    with pytest.raises(GlowtraceError, match=words):
        Knowledge(("plates.gap", "plates.start"), np.zeros(2), np.array(covariance), {})


def test_a_number_moved_is_that_number_and_no_other() -> None:
    for path in ("plates.gap", "coils.centre[1]", "supplies.plates.ripple", "coils.turns"):
        there = moved(EXACT, path, 1e-4)
        assert number_at(there, path) == pytest.approx(number_at(EXACT, path) + 1e-4)
        back = moved(there, path, number_at(EXACT, path) - number_at(there, path))
        assert number_at(back, path) == number_at(EXACT, path)
        parts = {name for name, part in EXACT if getattr(there, name) != part}
        assert parts == {path.partition(".")[0]}


def test_parts_alone_and_settings_keep_no_uncertainty() -> None:
    with pytest.raises(BenchError, match="no uncertainty is kept here"):
        Plates(length="76(1) mm", width="47 mm", gap="49 mm", start="9 mm", max_voltage="4.8 kV")
