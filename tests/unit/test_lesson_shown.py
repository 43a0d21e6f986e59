"""What the audience sees of a lesson, and when: the answer is never given away too early.

No outside source: the order of predicting, showing and comparing is that of docs/lesson.md.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from xml.etree import ElementTree

import pytest
from lesson_trial import ASK, LINE, PREDICT, message, open_lesson

from glowtrace.lesson.answer import read_message
from glowtrace.lesson.meaning import Group
from glowtrace.lesson.shown import Invitation, Mark, Tally
from glowtrace.store import open_store
from glowtrace.web.lesson.audience_sees import audience_sees, choice_counts
from glowtrace.web.lesson.invitation import invite, reachable_at

HOW = Invitation("192.0.2.7:8600", "K7M 2QX", "<svg/>")


def answer(live, *texts: str) -> None:
    async def all_of_them() -> None:
        for text in texts:
            await live.take(read_message(text))

    asyncio.run(all_of_them())


@pytest.fixture
def live(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        yield live
        live.end()


def test_before_a_question_there_is_only_the_invitation(live):
    shown = audience_sees(live, (), HOW)
    assert shown.invitation == HOW
    assert shown.marks == shown.tallies == ()
    assert not shown.hides_picture


def test_picture_and_lines_stay_hidden_until_the_teacher_shows_them(live):
    live.ask(PREDICT)
    answer(live, message(), message(learner="f" * 16, choice="up"))
    shown = audience_sees(live, (), None)
    assert shown.hides_picture
    assert shown.marks == shown.tallies == ()
    assert shown.question == PREDICT.text
    assert shown.note == "2 answers"
    live.put(shows_predictions=True)
    (mark,) = audience_sees(live, (), None).marks
    assert mark.role == "prediction"
    assert [v for _, v in mark.places] == pytest.approx([1e-3 * v for _, v in LINE], abs=1e-5)
    live.put(shows_computed=True)
    assert not audience_sees(live, (), None).hides_picture


def test_next_question_hides_everything_again(live):
    live.ask(PREDICT)
    answer(live, message())
    live.put(shows_predictions=True, shows_computed=True, shows_groups=True, shows_seen=True)
    live.ask(PREDICT)
    shown = audience_sees(live, (), None)
    assert shown.hides_picture
    assert shown.marks == ()
    assert shown.note == "0 answers"


def test_what_was_seen_lies_over_it(live):
    live.ask(PREDICT)
    seen = ((0.0, 0.0), (0.05, 0.01))
    live.put(seen=(seen,), shows_seen=True)
    assert audience_sees(live, (), None).marks == (Mark("seen", seen),)


def test_groups_are_told_in_words_with_their_counts(live):
    live.ask(PREDICT)
    answer(live, message())
    live.put(shows_groups=True)
    groups = (Group("wrong way", tuple(live.answers(1).values())),)
    assert audience_sees(live, groups, None).tallies == (Tally("the wrong way", 1),)


def test_choices_are_counted_once_for_each_learner(live):
    number = live.ask(ASK)
    answer(
        live,
        message(choice="up"),
        message(sequence=2, choice="down"),
        message(learner="f" * 16, choice="down"),
    )
    assert [count for _, _, count in choice_counts(live, number)] == [0, 2]


def test_invitation_is_a_picture_that_scales_and_holds_no_script():
    how = invite("http://192.0.2.7:8600", "K7M2QX")
    assert (how.address, how.code) == ("192.0.2.7:8600", "K7M 2QX")
    drawn = ElementTree.fromstring(how.qr_svg)
    assert drawn.tag.endswith("svg")
    assert "viewBox" in drawn.attrib
    # Version 3 (29 modules; ISO/IEC 18004) holds an address of this length; 4 of quiet zone a side.
    assert drawn.attrib["viewBox"] == "0 0 37 37"
    assert "script" not in how.qr_svg


def test_this_computer_alone_is_told_as_such():
    assert reachable_at(8600, to_room=False) == ("http://127.0.0.1:8600",)
