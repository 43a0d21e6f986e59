"""Lessons with what was asked in them, who took part and what they answered.

What a question or an answer says is JSON here; `glowtrace.lesson` knows what it means.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection, Table, func, select
from sqlalchemy.dialects import postgresql, sqlite

from glowtrace.errors import StoreError
from glowtrace.store.database import Database
from glowtrace.store.naming import clean_name
from glowtrace.store.schema import (
    TITLE_LENGTH,
    lesson,
    lesson_answer,
    lesson_learner,
    lesson_question,
)

_ID: Final = re.compile("[0-9a-f]{1,16}")


@dataclass(frozen=True)
class KeptLesson:
    """A lesson.

    Attributes
    ----------
    id
        16 hexadecimal digits.
    title
        What the teacher calls it.
    code
        With which learners join, as long as it is open.
    opened, expires, closed
        UTC; `closed` is None while it is open.
    takes_nicknames
        Whether learners may give one.
    bench_text
        The bench as TOML.
    state
        What is asked and shown at the moment, as JSON.
    """

    id: str
    title: str
    code: str
    opened: datetime
    expires: datetime
    closed: datetime | None
    takes_nicknames: bool
    bench_text: str
    state: str

    def is_open(self, now: datetime) -> bool:
        """Whether learners may answer at this time."""
        return self.closed is None and now < self.expires


@dataclass(frozen=True)
class KeptAnswer:
    """An answer: whose, to what, and what it says as JSON.

    Attributes
    ----------
    question, learner, sequence
        The number of the question, the learner's own id, and the learner's own number for this
        answer: together they name it in its lesson.
    given
        When it came, UTC.
    is_late
        It came after the question was closed.
    text
        JSON.
    nickname
        The learner's, empty for none.
    """

    lesson: str
    question: int
    learner: str
    sequence: int
    given: datetime
    is_late: bool
    text: str
    nickname: str = ""


@dataclass(frozen=True)
class LessonCount:
    """How much a lesson holds."""

    questions: int
    learners: int
    answers: int


class Lessons:
    """All lessons.

    Every function raises StoreError where what is asked for is unknown or the database fails;
    nothing is changed then.
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        title: str,
        code: str,
        bench_text: str,
        *,
        lasts: timedelta,
        takes_nicknames: bool = False,
    ) -> KeptLesson:
        """Add a lesson that is open from now on, for so long at most."""
        now = datetime.now(UTC)
        kept = KeptLesson(
            secrets.token_hex(8),
            clean_name(title, "title", TITLE_LENGTH),
            code,
            now,
            now + lasts,
            None,
            takes_nicknames,
            bench_text,
            "{}",
        )
        with self._database.writing() as connection:
            connection.execute(lesson.insert(), vars(kept))
        return kept

    def list(self) -> tuple[KeptLesson, ...]:
        """Give all lessons, the last one first."""
        with self._database.reading() as connection:
            return lessons_in(connection)

    def open(self, id: str) -> KeptLesson:
        """Give a lesson by its id or the beginning of it."""
        known = _ID.fullmatch(id)
        found = [one for one in self.list() if known and one.id.startswith(id)]
        if len(found) != 1:
            what = "Several lessons begin" if found else "No lesson begins"
            raise StoreError(f'{what} with "{id:.40}"; `glowtrace lesson list` names them all.')
        return found[0]

    def put_state(self, id: str, state: str) -> None:
        """Keep what is asked and shown at the moment."""
        self._update(id, {"state": state})

    def close(self, id: str) -> None:
        """End a lesson: nobody can join or answer any more."""
        self._update(id, {"closed": datetime.now(UTC)})

    def count(self, id: str) -> LessonCount:
        """Tell how much a lesson holds."""
        with self._database.reading() as connection:
            return LessonCount(
                *(
                    _number(connection, table, id)
                    for table in (lesson_question, lesson_learner, lesson_answer)
                )
            )

    def delete(self, id: str) -> None:
        """Delete a lesson with everything that learners sent, for good."""
        with self._database.writing() as connection:
            for table in (lesson_answer, lesson_learner, lesson_question):
                connection.execute(table.delete().where(table.c.lesson == id))
            connection.execute(lesson.delete().where(lesson.c.id == id))

    def ask(self, id: str, text: str) -> int:
        """Keep a question (JSON) and give its number in the lesson, from 1."""
        with self._database.writing() as connection:
            number = _number(connection, lesson_question, id) + 1
            row = {"lesson": id, "number": number, "asked": datetime.now(UTC), "text": text}
            connection.execute(lesson_question.insert(), row)
        return number

    def questions(self, id: str) -> dict[int, str]:
        """Give what was asked by number, as JSON, in order."""
        query = select(lesson_question.c.number, lesson_question.c.text)
        query = query.where(lesson_question.c.lesson == id).order_by(lesson_question.c.number)
        with self._database.reading() as connection:
            return {row.number: row.text for row in connection.execute(query)}

    def answers(self, id: str, question: int | None = None) -> tuple[KeptAnswer, ...]:
        """Give the answers of a lesson, or to one of its questions, in the order they came."""
        with self._database.reading() as connection:
            return answers_of(connection, id, question)

    def keep(self, answers: Sequence[KeptAnswer]) -> None:
        """Keep answers, all or none; one that is kept already stays as it is."""
        with self._database.writing() as connection:
            put_answers(connection, answers)

    def _update(self, id: str, values: Mapping[str, Any]) -> None:
        with self._database.writing() as connection:
            connection.execute(lesson.update().where(lesson.c.id == id).values(**values))


def lessons_in(connection: Connection) -> tuple[KeptLesson, ...]:
    """Give all lessons, the last one first."""
    rows = connection.execute(select(lesson).order_by(lesson.c.opened.desc()))
    return tuple(KeptLesson(**row._mapping) for row in rows)


def answers_of(
    connection: Connection, id: str, question: int | None = None
) -> tuple[KeptAnswer, ...]:
    """Give the answers of a lesson, or to one of its questions, in the order they came."""
    query = select(lesson_answer, func.coalesce(lesson_learner.c.nickname, "").label("name"))
    query = query.outerjoin(
        lesson_learner,
        (lesson_learner.c.lesson == lesson_answer.c.lesson)
        & (lesson_learner.c.learner == lesson_answer.c.learner),
    )
    query = query.where(lesson_answer.c.lesson == id).order_by(lesson_answer.c.id)
    if question is not None:
        query = query.where(lesson_answer.c.question == question)
    return tuple(
        KeptAnswer(
            row.lesson,
            row.question,
            row.learner,
            row.sequence,
            row.given,
            row.is_late,
            row.text,
            row.name,
        )
        for row in connection.execute(query)
    )


def put_answers(connection: Connection, answers: Sequence[KeptAnswer]) -> None:
    """Put in answers; one that is kept already stays as it is."""
    whose = ("lesson", "learner", "nickname")
    learners = [{name: getattr(one, name) for name in whose} for one in answers]
    rows = [
        {name: value for name, value in vars(one).items() if name != "nickname"} for one in answers
    ]
    _add_new(connection, lesson_learner, learners)
    _add_new(connection, lesson_answer, rows)


def _number(connection: Connection, table: Table, id: str) -> int:
    query = select(func.count()).select_from(table).where(table.c.lesson == id)
    return int(connection.scalar(query) or 0)


def _add_new(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Add rows, but for those whose key is there."""
    statement: sqlite.Insert | postgresql.Insert = sqlite.insert(table)
    if connection.dialect.name == "postgresql":
        statement = postgresql.insert(table)
    connection.execute(statement.on_conflict_do_nothing(), list(rows))
