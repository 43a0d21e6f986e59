"""The logbook: rehearsals, plans, readings, photographs and results, with all that they rest on.

logbook.add("readings", "Null at 3 kV", bench=bench, settings=settings, payload={"rows": rows})
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Unpack

from sqlalchemy import Column, ColumnElement, Connection, select

from glowtrace.bench.files import bench_to_toml
from glowtrace.bench.model import Bench
from glowtrace.errors import StoreError
from glowtrace.store.attaching import Attachment, checksum
from glowtrace.store.contents import Changes, Contents, as_written, checked_entry, known_kind
from glowtrace.store.database import Database
from glowtrace.store.entry import Action, Entry, Kind
from glowtrace.store.logbook_export import Exported, export_entries
from glowtrace.store.logbook_import import Imported, import_logbook
from glowtrace.store.naming import searchable
from glowtrace.store.records import (
    IS_LOGGED,
    current_versions,
    entry_of,
    get_attachment,
    missing_attachments,
    put_attachment,
    put_entries,
    standing_version,
)
from glowtrace.store.schema import record

_TICK = timedelta(microseconds=1)
_HEXADECIMAL = re.compile("[0-9a-f]+")  # all that a database is asked for


@dataclass(frozen=True)
class Event:
    """One line of the history.

    Attributes
    ----------
    time
        When it happened, UTC.
    action
        "added", "amended" or "withdrawn".
    id, kind, title
        The entry, as it was then.
    reason
        Why; may be empty.
    version
        The version that it made, as `Entry.version` has it.
    """

    time: datetime
    action: Action
    id: str
    kind: Kind
    title: str
    reason: str
    version: str


class Logbook:
    """All entries. Nothing in it is ever changed or erased, only added to.

    Every function raises StoreError where what is asked for is wrong or unknown, or the database
    fails; nothing is changed then.
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, kind: Kind, title: str, **contents: Unpack[Contents]) -> Entry:
        """Add an entry, whole with its attachments or not at all."""
        start: dict[str, Any] = {
            "id": secrets.token_hex(8),
            "action": "added",
            "reason": "",
            "bench_text": None,
            "settings_text": None,
            "payload": None,
            "attachments": [],
            "made_from": [],
        }
        return self._write(start, {"kind": kind, "title": title, **contents})

    def list(
        self,
        *,
        kind: Kind | None = None,
        bench: Bench | str | None = None,
        text: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
        withdrawn: bool = False,
    ) -> tuple[Entry, ...]:
        """Give the entries as they stand, the last one created first.

        Parameters
        ----------
        kind
            Of this kind only.
        bench
            Made with exactly this bench, or with any bench of this name.
        text
            All of these words stand in the title, the bench's name, the names of attachments or
            the texts of the data; upper and lower case are the same.
        since, until
            Created from then on, and before then; with a time zone.
        limit
            At most so many.
        withdrawn
            With those that were withdrawn.
        """
        query = current_versions().where(IS_LOGGED)
        if kind is not None:
            query = query.where(record.c.kind == known_kind(kind))
        if isinstance(bench, Bench):
            exact = checksum(bench_to_toml(bench).encode("utf-8"))
            query = query.where(record.c.bench_checksum == exact)
        elif bench is not None:
            query = query.where(record.c.bench_name == searchable(bench))
        for word in searchable(text or "").split():
            query = query.where(record.c.words.contains(word, autoescape=True))
        if not withdrawn:
            query = query.where(record.c.action != "withdrawn")
        query = query.where(*_between(record.c.created, since, until))
        query = query.order_by(record.c.created.desc(), record.c.entry).limit(_limit(limit))
        with self._database.reading() as connection:
            return tuple(entry_of(row.id, row.text) for row in connection.execute(query))

    def open(self, id: str) -> Entry:
        """Give an entry as it stands."""
        with self._database.reading() as connection:
            return _require(connection, id)

    def versions(self, id: str) -> tuple[Entry, ...]:
        """Give every version of an entry, the newest first."""
        query = select(record.c.id, record.c.text)
        query = query.order_by(record.c.saved.desc(), record.c.id.desc())
        with self._database.reading() as connection:
            entry = _require(connection, id)
            rows = connection.execute(query.where(record.c.entry == entry.id))
            return tuple(entry_of(row.id, row.text) for row in rows)

    def attachment(self, id: str) -> Attachment:
        """Give the bytes of an attachment by the checksum on its label."""
        with self._database.reading() as connection:
            found = get_attachment(connection, id) if _HEXADECIMAL.fullmatch(id) else None
        if found is None:
            raise StoreError(f"There is no attachment {id!r:.80}; take the checksum on its label.")
        return found

    def amend(self, id: str, *, reason: str = "", **changes: Unpack[Changes]) -> Entry:
        """Add a version of an entry in which something is different; earlier ones are kept."""
        return self._write({"id": id, "action": "amended", "reason": reason}, changes)

    def withdraw(self, id: str, *, reason: str = "") -> Entry:
        """Mark an entry as withdrawn, for good; it is still there to be read."""
        return self._write({"id": id, "action": "withdrawn", "reason": reason}, {})

    def history(
        self,
        *,
        id: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
    ) -> tuple[Event, ...]:
        """Give what happened in order of time, the first first.

        Parameters
        ----------
        id
            To this entry only.
        since, until
            From then on, and before then; with a time zone.
        limit
            Only the last so many.
        """
        columns = (record.c.saved, record.c.action, record.c.entry, record.c.kind)
        query = select(*columns, record.c.title, record.c.reason, record.c.id).where(IS_LOGGED)
        query = query.where(*_between(record.c.saved, since, until))
        query = query.order_by(record.c.saved.desc(), record.c.id.desc()).limit(_limit(limit))
        with self._database.reading() as connection:
            if id is not None:
                query = query.where(record.c.entry == _require(connection, id).id)
            newest_first = tuple(Event(*row) for row in connection.execute(query))
        return newest_first[::-1]

    def export_to(self, path: str | os.PathLike[str]) -> Exported:
        """Write the whole logbook into one file, as `export_entries` has it."""
        return export_entries(self._database, path, IS_LOGGED)

    def import_from(self, path: str | os.PathLike[str]) -> Imported:
        """Add what a file holds and is not here yet, as `import_logbook` has it."""
        return import_logbook(self._database, path)

    def _write(self, start: Mapping[str, Any], changes: Mapping[str, Any]) -> Entry:
        """Put in the next version of an entry: the one before, `start`, and then `changes`."""
        changed, files = as_written(changes)
        with self._database.writing() as connection:
            data = dict(start)
            moment = datetime.now(UTC)
            if start["action"] != "added":
                before = _require(connection, start["id"])
                _refuse_withdrawn(before)
                data = before.model_dump() | data | {"id": before.id}
                moment = max(moment, before.saved + _TICK)  # whatever the clock does
            data |= changed
            linked = [_require(connection, one) for one in changed.get("made_from", ())]
            if start["action"] == "added":
                moment = max([moment, *(one.created + _TICK for one in linked)])
                data["created"] = moment.isoformat()
            entry = checked_entry(data | {"saved": moment.isoformat()})
            _refuse_later(entry, linked)
            for file in files:
                put_attachment(connection, file)
            for label in missing_attachments(connection, entry.attachments):
                raise StoreError(f'The attachment "{label.name}" is not kept here; give its bytes.')
            put_entries(connection, [entry])
        return entry


