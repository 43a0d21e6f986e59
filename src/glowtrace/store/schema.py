"""The tables: every version of everything that is kept, and the bytes attached to it.

    about        one row a fact about the database itself (``schema`` holds SCHEMA_VERSION), or a
                 number that the page remembers
    record       one version of an entry, whole in ``text``; the rest is for finding it
    attachment   the bytes that records name by their checksum
    lesson, lesson_question, lesson_learner, lesson_answer
                 lessons with what was asked, who took part and what they answered

Saved benches and settings are entries with a name, the logbook's are entries with a title; both
are only ever added to, and named by the checksum of their content. Each carries the text of its
bench: settings stay whole when the bench that they were made for changes or goes.

Lessons stand apart, as learners may ask that what they sent goes: all of one can be deleted. An
answer is named by lesson, question, learner and the learner's own number for it, so that it counts
once however often it is sent.

Older databases, which kept saved names in tables of their own, are carried over
(`glowtrace.store.migration`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

SCHEMA_VERSION = 5
NAME_LENGTH = 120
TITLE_LENGTH = 200
KIND_LENGTH = 20


class UtcTime(TypeDecorator[datetime]):
    """An aware UTC time, kept without its zone because SQLite has no type for one."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Turn an aware time into the UTC time that is stored."""
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Give the stored time its zone back."""
        return None if value is None else value.replace(tzinfo=UTC)


metadata = MetaData()

about = Table(
    "about",
    metadata,
    Column("fact", String(40), primary_key=True),
    Column("value", String(200), nullable=False),
)

record = Table(
    "record",
    metadata,
    Column("id", String(64), primary_key=True),  # SHA-256 of the text
    Column("entry", String(16), nullable=False),
    Column("action", String(10), nullable=False),
    Column("kind", String(KIND_LENGTH), nullable=False),
    Column("title", String(TITLE_LENGTH), nullable=False),
    Column("reason", String(TITLE_LENGTH), nullable=False),
    Column("created", UtcTime, nullable=False),
    Column("saved", UtcTime, nullable=False),
    Column("bench_name", Text, nullable=False),
    Column("bench_checksum", String(64), nullable=False),
    Column("words", Text, nullable=False),  # what a search looks at, without upper case
    Column("text", Text, nullable=False),
    Index("record_of_entry", "entry"),
    Index("record_in_time", "saved"),
    Index("record_of_kind", "kind"),
)

attachment = Table(
    "attachment",
    metadata,
    Column("checksum", String(64), primary_key=True),  # SHA-256 of the data
    Column("name", String(NAME_LENGTH), nullable=False),
    Column("media_type", String(40), nullable=False),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
)


def _of_lesson() -> Column[str]:
    key = ForeignKey("lesson.id", ondelete="CASCADE")
    return Column("lesson", String(16), key, nullable=False, primary_key=True)


lesson = Table(
    "lesson",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("title", String(TITLE_LENGTH), nullable=False),
    Column("code", String(20), nullable=False),
    Column("opened", UtcTime, nullable=False),
    Column("expires", UtcTime, nullable=False),
    Column("closed", UtcTime),
    Column("takes_nicknames", Boolean, nullable=False),
    Column("bench_text", Text, nullable=False),
    Column("state", Text, nullable=False),  # what is asked and shown at the moment
)

lesson_question = Table(
    "lesson_question",
    metadata,
    _of_lesson(),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("asked", UtcTime, nullable=False),
    Column("text", Text, nullable=False),
)

lesson_learner = Table(
    "lesson_learner",
    metadata,
    _of_lesson(),
    Column("learner", String(40), primary_key=True),
    Column("nickname", String(40), nullable=False),
)

lesson_answer = Table(
    "lesson_answer",
    metadata,
    Column("id", Integer, primary_key=True),  # in the order in which they came
    Column("lesson", String(16), ForeignKey("lesson.id", ondelete="CASCADE"), nullable=False),
    Column("question", Integer, nullable=False),
    Column("learner", String(40), nullable=False),
    Column("sequence", BigInteger, nullable=False),
    Column("given", UtcTime, nullable=False),
    Column("is_late", Boolean, nullable=False),
    Column("text", Text, nullable=False),
    UniqueConstraint("lesson", "question", "learner", "sequence"),
)
