"""The format of a logbook file, described for others in docs/logbook-file.md.

A zip file with ``manifest.json``, one file for each version of each entry, for each attachment and
in a backup for each lesson; the manifest gives the size and the SHA-256 of every one of them.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from glowtrace.store.attaching import MEDIA_TYPES, MOST_BYTES
from glowtrace.store.entry import MOST_TEXT
from glowtrace.store.lesson_file import LARGEST_LESSON

FORMAT: Final = "glowtrace-logbook"
FORMAT_VERSION: Final = 4
"""Files of formats 1 (no calibrations), 2 (no saved benches and settings) and 3 (no lessons)
are read as well."""
MANIFEST: Final = "manifest.json"

MOST_MEMBERS: Final = 200_000
"""Most files within a logbook file."""
MOST_MANIFEST: Final = 64_000_000
"""Largest manifest, bytes."""
MOST_UNPACKED: Final = 16_000_000_000
"""Most bytes of all files together when unpacked."""

_CHECKSUM = r"[0-9a-f]{64}"
_ENDINGS = "|".join(sorted(set(MEDIA_TYPES.values())))


class EntryMember(BaseModel):
    """The file of one version of an entry; its name carries its SHA-256."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    file: Annotated[str, Field(pattern=rf"^entries/{_CHECKSUM}\.json$")]
    size: Annotated[int, Field(ge=1, le=MOST_TEXT)]
    sha256: Annotated[str, Field(pattern=rf"^{_CHECKSUM}$")]


class AttachmentMember(BaseModel):
    """The file of one attachment; its name carries its SHA-256."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    file: Annotated[str, Field(pattern=rf"^attachments/{_CHECKSUM}\.({_ENDINGS})$")]
    size: Annotated[int, Field(ge=1, le=MOST_BYTES)]
    sha256: Annotated[str, Field(pattern=rf"^{_CHECKSUM}$")]
    name: str
    media_type: str


class LessonMember(BaseModel):
    """The file of one lesson; its name carries its SHA-256."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    file: Annotated[str, Field(pattern=rf"^lessons/{_CHECKSUM}\.json$")]
    size: Annotated[int, Field(ge=1, le=LARGEST_LESSON)]
    sha256: Annotated[str, Field(pattern=rf"^{_CHECKSUM}$")]


class Manifest(BaseModel):
    """What a logbook file holds."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    format: Literal["glowtrace-logbook"]
    version: Literal[1, 2, 3, 4]
    written_by: str
    entries: tuple[EntryMember, ...]
    attachments: tuple[AttachmentMember, ...]
    lessons: tuple[LessonMember, ...] = ()

    @property
    def unpacked(self) -> int:
        """Bytes of all versions, attachments and lessons."""
        attachments = sum(one.size for one in self.attachments)
        lessons = sum(one.size for one in self.lessons)
        return sum(one.size for one in self.entries) + attachments + lessons


def entry_file(checksum: str) -> str:
    """Give the name of the file of a version within a logbook file."""
    return f"entries/{checksum}.json"


def lesson_file(checksum: str) -> str:
    """Give the name of the file of a lesson within a backup."""
    return f"lessons/{checksum}.json"


def attachment_file(checksum: str, media_type: str) -> str:
    """Give the name of the file of an attachment within a logbook file."""
    return f"attachments/{checksum}.{MEDIA_TYPES[media_type]}"
