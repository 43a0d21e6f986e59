"""Answers of learners: what is taken, what is refused and how, and that each counts once.

No outside source: the rules are those of the lesson itself (docs/lesson.md).
"""

from __future__ import annotations

import asyncio
import json
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from lesson_trial import ASK, LEARNER, LINE, PREDICT, READ, message, open_lesson, reopened

from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.lesson.answer import accepted, read_message
from glowtrace.lesson.code import LENGTH, LETTERS, clean_code, is_same, new_code
from glowtrace.lesson.live import MOST_OF_ONE, LessonOverError
from glowtrace.lesson.writer import AnswerWriter
from glowtrace.store import KeptAnswer, open_store


def refusal(question, **told) -> str:
    with pytest.raises(GlowtraceError) as error:
        accepted(read_message(message(**told)), question)
    assert "\n" not in str(error.value)
    return str(error.value)


def test_line_is_kept_on_the_screen():
    told = [[-1e3, 1e3], *LINE, [1e3, -1e3]]
    answer = accepted(read_message(message(line=told)), PREDICT)
    u0, u1, v0, v1 = PREDICT.screen.extent
    assert answer.line[0] == pytest.approx((u0, v1), abs=0.01)
    assert answer.line[-1] == pytest.approx((u1, v0), abs=0.01)
    assert len(answer.line) == len(told)


def test_nothing_drawn():
    assert "Nothing is drawn" in refusal(PREDICT, line=[])


def test_dot_is_no_line():
    assert "too short" in refusal(PREDICT, line=[[10, 0], [10.5, 0]])


def test_scribble():
    told = [[5.0 + 75 * (n % 2), (n % 7) * 8.0 - 24] for n in range(80)]
    assert "to and fro" in refusal(PREDICT, line=told)


def test_choice_that_is_not_offered():
    assert "not offered" in refusal(PREDICT, choice="sideways")


def test_drawing_for_a_question_without_one():
    assert "Nothing is answered" in refusal(ASK, line=LINE)


@pytest.mark.parametrize(
    ("typed", "value"), [("12.5", 0.0125), ("−12,5 mm", -0.0125), ("1.25 cm", 0.0125)]
)
def test_reading(typed: str, value: float):
    answer = accepted(read_message(message(readings=[typed], group=2)), READ)
    assert answer.values == (value,)
    assert answer.group == 2
    assert answer.readings == (typed,)


@pytest.mark.parametrize(
    ("typed", "named"), [("12 V", "y"), ("0.0125 kg", "y"), ("125", "mm"), ("high", "y")]
)
def test_reading_that_cannot_be(typed: str, named: str):
    assert named in refusal(READ, readings=[typed], group=1)


def test_group_that_there_is_not():
    assert "group" in refusal(READ, readings=["1"], group=9)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{",
        '{"learner": "x"}',
        message(line=[["1", "2"]]),
        message(line=[[1, 2, 3]]),
        message(line=[[float("nan"), 0]]),
        message(line=[[1e999, 0]]),
        message(more=1),
        message(sequence=-1),
        message(sequence=2**60),
        message(learner="../../etc"),
        message(choice="x" * 5000),
        message().replace('"question": 1', '"question": ' + "9" * 3000),
        "[" * 5000,
        '{"learner": "' + LEARNER + '", "sequence": 1, "question": 1, "line": ' + "[" * 900,
    ],
)
def test_what_is_no_message(text: str):
    with pytest.raises(GlowtraceError) as error:
        read_message(text)
    assert len(str(error.value)) < 120


def test_codes_have_no_letters_that_look_alike():
    code = new_code()
    assert len(code) == LENGTH
    assert set(code) <= set(LETTERS)
    assert not set("ILO01") & set(LETTERS)
    assert clean_code(f" {code[:3].lower()}-{code[3:]} ") == code
    assert is_same(code, code.lower())
    assert not is_same(code, code[:-1])


# ---- a lesson that is held ---------------------------------------------------------------------


def take(live, *texts: str) -> list[bool]:
    async def all_of_them() -> list[bool]:
        return [await live.take(read_message(text)) for text in texts]

    return asyncio.run(all_of_them())


