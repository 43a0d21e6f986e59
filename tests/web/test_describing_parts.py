"""What is typed on the bench page: read as people write, refused beside its field, never lost."""

from __future__ import annotations

import pytest

from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.checking import change
from glowtrace.bench.meanings import kinds_of
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.web.bench.draft import draft_of, judged, split
from glowtrace.web.preparation import Preparation

BENCHES = beginnings()
TUBE = BENCHES["Line on a sheet"]


@pytest.mark.parametrize("bench", BENCHES.values(), ids=BENCHES)
def test_a_bench_comes_back_from_its_own_texts(bench: Bench) -> None:
    verdict = judged(draft_of(bench))
    assert verdict.bench == bench
    assert verdict.problems == {}


@pytest.mark.parametrize("text", ["4,4 cm", "44 mm", "44.0 mm", "0.044 m", "0,044 m"])
def test_lengths_are_read_as_people_write_them(text: str) -> None:
    verdict = judged(draft_of(TUBE).typed("screen.height", text).typed("plates.gap", "5 cm"))
    assert verdict.bench is not None
    assert verdict.bench.screen.height == pytest.approx(0.044)  # type: ignore[union-attr]


def test_every_wrong_number_is_told_beside_its_field_and_stays_typed() -> None:
    draft = draft_of(TUBE).typed("coils.turns", "3.5").typed("coils.centre[1]", "up")
    draft = draft.typed("screen.height", "4x").typed("gun.beam_current", "")
    verdict = judged(draft)
    assert verdict.bench is None
    assert set(verdict.problems) == {
        "coils.turns",
        "coils.centre[1]",
        "screen.height",
        "gun.beam_current",
    }
    assert draft.texts["screen.height"] == "4x"
    assert verdict.parts.plates == TUBE.plates  # what is sound is still drawn
    assert verdict.parts.coils is None


def test_a_contradiction_is_told_at_a_number_and_its_parts_are_still_drawn() -> None:
    verdict = judged(draft_of(TUBE).typed("screen.height", "2 m"))
    assert "screen.height" in verdict.problems
    assert verdict.parts.screen is not None


def test_another_kind_of_part_brings_its_usual_numbers() -> None:
    draft = draft_of(TUBE).exchanged("plates", None)
    assert not draft.has("plates")
    for kind in kinds_of("screen"):
        other = draft.exchanged("screen", kind)
        assert other.kind("screen") is kind
        assert all(number.path in other.texts for number in other.numbers("screen"))
    assert judged(draft.exchanged("coils", None)).bench is not None


def test_number_and_unit_are_told_apart() -> None:
    assert split("5 kV") == ("5", "kV")
    assert split("-3,4") == ("-3,4", "")
    assert split("16.6 Ω") == ("16.6", "Ω")
    assert split("up") == ("up", "")


def test_knobs_stay_where_they_are_unless_a_rating_forbids_it() -> None:
    gun = TUBE.gun
    high = 0.9 * gun.max_accelerating_voltage
    here = Preparation("saved/mine", Settings(accelerating_voltage=high), run_minutes=30.0)
    nudged = change(TUBE, {"gun.anode_radius": 1.01 * gun.anode_radius})
    kept = here.with_changed("saved/mine", nudged)
    assert (kept.settings, kept.run_minutes) == (here.settings, 30.0)
    weaker = change(TUBE, {"gun.max_accelerating_voltage": 0.8 * gun.max_accelerating_voltage})
    moved = here.with_changed("saved/other", weaker)
    assert moved.place == "saved/other"
    assert moved.settings == opening_settings(weaker)
