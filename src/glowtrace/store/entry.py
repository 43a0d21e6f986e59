"""What is kept: entries with their bench, settings, data and attachments.

An entry is written down as one JSON text, always the same for the same content, whose SHA-256
names that version for good. Texts are never changed: amending or withdrawing adds a version.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Annotated, Final, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    ValidationError,
    field_serializer,
    model_validator,
)

from glowtrace.bench.files import bench_from_toml, settings_from_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store.attaching import AttachmentLabel, checksum
from glowtrace.store.naming import clean_name
from glowtrace.store.schema import TITLE_LENGTH

Kind = Literal[
    "rehearsal", "plan", "readings", "photograph", "result", "calibration", "lesson", "note"
]
"""What the logbook holds."""
Shelved = Literal["bench", "settings"]
"""What is saved under a name."""
Action = Literal["added", "amended", "withdrawn"]
EntryId = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]

MOST_TEXT: Final = 16_000_000
"""Largest text of an entry, bytes; attachments do not count."""
MOST_PARTS: Final = 1000
"""Most attachments of an entry, and most entries that it was made from."""


class Entry(BaseModel):
    """One version of an entry of the logbook.

    Attributes
    ----------
    id
        The name of the entry, the same for all its versions: 16 hexadecimal digits.
    action
        What made this version: the entry was added, amended or withdrawn.
    kind, title
        What it is, and one line that says what it shows; the name of what is saved under one.
    reason
        Why it was amended or withdrawn; may be empty.
    created, saved
        When the entry was added and when this version was made, UTC.
    bench_text, settings_text
        The bench and the settings as TOML, as they were then; None where there were none.
    payload
        The data, as plain JSON.
    attachments
        Labels of what is attached; `Logbook.attachment` gives the bytes.
    made_from
        The ids of the entries that it was made from.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    id: EntryId
    action: Action
    kind: Kind | Shelved
    title: str
    reason: str
    created: datetime
    saved: datetime
    bench_text: str | None
    settings_text: str | None
    payload: JsonValue
    attachments: Annotated[tuple[AttachmentLabel, ...], Field(max_length=MOST_PARTS)]
    made_from: Annotated[tuple[EntryId, ...], Field(max_length=MOST_PARTS)]

    @property
    def is_withdrawn(self) -> bool:
        """True once the entry is withdrawn."""
        return self.action == "withdrawn"

    @property
    def bench(self) -> Bench | None:
        """The bench, as it was then; BenchError where this Glowtrace cannot read its text."""
        return None if self.bench_text is None else bench_from_toml(self.bench_text)

    @property
    def settings(self) -> Settings | None:
        """The settings; BenchError where this Glowtrace cannot read their text."""
        return None if self.settings_text is None else settings_from_toml(self.settings_text)

    @property
    def text(self) -> str:
        """The version as it is kept: JSON with sorted names, no spaces, ASCII characters only."""
        return json.dumps(
            self.model_dump(),
            sort_keys=True,
            ensure_ascii=True,
            allow_nan=False,
            separators=(",", ":"),
        )

    @property
    def version(self) -> str:
        """The name of this version: the SHA-256 of its text."""
        return checksum(self.text.encode("ascii"))

    @field_serializer("created", "saved")
    def _as_written(self, time: datetime) -> str:
        return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.title != clean_name(self.title, "title", TITLE_LENGTH):
            raise ValueError("the title is not in its one spelling")
        if self.reason and self.reason != clean_name(self.reason, "reason", TITLE_LENGTH):
            raise ValueError("the reason is not in its one spelling")
        if not (self.created.tzinfo and self.saved.tzinfo):
            raise ValueError("a time has no zone")
        if self.action == "added" and self.created != self.saved:
            raise ValueError("it was added at another time than it was created")
        if self.saved < self.created:
            raise ValueError("it was saved before it was created")
        if self.id in self.made_from or len(set(self.made_from)) < len(self.made_from):
            raise ValueError("it is made from itself, or twice from the same entry")
        return self


def entry_from_text(text: str) -> Entry:
    """Read a version from the text that it is kept as.

    Raises
    ------
    ValueError
        The text is no entry, or is not written in the one way in which entries are.
    """
    try:
        entry = Entry.model_validate_json(text)
        if entry.text != text:
            raise ValueError("it is not written as Glowtrace writes it")
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(map(str, first["loc"])) or "the entry"
        raise ValueError(f"{place}: {first['msg'].lower()}") from error
    except (StoreError, RecursionError) as error:
        raise ValueError(str(error).rstrip(".")) from error
    return entry