def test_answer_counts_once_however_often_it_is_sent(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        assert take(live, message(), message(), message()) == [True] * 3
        assert len(store.lessons.answers(live.kept.id)) == 1
        live.end()


def test_newest_of_two_tabs_counts(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        take(live, message(sequence=7, choice="up"), message(sequence=5, choice="down"))
        assert len(live.answers(1)) == 1
        assert live.answers(1)[LEARNER].answer.choice == "up"
        assert store.lessons.count(live.kept.id).answers == 2
        live.end()


def test_late_answer_is_kept_and_does_not_count(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        live.put(takes=False)
        assert take(live, message()) == [False]
        assert live.answers(1) == {}
        assert live.late(1) == 1
        live.end()


def test_acknowledged_answer_stays_on_time_when_it_is_sent_again_late(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        take(live, message())
        live.put(takes=False)
        assert take(live, message()) == [True]
        assert live.late(1) == 0
        live.end()


def test_closed_and_expired_lessons_take_nothing(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        live.close()
        expired = open_lesson(store, lasts=timedelta(seconds=-1))
        for lesson in (live, expired):
            assert not lesson.is_open
            assert lesson.for_learners["open"] is False
            with pytest.raises(LessonOverError):
                take(lesson, message())
            lesson.end()


def test_one_learner_cannot_fill_the_lesson(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        take(live, *(message(sequence=n, choice="up") for n in range(MOST_OF_ONE)))
        with pytest.raises(GlowtraceError, match="often enough"):
            take(live, message(sequence=MOST_OF_ONE, choice="down"))
        assert store.lessons.count(live.kept.id).answers == MOST_OF_ONE
        live.end()


def test_lesson_is_taken_up_as_it_was(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    with open_store(path) as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        take(live, message(nickname="Ada"), message(learner="f" * 16, choice="down"))
        live.put(shows_predictions=True, step=4, seen=(((0.0, 0.0), (0.05, 0.01)),))
        live.end()
    again = reopened(path, live.kept.id)
    assert again.state == live.state
    assert again.question == PREDICT
    assert dict(again.answers(1)) == dict(live.answers(1))
    assert again.answers(1)[LEARNER].nickname == "Ada"
    again.end()


def test_names_are_left_out_where_the_teacher_wants_none(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store, names=False)
        live.ask(PREDICT)
        take(live, message(nickname="Ada"))
        assert store.lessons.answers(live.kept.id)[0].nickname == ""
        live.end()


def test_deleted_lesson_leaves_nothing_behind(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live, other = open_lesson(store), open_lesson(store)
        for lesson in (live, other):
            lesson.ask(PREDICT)
            take(lesson, message(nickname="Ada"))
            lesson.end()
        store.lessons.delete(live.kept.id)
        assert [one.id for one in store.lessons.list()] == [other.kept.id]
        assert vars(store.lessons.count(live.kept.id)) == {
            "questions": 0,
            "learners": 0,
            "answers": 0,
        }
        assert store.lessons.count(other.kept.id).answers == 1
        with pytest.raises(StoreError, match="No lesson begins"):
            store.lessons.open(live.kept.id)


def test_learners_see_no_settings_from_which_the_answer_follows(tmp_path: Path):
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        told = json.dumps(live.for_learners)
        assert "coil" not in told
        assert PREDICT.text in told
        live.end()


# ---- the writer --------------------------------------------------------------------------------


def answer(sequence: int, text: str = "{}") -> KeptAnswer:
    return KeptAnswer("1" * 16, 1, LEARNER, sequence, datetime.now(UTC), False, text)


def test_many_answers_go_into_few_transactions():
    batches, go = [], threading.Event()

    def keep(batch):
        go.wait(10)
        batches.append(len(batch))

    async def all_at_once():
        writer = AnswerWriter(keep)
        tasks = [asyncio.create_task(writer.put(answer(n))) for n in range(200)]
        await asyncio.sleep(0)
        go.set()
        await asyncio.gather(*tasks)
        writer.end()

    asyncio.run(all_at_once())
    assert sum(batches) == 200
    assert len(batches) <= 3


def test_bad_answer_harms_no_other_and_the_writer_lives_on():
    kept = []

    def keep(batch):
        if any(one.text == "bad" for one in batch):
            raise OverflowError("Python int too large to convert to SQLite INTEGER")
        kept.extend(one.sequence for one in batch)

    async def some():
        writer = AnswerWriter(keep)
        given = [answer(0), answer(1, "bad"), answer(2)]
        found = await asyncio.gather(*map(writer.put, given), return_exceptions=True)
        await writer.put(answer(3))
        writer.end()
        return found

    first, bad, third = asyncio.run(some())
    assert first is None
    assert third is None
    assert isinstance(bad, StoreError)
    assert kept == [0, 2, 3]
