"""How sure one is of a number, as it is told on the page that describes a bench."""

from __future__ import annotations

import pytest

from glowtrace.bench.doubts import Slack
from glowtrace.bench.identity import moves_line
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.ready_made import ready_made
from glowtrace.web.bench.draft import draft_of, judged
from glowtrace.web.bench.sureness import SIZES, usual_size

BEGUN = draft_of(ready_made("deflection tube"))


def test_a_number_is_known_so_well_from_there_and_exact_again() -> None:
    sure = BEGUN.known_to(["plates.gap"], "1 mm", "guess")
    bench = judged(sure).bench
    assert bench is not None
    assert bench.doubts is not None
    (doubt,) = bench.doubts.told
    assert (doubt.number, doubt.uncertainty, doubt.source) == ("plates.gap", 1e-3, "guess")
    assert draft_of(bench).around("plates.gap") == "1 mm"
    assert draft_of(bench).source("plates.gap") == "guess"
    assert judged(sure.known_to(["plates.gap"], "", "")).bench == ready_made("deflection tube")


def test_the_coordinates_of_a_point_are_known_alike() -> None:
    paths = [f"coils.centre[{axis}]" for axis in range(3)]
    bench = judged(BEGUN.known_to(paths, "2 mm", "measured")).bench
    assert bench is not None
    assert bench.doubts is not None
    assert bench.doubts.uncertainties() == dict.fromkeys(paths, 2e-3)


@pytest.mark.parametrize("around", ["0 mm", "-1 mm", "1 s", "60 mm"])
def test_an_uncertainty_that_cannot_be_is_told_beside_its_field(around: str) -> None:
    verdict = judged(BEGUN.known_to(["plates.gap"], around, "guess"))
    assert verdict.bench is None
    assert set(verdict.problems) >= {"plates.gap"}


def test_a_part_that_is_exchanged_takes_its_doubts_along() -> None:
    sure = BEGUN.known_to(["coils.mean_radius"], "1 mm", "ruler")
    assert judged(sure.exchanged("coils", None)).bench is not None


@pytest.mark.parametrize(
    ("text", "word", "low", "size"),
    [
        ("49 mm", "guess", "0.1 mm", "2.5 mm"),
        ("0.8 mm", "guess", "0.01 mm", "0.24 mm"),
        ("0.8 mm", "don’t know", "0.01 mm", "0.24 mm"),
        ("0 mm", "measured", "-20 mm", "1 mm"),
    ],
)
def test_a_usual_size_stays_within_what_is_allowed(
    text: str, word: str, low: str, size: str
) -> None:
    assert usual_size(SIZES[word], text, Quantity("mm", low, "1 m")) == size


def test_what_may_be_a_little_off_begins_with_usual_values() -> None:
    bench = judged(BEGUN.exchanged("slack", Slack)).bench
    assert bench is not None
    assert bench.slack == Slack()


def test_only_numbers_that_move_the_line_are_asked_how_sure() -> None:
    assert moves_line("plates.gap")
    assert moves_line("coils.turns")
    assert not moves_line("plates.max_voltage")
    assert not moves_line("supplies.plates.max_voltage")
