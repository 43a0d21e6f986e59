"""A lesson as one text within a backup: written down, read by whoever vouches for nothing, added.

Its code and what it showed at the moment are left out: a lesson that comes from a file is over, so
that no file opens a computer to the room.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Annotated, Final

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field
from sqlalchemy import Connection, select

from glowtrace.errors import StoreError
from glowtrace.store.lessons import KeptAnswer, answers_of, lessons_in, put_answers
from glowtrace.store.naming import clean_name
from glowtrace.store.schema import TITLE_LENGTH, lesson, lesson_question

LARGEST_LESSON: Final = 256_000_000
"""Bytes of one; a thousand learners who answer twenty questions take a tenth of it."""
_MOST_NUMBER: Final = 2**31 - 1
_MOST_SEQUENCE: Final = 2**63 - 1


def _json_object(text: str) -> str:
    if not isinstance(json.loads(text), dict):
        raise ValueError("is no object")
    return text


_Object = Annotated[str, AfterValidator(_json_object)]
_Number = Annotated[int, Field(ge=1, le=_MOST_NUMBER)]
_Name = Annotated[str, Field(max_length=40)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class QuestionText(_Frozen):
    """What was asked: its number in the lesson, when, and what it says as JSON."""

    number: _Number
    asked: AwareDatetime
    text: _Object


class AnswerText(_Frozen):
    """An answer, as `KeptAnswer` has it."""

    question: _Number
    learner: _Name
    sequence: Annotated[int, Field(ge=-_MOST_SEQUENCE, le=_MOST_SEQUENCE)]
    given: AwareDatetime
    is_late: bool
    text: _Object
    nickname: _Name


class LessonText(_Frozen):
    """A lesson with everything that was asked and answered in it.

    Attributes
    ----------
    id, title, opened, expires, closed, takes_nicknames, bench_text
        As `KeptLesson` has them.
    questions, answers
        In the order in which they came.
    """

    id: Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
    title: Annotated[str, Field(max_length=TITLE_LENGTH)]
    opened: AwareDatetime
    expires: AwareDatetime
    closed: AwareDatetime | None
    takes_nicknames: bool
    bench_text: str
    questions: tuple[QuestionText, ...]
    answers: tuple[AnswerText, ...]


def lesson_texts(connection: Connection) -> Iterator[bytes]:
    """Give every lesson as the text of its file; StoreError where one is too large."""
    for kept in lessons_in(connection):
        query = select(lesson_question).where(lesson_question.c.lesson == kept.id)
        questions = connection.execute(query.order_by(lesson_question.c.number))
        written = LessonText(
            id=kept.id,
            title=kept.title,
            opened=kept.opened,
            expires=kept.expires,
            closed=kept.closed,
            takes_nicknames=kept.takes_nicknames,
            bench_text=kept.bench_text,
            questions=tuple(
                QuestionText(number=row.number, asked=row.asked, text=row.text) for row in questions
            ),
            answers=tuple(
                AnswerText(**{name: getattr(one, name) for name in AnswerText.model_fields})
                for one in answers_of(connection, kept.id)
            ),
        )
        text = written.model_dump_json().encode("utf-8")
        if len(text) > LARGEST_LESSON:
            raise StoreError(
                f'The lesson "{kept.title}" has {len(text)} bytes; at most {LARGEST_LESSON} go '
                "into one file. Keep a copy of the database instead."
            )
        yield text


def lesson_from_text(text: bytes) -> LessonText:
    """Read a lesson; ValueError where it is none."""
    read = LessonText.model_validate_json(text)
    try:
        clean = clean_name(read.title, "title", TITLE_LENGTH)
    except StoreError as error:
        raise ValueError(str(error)) from error
    if clean != read.title:
        raise ValueError("the title is not in its one spelling")
    return read


def put_lesson(connection: Connection, given: LessonText) -> bool:
    """Add what is not here yet, and tell whether the lesson is new.

    Raises
    ------
    StoreError
        The lesson that is here under its id asks something else under the same number.
    """
    is_here = connection.scalar(select(lesson.c.id).where(lesson.c.id == given.id)) is not None
    if not is_here:
        row = given.model_dump(exclude={"questions", "answers"})
        over = given.closed or min(given.expires, datetime.now(UTC))
        connection.execute(lesson.insert(), {**row, "closed": over, "code": "", "state": "{}"})
    query = select(lesson_question.c.number, lesson_question.c.text)
    rows = connection.execute(query.where(lesson_question.c.lesson == given.id))
    here = {row.number: row.text for row in rows}
    for question in given.questions:
        if question.number not in here:
            row = {"lesson": given.id, **question.model_dump()}
            connection.execute(lesson_question.insert(), row)
        elif here[question.number] != question.text:
            raise StoreError(
                f'The file has another question {question.number} of the lesson "{given.title}" '
                "than is kept here; nothing was changed. Restore it into a folder of its own "
                "(GLOWTRACE_DATA)."
            )
    answers = [KeptAnswer(lesson=given.id, **one.model_dump()) for one in given.answers]
    if answers:
        put_answers(connection, answers)
    return not is_here
