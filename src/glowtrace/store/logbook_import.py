"""A logbook file read into the logbook: checked whole first, then added in one transaction."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, select

from glowtrace.errors import StoreError
from glowtrace.store.attaching import AttachmentLabel
from glowtrace.store.database import Database
from glowtrace.store.entry import Entry
from glowtrace.store.lesson_file import put_lesson
from glowtrace.store.logbook_reading import LogbookFile, opened
from glowtrace.store.names import part_names
from glowtrace.store.records import put_attachment, put_entries
from glowtrace.store.schema import record

_BATCH: Final = 20  # versions in memory at once


@dataclass(frozen=True)
class Imported:
    """What was added.

    Attributes
    ----------
    entries
        Entries that were not here before.
    versions, attachments
        Versions and attachments that were not here before, those of known entries included.
    skipped
        Versions that were here already.
    lessons
        Lessons that were not here before.
    """

    entries: int
    versions: int
    attachments: int
    skipped: int
    lessons: int


def import_logbook(database: Database, path: str | os.PathLike[str]) -> Imported:
    """Add every version of a logbook file that is not here yet; what is here stays as it is.

    Lessons of a backup come too, over and without their code. The two histories of an entry that
    went on in two places are joined: the newest version stands, and an entry that was withdrawn in
    either place is withdrawn.

    Raises
    ------
    StoreError
        The file is none of these, damaged, too large or made by a newer Glowtrace, or an entry
        of it contradicts one that is here. Nothing is changed then.
    """
    with opened(Path(path)) as file:
        outlines = {key: _outline(file.read_entry(key)) for key in file.entries}
        for key in file.attachments:
            file.read_attachment(key)
        for key in file.lessons:
            file.read_lesson(key)
        _check_attachments(file, outlines.values())
        with database.writing() as connection:
            created = _created(connection)
            _check_together(file, outlines, created)
            known = set(connection.scalars(select(record.c.id)))
            new = {key: entry for key, entry in outlines.items() if key not in known}
            attachments = sum(
                put_attachment(connection, file.read_attachment(key)) for key in file.attachments
            )
            for keys in _batches(tuple(new)):
                put_entries(connection, [file.read_entry(key) for key in keys])
            part_names(connection, new=new.values(), here=set(created))
            lessons = sum(put_lesson(connection, file.read_lesson(key)) for key in file.lessons)
    return Imported(
        entries=len({entry.id for entry in new.values()} - set(created)),
        versions=len(new),
        attachments=attachments,
        skipped=len(outlines) - len(new),
        lessons=lessons,
    )


def _outline(entry: Entry) -> Entry:
    """Give a version without what makes it large, so that a whole logbook fits in memory."""
    return entry.model_copy(update={"bench_text": None, "settings_text": None, "payload": None})


def _batches(keys: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    for start in range(0, len(keys), _BATCH):
        yield keys[start : start + _BATCH]


def _created(connection: Connection) -> dict[str, tuple[str, datetime]]:
    """Give the first version and the time of creation of every entry that is here."""
    query = select(record.c.entry, record.c.id, record.c.created)
    rows = connection.execute(query.where(record.c.action == "added"))
    return {row.entry: (row.id, row.created) for row in rows}


def _check_attachments(file: LogbookFile, entries: Iterable[Entry]) -> None:
    """Every attachment belongs to an entry, and every one that an entry names is there."""
    named: dict[str, AttachmentLabel] = {}
    for entry in entries:
        named |= {label.checksum: label for label in entry.attachments}
        for label in entry.attachments:
            member = file.attachments.get(label.checksum)
            if member is None or member.size != label.size:
                raise file.damaged(f'the attachment "{label.name}" is missing')
    if left_over := set(file.attachments) - set(named):
        raise file.damaged(f"the attachment {min(left_over):.16} belongs to no entry")


def _check_together(
    file: LogbookFile, entries: Mapping[str, Entry], here: Mapping[str, tuple[str, datetime]]
) -> None:
    """Entries of the file and those that are here make sense together."""
    first: dict[str, tuple[str, datetime]] = {}
    for key, entry in entries.items():
        if entry.action == "added":
            if entry.id in first:
                raise file.damaged(f'the entry "{entry.title}" was added twice')
            first[entry.id] = (key, entry.created)
    for entry in entries.values():
        if entry.id not in first or first[entry.id][1] != entry.created:
            raise file.damaged(f'the beginning of the entry "{entry.title}" is missing')
        if entry.id in here and here[entry.id] != first[entry.id]:
            raise StoreError(
                f'The logbook file {file.path} has another entry "{entry.title}" under an id that '
                "is taken here; nothing was changed. Import it into a logbook of its own."
            )
        for one in entry.made_from:
            source = first.get(one) or here.get(one)
            if source is None or source[1] >= entry.created:
                raise file.damaged(f'what the entry "{entry.title}" was made from is missing')
