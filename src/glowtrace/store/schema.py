"""The tables: saved names with their versions, and the records of the logbook.

    about        one row a fact about the database itself; ``schema`` holds SCHEMA_VERSION
    entry        a name: a bench or settings, unique within its kind
    version      the TOML text saved under a name; the newest version is the current one
    record       one version of a logbook entry, whole in ``text``; the rest is for finding it
    attachment   the bytes that records name by their checksum

Versions are only ever added, so that saving over a name keeps what was there. Each carries the
text of its bench: settings stay whole when the bench that they were made for changes or goes.
Records and attachments are only ever added too, and are named by the checksum of their content.

A later schema gets a higher SCHEMA_VERSION and a step in `glowtrace.store.migration`.
Schema 1 had no logbook; schema 2 had room for shorter kinds of records only.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    CheckConstraint,
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

SCHEMA_VERSION = 3
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

entry = Table(
    "entry",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(10), nullable=False),
    Column("name", String(NAME_LENGTH), nullable=False),
    Column("created", UtcTime, nullable=False),
    UniqueConstraint("kind", "name"),
    CheckConstraint("kind IN ('bench', 'settings')", name="known_kind"),
)

version = Table(
    "version",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("entry_id", ForeignKey("entry.id", ondelete="CASCADE"), nullable=False),
    Column("saved", UtcTime, nullable=False),
    Column("text", Text, nullable=False),
    Column("bench_text", Text, nullable=False),
    Index("version_of_entry", "entry_id"),
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
