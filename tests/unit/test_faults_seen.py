"""Keys of statements: they stay, and what was written before there were keys opens as before."""

from __future__ import annotations

import pytest

from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.demos.opening import opening_settings
from glowtrace.faults import Seen, Sighting, statements_for
from glowtrace.faults.seen import statement_key
from glowtrace.faults.statements import shape_of
from glowtrace.words import Language
from glowtrace.words.catalogue import messages
from glowtrace.words.faults import named_statement, statement_words

FORMER = {
    "no light at all": "dark",
    "light from the filament but no spot": "only_filament",
    "line bends down": "down",
    "line bends less than it should": "bends_less",
    "line is straight and does not move with the plates": "plates_straight",
    "spot is off the middle even with the fields off": "at_rest",
    "the coil meter shows no current": "coil_current_none",
}
"""As addresses and files of the first version have them."""


@pytest.mark.parametrize(("sentence", "key"), FORMER.items())
def test_a_former_sentence_is_its_key(sentence: str, key: str) -> None:
    assert Seen(sentence) == key
    assert Sighting(seen=(sentence, key), not_seen=(sentence,)) == Sighting((key,), (key,))


def test_a_text_that_is_no_statement_stays_for_the_message() -> None:
    assert statement_key("line glows green") == "line glows green"
    assert Sighting(seen=("line glows green",)).seen == ("line glows green",)


@pytest.mark.parametrize("key", Seen)
def test_a_key_can_stand_in_an_address_where_points_part_them(key: Seen) -> None:
    assert key.isidentifier()


@pytest.mark.parametrize("name", ready_made_names())
def test_a_statement_is_found_by_its_key_and_by_its_sentence(name: str) -> None:
    bench = ready_made(name)
    offered = statements_for(bench, opening_settings(bench))
    sentences = [statement_words(one) for one in offered]
    assert len(set(sentences)) == len(offered)
    for one, sentence in zip(offered, sentences, strict=True):
        assert named_statement(one.key, offered) == named_statement(sentence, offered) == one.key


def test_every_key_has_a_sentence() -> None:
    for key in Seen:
        assert any(f"fault.seen.{shape}.{key}" in messages("fault")
                   for shape in ("line", "circle", "spot")), key  # fmt: skip


def test_the_same_key_speaks_of_a_line_and_of_a_circle() -> None:
    """A stronger bend is a smaller circle: r = m v / (e B) (any textbook of electromagnetism)."""
    said = Language("en").say
    assert said("fault.seen.line.bends_more") == "line bends more than it should"
    assert said("fault.seen.circle.bends_more") == "circle is smaller than it should be"


def test_a_bulb_shows_a_circle_once_its_coils_are_on() -> None:
    bulb = ready_made("fine-beam bulb")
    on = opening_settings(bulb)
    assert shape_of(bulb, on) == "circle"
    assert shape_of(bulb, on.model_copy(update={"coil_current": 0.0})) == "line"
