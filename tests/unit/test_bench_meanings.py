"""Every number of a bench is explained, and a bench file with explanations reads back the same."""

from __future__ import annotations

import pytest

from glowtrace.bench.beginnings import beginnings, own_copy
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.meanings import MEANINGS, PARTS, explained, is_optional, kinds_of, numbers_of
from glowtrace.bench.model import Bench
from glowtrace.bench.ready_made import ready_made, ready_made_names

KINDS = [(part, kind) for part in PARTS for kind in kinds_of(part)]


@pytest.mark.parametrize(
    ("part", "kind"), KINDS, ids=lambda each: str(getattr(each, "__name__", each))
)
def test_every_number_is_explained_and_nothing_else_is(part: str, kind: type) -> None:
    assert set(MEANINGS[kind]) == set(kind.model_fields) - {"kind"}
    for number in numbers_of(part, kind):
        told = explained(number)
        assert number.meaning.name
        assert number.meaning.what in told[:1].lower() + told[1:] or number.meaning.what in told


def test_all_parts_of_a_bench_are_in_the_form() -> None:
    whole = {part.partition(".")[0] for part in PARTS}
    assert whole == set(Bench.model_fields) - {"name", "invented", "notes", "doubts"}
    assert {part for part in PARTS if is_optional(part)} == {
        "plates",
        "coils",
        "supplies.plates",
        "supplies.coils",
        "supplies.heater",
        "slack",
    }


@pytest.mark.parametrize("name", ready_made_names())
def test_an_explained_bench_file_reads_back_the_same(name: str) -> None:
    tricky = ready_made(name).model_copy(update={"notes": '[gun]\nx = "1"\n[coils]'})
    text = bench_to_toml(tricky, is_explained=True)
    assert bench_from_toml(text) == tricky
    plain = [line for line in text.splitlines() if not line.startswith("# ")]
    assert plain == bench_to_toml(tricky).splitlines()
    assert len(plain) < len(text.splitlines())


def test_each_beginning_is_a_sound_bench_of_its_kind() -> None:
    begun = beginnings()
    assert [bench.screen.kind for bench in begun.values()] == [
        "sheet",
        "end face",
        "gas glow",
        "end face",
    ]
    mine = own_copy(begun["Circle in gas"], "the bulb upstairs")
    assert (mine.name, mine.invented, mine.notes) == ("the bulb upstairs", False, "")
