"""Reading a logbook file that nobody vouches for.

Nothing is unpacked onto the disk. Every name, size and checksum is checked against the manifest,
and no more is unpacked than the manifest and the limits allow, so that a small file cannot fill
the memory.
"""

from __future__ import annotations

import json
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from pydantic import ValidationError

from glowtrace.errors import StoreError
from glowtrace.store.attaching import Attachment, checksum
from glowtrace.store.entry import Entry, entry_from_text
from glowtrace.store.lesson_file import LessonText, lesson_from_text
from glowtrace.store.logbook_file import (
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    MOST_MANIFEST,
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

_ENCRYPTED = 0x1  # the bit of a member's flags (section 4.4.4 of PKWARE's APPNOTE 6.3.10)

_NO_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    OverflowError,
    OSError,
)
"""What the standard library raises for damaged files, seeking before their start included."""


class LogbookFile:
    """An open logbook file whose manifest has been checked.

    Attributes
    ----------
    path
        Where it is.
    entries, attachments, lessons
        The members by their checksum.
    """

    def __init__(self, path: Path, archive: zipfile.ZipFile) -> None:
        self.path = path
        self._archive = archive
        self._members = self._checked_members()
        manifest = self._checked_manifest()
        self.entries = {one.sha256: one for one in manifest.entries}
        self.attachments = {one.sha256: one for one in manifest.attachments}
        self.lessons = {one.sha256: one for one in manifest.lessons}
        self._compare(manifest)

    def damaged(self, what: str) -> StoreError:
        """Give the error that says what is wrong with the file."""
        return StoreError(
            f"The logbook file {self.path} is damaged or not made by Glowtrace: {what}; nothing "
            "was changed. Export it again."
        )

    def read_entry(self, key: str) -> Entry:
        """Give a version of an entry, checked."""
        member = self.entries[key]
        try:
            return entry_from_text(self._read(member).decode("ascii"))
        except ValueError as error:
            raise self.damaged(f"{member.file}: {error}") from error

    def read_attachment(self, key: str) -> Attachment:
        """Give an attachment, checked."""
        member = self.attachments[key]
        data = self._read(member)
        try:
            return Attachment(member.name, member.media_type, data)
        except StoreError as error:
            raise self.damaged(str(error).rstrip(".")) from error

    def read_lesson(self, key: str) -> LessonText:
        """Give a lesson, checked."""
        member = self.lessons[key]
        data = self._read(member)
        try:
            return lesson_from_text(data)
        except (ValueError, RecursionError) as error:
            raise self.damaged(f"{member.file} is no lesson") from error

    def _read(self, member: EntryMember | AttachmentMember | LessonMember) -> bytes:
        data = self._unpack(member.file, member.size)
        if len(data) != member.size or checksum(data) != member.sha256:
            raise self.damaged(f"{member.file} is not what the manifest says")
        return data

    def _unpack(self, name: str, most: int) -> bytes:
        """Unpack a member, and stop where it turns out to be larger than it may be."""
        try:
            with self._archive.open(self._members[name]) as member:
                data = member.read(most + 1)
        except _NO_ZIP as error:
            raise self.damaged(f"{name} cannot be unpacked") from error
        if len(data) > most:
            raise self.damaged(f"{name} is larger than it may be")
        return data

    def _checked_members(self) -> dict[str, zipfile.ZipInfo]:
        found = self._archive.infolist()
        if len(found) > MOST_MEMBERS:
            raise self.damaged(f"it holds {len(found)} files, at most {MOST_MEMBERS} are read")
        members = {one.filename: one for one in found}
        if len(members) < len(found):
            raise self.damaged("two files in it have one name")
        for one in found:
            if one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise self.damaged(f"{one.filename!r:.80} is packed in another way")
            if one.flag_bits & _ENCRYPTED:
                raise self.damaged(f"{one.filename!r:.80} is encrypted")
        # Members that share the same packed bytes could unpack to far more than there is.
        if sum(one.compress_size for one in found) > self.path.stat().st_size:
            raise self.damaged("the files in it overlap")
        return members

    def _checked_manifest(self) -> Manifest:
        if MANIFEST not in self._members:
            raise self.damaged(f"it has no {MANIFEST}")
        try:
            data = json.loads(self._unpack(MANIFEST, MOST_MANIFEST))
        except (ValueError, RecursionError) as error:
            raise self.damaged(f"{MANIFEST} is no JSON") from error
        self._refuse_another_format(data)
        try:
            return Manifest.model_validate_json(json.dumps(data))
        except (ValidationError, ValueError, RecursionError) as error:
            first = error.errors()[0] if isinstance(error, ValidationError) else None
            place = ".".join(map(str, first["loc"])) if first else "it"
            raise self.damaged(f"{MANIFEST}: {place} is wrong") from error

    def _refuse_another_format(self, data: Any) -> None:
        if not isinstance(data, dict) or data.get("format") != FORMAT:
            raise self.damaged(f'{MANIFEST} does not say "format": "{FORMAT}"')
        number = data.get("version")
        if isinstance(number, int) and number > FORMAT_VERSION:
            raise StoreError(
                f"The logbook file {self.path} was made by a newer Glowtrace (format {number}; "
                f"this one reads up to {FORMAT_VERSION}); nothing was changed. Update Glowtrace."
            )

    def _compare(self, manifest: Manifest) -> None:
        """Names follow from checksums, and the file holds what the manifest says and no more."""
        wanted = {MANIFEST}
        for entry in manifest.entries:
            if entry.file != entry_file(entry.sha256):
                raise self.damaged(f"{entry.file} is not named for its checksum")
            wanted.add(entry.file)
        for attached in manifest.attachments:
            try:
                name = attachment_file(attached.sha256, attached.media_type)
            except KeyError:
                name = ""
            if attached.file != name:
                raise self.damaged(f"{attached.file} is not named for its checksum and media type")
            wanted.add(attached.file)
        for lesson in manifest.lessons:
            if lesson.file != lesson_file(lesson.sha256):
                raise self.damaged(f"{lesson.file} is not named for its checksum")
            wanted.add(lesson.file)
        listed = len(manifest.entries) + len(manifest.attachments) + len(manifest.lessons)
        if len(wanted) < 1 + listed:
            raise self.damaged(f"{MANIFEST} names a file twice")
        if different := wanted ^ set(self._members):
            raise self.damaged(f"{min(different)!r:.90} is in it or in {MANIFEST}, not in both")
        if manifest.unpacked > MOST_UNPACKED:
            raise self.damaged(f"it unpacks to more than {MOST_UNPACKED} bytes")


@contextmanager
def opened(path: Path) -> Iterator[LogbookFile]:
    """Open a logbook file and check its manifest; StoreError where it is none."""
    try:
        source = path.open("rb")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StoreError(
            f"The logbook file {path} cannot be read ({reason}); nothing was changed. "
            "Give the path of a logbook file."
        ) from error
    with source, _archive(path, source) as archive:
        yield LogbookFile(path, archive)


def _archive(path: Path, source: BinaryIO) -> zipfile.ZipFile:
    try:
        if not path.is_file():  # a device may have no end, in which an archive's index stands
            raise zipfile.BadZipFile
        return zipfile.ZipFile(source)
    except _NO_ZIP as error:
        raise StoreError(
            f"The logbook file {path} is no logbook file, or only a part of one; nothing was "
            "changed. Export it again."
        ) from error
