"""Entries that are saved under a name: found by it, changed, renamed, kept apart.

Their title is the name, which only one entry of a kind has.
"""

from __future__ import annotations

import secrets
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any, get_args

from sqlalchemy import Connection, select

from glowtrace.store.contents import checked_entry
from glowtrace.store.entry import Entry, Shelved
from glowtrace.store.records import entry_of, put_entries
from glowtrace.store.schema import NAME_LENGTH, record

RENAMED = "renamed"
"""Reason of a version in which nothing but the name is different."""
_TICK = timedelta(microseconds=1)


def shelved(connection: Connection, kind: Shelved) -> dict[str, tuple[Entry, ...]]:
    """Give what is saved of a kind: the versions of each name, the newest first."""
    query = select(record.c.id, record.c.text).where(record.c.kind == kind)
    query = query.order_by(record.c.saved.desc(), record.c.id.desc())
    found: dict[str, list[Entry]] = {}
    for row in connection.execute(query):
        entry = entry_of(row.id, row.text)
        found.setdefault(entry.id, []).append(entry)
    return {versions[0].title: tuple(versions) for versions in found.values()}


def next_version(
    kind: Shelved,
    name: str,
    contents: Mapping[str, str | None],
    before: Entry | None,
    *,
    reason: str = "",
    moment: datetime | None = None,
    id: str | None = None,
) -> Entry:
    """Give a version to put on the shelf, later than the one before."""
    moment = moment or datetime.now(UTC)
    if before is not None:
        moment = max(moment, before.saved + _TICK)  # whatever the clock does
    data: dict[str, Any] = {
        "id": before.id if before else id or secrets.token_hex(8),
        "action": "amended" if before else "added",
        "kind": kind,
        "title": name,
        "reason": reason,
        "created": (before.created if before else moment).isoformat(),
        "saved": moment.isoformat(),
        "bench_text": None,
        "settings_text": None,
        "payload": None,
        "attachments": [],
        "made_from": [],
        **contents,
    }
    return checked_entry(data)


def renamed(entry: Entry, name: str) -> Entry:
    """Give the version of an entry that has another name and is else as it was."""
    kind: Shelved = "settings" if entry.kind == "settings" else "bench"
    contents = {"bench_text": entry.bench_text, "settings_text": entry.settings_text}
    return next_version(kind, name, contents, entry, reason=RENAMED)


def part_names(connection: Connection, *, new: Iterable[Entry], here: Collection[str]) -> None:
    """Give entries that came from elsewhere another name where theirs is taken here."""
    ids = {entry.id for entry in new if entry.kind in get_args(Shelved)} - set(here)
    for kind in get_args(Shelved):
        query = select(record.c.id, record.c.text).where(record.c.kind == kind)
        query = query.order_by(record.c.saved, record.c.id)
        standing = {
            entry.id: entry
            for entry in (entry_of(row.id, row.text) for row in connection.execute(query))
        }
        taken = {entry.title for entry in standing.values() if entry.id not in ids}
        for entry in standing.values():
            if entry.id not in ids:
                continue
            name = _free(entry.title, taken)
            if name != entry.title:
                put_entries(connection, [renamed(entry, name)])
            taken.add(name)


def _free(name: str, taken: Collection[str]) -> str:
    """Give the name, or where it is taken the first of "name (2)", "name (3)" that is free."""
    endings = ("" if number == 1 else f" ({number})" for number in count(1))
    names = (f"{name[: NAME_LENGTH - len(ending)]}{ending}" for ending in endings)
    return next(each for each in names if each not in taken)