def _refuse_withdrawn(entry: Entry) -> None:
    if entry.is_withdrawn:
        raise StoreError(
            f'The entry "{entry.title}" was withdrawn on {entry.saved:%Y-%m-%d}; nothing was '
            "changed. Add a new entry instead."
        )


def _refuse_later(entry: Entry, linked: Sequence[Entry]) -> None:
    for one in linked:
        if one.created >= entry.created:
            raise StoreError(
                f'The entry "{entry.title}" cannot be made from "{one.title}", which was created '
                "later; nothing was changed. Give earlier entries."
            )


def _require(connection: Connection, id: str) -> Entry:
    """Give the entry with an id, or with the only one that begins so."""
    begins = select(record.c.entry).where(IS_LOGGED, record.c.entry.startswith(id))
    found = (
        connection.scalars(begins.distinct().limit(2)).all() if _HEXADECIMAL.fullmatch(id) else []
    )
    if len(found) > 1:
        raise StoreError(f"Several entries of the logbook begin with {id!r}; give more of the id.")
    entry = standing_version(connection, found[0]) if found else None
    if entry is None:
        raise StoreError(f"The logbook has no entry {id!r:.40}; take an id that its list shows.")
    return entry


def _between(
    column: Column[datetime], since: datetime | None, until: datetime | None
) -> tuple[ColumnElement[bool], ...]:
    for name, time in (("since", since), ("until", until)):
        if time is not None and time.utcoffset() is None:
            raise StoreError(f"{name} {time} has no time zone; give one, such as UTC.")
    after = () if since is None else (column >= since,)
    return after if until is None else (*after, column < until)


def _limit(limit: int | None) -> int | None:
    if limit is not None and limit < 1:
        raise StoreError(f"The limit {limit} is not allowed; give 1 or more, or none.")
    return limit
