"""Versions of entries in the database: put in, found, checked against their checksum."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any, get_args

from pydantic import JsonValue
from sqlalchemy import Connection, Select, case, func, select

from glowtrace.errors import StoreError
from glowtrace.store.attaching import Attachment, AttachmentLabel, checksum
from glowtrace.store.entry import Entry, Shelved, entry_from_text
from glowtrace.store.naming import searchable
from glowtrace.store.schema import attachment, record

IS_LOGGED = record.c.kind.not_in(get_args(Shelved))
"""What belongs to the logbook."""

_STANDING = (
    case((record.c.action == "withdrawn", 0), else_=1),
    record.c.saved.desc(),
    record.c.id.desc(),
)
"""The order of an entry's versions in which the first is the one that stands."""


def current_versions() -> Select[Any]:
    """Select the version of each entry that stands: withdrawn for good, else the newest."""
    place = func.row_number().over(partition_by=record.c.entry, order_by=_STANDING).label("place")
    ranked = select(record.c.id, place).subquery()
    return (
        select(record.c.id, record.c.text)
        .join(ranked, ranked.c.id == record.c.id)
        .where(ranked.c.place == 1)
    )


def standing_version(connection: Connection, id: str) -> Entry | None:
    """Give the version of one entry that stands, None where there is no such entry."""
    query = select(record.c.id, record.c.text).where(record.c.entry == id)
    row = connection.execute(query.order_by(*_STANDING).limit(1)).one_or_none()
    return None if row is None else entry_of(row.id, row.text)


def entry_of(key: str, text: str) -> Entry:
    """Read a version from its text, kept under its checksum; StoreError where it is damaged."""
    try:
        if checksum(text.encode("utf-8")) != key:
            raise ValueError("its checksum is another")
        return entry_from_text(text)
    except ValueError as error:
        raise StoreError(
            f"The version {key:.16} of a logbook entry is damaged ({error}); it was left as it "
            "is. Bring back a backup."
        ) from error


def put_entries(connection: Connection, entries: Iterable[Entry]) -> None:
    """Add versions to those kept."""
    if rows := [_row(entry) for entry in entries]:
        connection.execute(record.insert(), rows)


def _row(entry: Entry) -> dict[str, Any]:
    text = entry.text
    return {
        "id": checksum(text.encode("ascii")),
        "entry": entry.id,
        "action": entry.action,
        "kind": entry.kind,
        "title": entry.title,
        "reason": entry.reason,
        "created": entry.created,
        "saved": entry.saved,
        "bench_name": searchable(bench_name(entry.bench_text)),
        "bench_checksum": checksum((entry.bench_text or "").encode("utf-8")),
        "words": searchable(" ".join(_words(entry))),
        "text": text,
    }


def put_attachment(connection: Connection, given: Attachment) -> bool:
    """Keep the bytes of an attachment; False where they were kept already."""
    label = given.label
    known = select(attachment.c.checksum).where(attachment.c.checksum == label.checksum)
    if connection.scalar(known) is not None:
        return False
    connection.execute(attachment.insert(), {**label.model_dump(), "data": given.data})
    return True


def get_attachment(connection: Connection, key: str) -> Attachment | None:
    """Give the bytes with a checksum, None where there are none; StoreError where damaged."""
    row = connection.execute(select(attachment).where(attachment.c.checksum == key)).one_or_none()
    if row is None:
        return None
    if not isinstance(row.data, bytes) or checksum(row.data) != key:
        raise StoreError(
            f'The attachment "{row.name}" is damaged (its checksum is another); it was left as it '
            "is. Bring back a backup."
        )
    return Attachment(row.name, row.media_type, row.data)


def missing_attachments(
    connection: Connection, labels: Iterable[AttachmentLabel]
) -> tuple[AttachmentLabel, ...]:
    """Give the labels whose bytes are not kept, or not in that size."""
    query = select(attachment.c.size)
    return tuple(
        label
        for label in labels
        if connection.scalar(query.where(attachment.c.checksum == label.checksum)) != label.size
    )


@lru_cache(maxsize=64)  # a logbook has many entries of few benches
def bench_name(bench_text: str | None) -> str:
    """Give the name in a bench's TOML; empty where there is none."""
    try:
        return str(tomllib.loads(bench_text or "").get("name", ""))
    except (ValueError, RecursionError):
        return ""


def _words(entry: Entry) -> Iterator[str]:
    yield entry.title
    yield entry.reason
    yield bench_name(entry.bench_text)
    yield from (label.name for label in entry.attachments)
    yield from _texts(entry.payload)


def _texts(data: JsonValue) -> Iterator[str]:
    """Give every text in the data, and the names of its fields."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for name, value in data.items():
            yield name
            yield from _texts(value)
    elif isinstance(data, list):
        for value in data:
            yield from _texts(value)
