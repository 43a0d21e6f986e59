"""Entries written into one file: the whole logbook, or everything that is kept."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import ColumnElement, Connection, select

from glowtrace.disk import new_whole
from glowtrace.errors import StoreError
from glowtrace.store.attaching import checksum
from glowtrace.store.database import Database
from glowtrace.store.lesson_file import lesson_texts
from glowtrace.store.logbook_file import (
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    MOST_MEMBERS,
    MOST_UNPACKED,
    AttachmentMember,
    EntryMember,
    LessonMember,
    Manifest,
    attachment_file,
    entry_file,
    lesson_file,
)
from glowtrace.store.records import entry_of, get_attachment
from glowtrace.store.schema import attachment, record
from glowtrace.version import __version__

_ROWS: Final = 100  # how many are in memory at once


@dataclass(frozen=True)
class Exported:
    """What was written.

    Attributes
    ----------
    path
        The file.
    entries, versions, attachments, lessons
        How many it holds.
    """

    path: Path
    entries: int
    versions: int
    attachments: int
    lessons: int


def export_entries(
    database: Database,
    path: str | os.PathLike[str],
    which: ColumnElement[bool],
    *,
    with_lessons: bool = False,
) -> Exported:
    """Write every version of the entries that are meant, and every attachment, into one file.

    With ``with_lessons`` also every lesson with what was asked and answered.

    The file is written whole or not at all; an older file of that name stays until then.

    Raises
    ------
    StoreError
        The file cannot be written, or something in the logbook is damaged.
    """
    target = Path(path)
    with database.reading() as connection, _new_file(target) as temporary:
        with zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as archive:
            members = tuple(_write_entries(connection, archive, which))
            attachments = tuple(_write_attachments(connection, archive))
            lessons = tuple(_write_lessons(connection, archive)) if with_lessons else ()
            manifest = Manifest(
                format=FORMAT,
                version=FORMAT_VERSION,
                written_by=f"glowtrace {__version__}",
                entries=members,
                attachments=attachments,
                lessons=lessons,
            )
            archive.writestr(MANIFEST, manifest.model_dump_json(indent=1))
        _refuse_what_cannot_be_read_back(manifest)
        number = len(set(connection.scalars(select(record.c.entry).where(which).distinct())))
    return Exported(target, number, len(members), len(attachments), len(lessons))


def _write_entries(
    connection: Connection, archive: zipfile.ZipFile, which: ColumnElement[bool]
) -> Iterator[EntryMember]:
    query = select(record.c.id, record.c.text).where(which)
    query = query.order_by(record.c.saved, record.c.id)
    for row in connection.execute(query.execution_options(yield_per=_ROWS)):
        data = entry_of(row.id, row.text).text.encode("ascii")
        member = EntryMember(file=entry_file(row.id), size=len(data), sha256=checksum(data))
        archive.writestr(member.file, data)
        yield member


def _write_attachments(
    connection: Connection, archive: zipfile.ZipFile
) -> Iterator[AttachmentMember]:
    for key in connection.scalars(select(attachment.c.checksum).order_by(attachment.c.checksum)):
        kept = get_attachment(connection, key)
        if kept is None:  # the reading sees one unchanging state, so this is damage
            raise StoreError(f"The attachment {key} cannot be read. Bring back a backup.")
        member = AttachmentMember(
            file=attachment_file(key, kept.media_type),
            size=len(kept.data),
            sha256=key,
            name=kept.name,
            media_type=kept.media_type,
        )
        # Photographs are packed already, so packing again would only take time.
        archive.writestr(member.file, kept.data, zipfile.ZIP_STORED)
        yield member


def _write_lessons(connection: Connection, archive: zipfile.ZipFile) -> Iterator[LessonMember]:
    for data in lesson_texts(connection):
        key = checksum(data)
        member = LessonMember(file=lesson_file(key), size=len(data), sha256=key)
        archive.writestr(member.file, data)
        yield member


def _refuse_what_cannot_be_read_back(manifest: Manifest) -> None:
    members = len(manifest.entries) + len(manifest.attachments) + len(manifest.lessons)
    if members >= MOST_MEMBERS or manifest.unpacked > MOST_UNPACKED:
        raise StoreError(
            f"The logbook is too large for one file (at most {MOST_MEMBERS} versions, "
            f"attachments and lessons, {MOST_UNPACKED} bytes). Keep a copy of the database instead."
        )


@contextmanager
def _new_file(target: Path) -> Iterator[Path]:
    """Give a place beside the target, which becomes the target when all went well."""
    try:
        with new_whole(target) as temporary:
            yield temporary
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StoreError(
            f"The logbook file {target} cannot be written ({reason}); nothing was changed there. "
            "Make room, or give another place."
        ) from error
