"""Photographs and other files attached to entries of the logbook."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from glowtrace.errors import StoreError
from glowtrace.store.naming import clean_name

MOST_BYTES: Final = 64_000_000
"""Largest attachment, bytes."""

MEDIA_TYPES: Final[Mapping[str, str]] = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "image/heic": "heic",
    "video/mp4": "mp4",
    "application/pdf": "pdf",
    "application/json": "json",
    "text/csv": "csv",
    "text/plain": "txt",
}
"""The media types that may be attached, and the ending of such a file. None of them can carry a
program that a browser would run, so a page may show what an imported logbook holds."""


class AttachmentLabel(BaseModel):
    """What an entry says of an attachment.

    Attributes
    ----------
    checksum
        SHA-256 of the bytes, 64 hexadecimal digits; `Logbook.attachment` finds them by it.
    name
        The name of the file that was attached.
    media_type
        One of `MEDIA_TYPES`.
    size
        Bytes.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    checksum: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    name: str
    media_type: str
    size: Annotated[int, Field(ge=1, le=MOST_BYTES)]

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.name != file_name(self.name):
            raise ValueError("the name is not in its one spelling")
        if self.media_type not in MEDIA_TYPES:
            raise ValueError("the media type is not one that may be attached")
        return self


@dataclass(frozen=True)
class Attachment:
    """A file to attach, or one that was attached.

    Attributes
    ----------
    name
        The name of the file, without folders.
    media_type
        One of `MEDIA_TYPES`.
    data
        Its content.

    Raises
    ------
    StoreError
        The name or media type is not allowed, or the content is empty or larger than
        `MOST_BYTES`.
    """

    name: str
    media_type: str
    data: bytes

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", file_name(self.name))
        if self.media_type not in MEDIA_TYPES:
            raise StoreError(
                f'The attachment "{self.name}" has the media type {self.media_type!r:.60}; '
                f"allowed are {', '.join(MEDIA_TYPES)}."
            )
        if not 0 < len(self.data) <= MOST_BYTES:
            raise StoreError(
                f'The attachment "{self.name}" has {len(self.data)} bytes; give 1 to {MOST_BYTES}.'
            )

    @property
    def label(self) -> AttachmentLabel:
        """What an entry says of it."""
        return AttachmentLabel(
            checksum=checksum(self.data),
            name=self.name,
            media_type=self.media_type,
            size=len(self.data),
        )


def checksum(data: bytes) -> str:
    """Give the SHA-256 of some bytes, 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def file_name(text: str) -> str:
    """Give the name of a file in one spelling; StoreError where it could lead elsewhere."""
    name = clean_name(text, "attachment's name")
    if name.startswith(".") or set(name) & set('/\\:*?"<>|'):
        raise StoreError(
            f"The attachment's name {text!r:.60} is not allowed; give the name of a file without "
            'a folder, a dot in front or any of : * ? " < > |.'
        )
    return name
