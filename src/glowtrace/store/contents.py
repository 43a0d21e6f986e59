"""What is put into an entry, and how it is written down."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any, TypedDict, get_args

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store.attaching import Attachment, AttachmentLabel
from glowtrace.store.entry import MOST_TEXT, Entry, Kind, entry_from_text
from glowtrace.store.naming import clean_name
from glowtrace.store.schema import TITLE_LENGTH


class Contents(TypedDict, total=False):
    """What an entry holds besides its kind and title; whatever is left out stays as it is.

    bench, settings
        What was on the table.
    payload
        The data: whatever JSON can hold (no infinity, no not-a-number).
    attachments
        Files to attach; the label of one that is kept already stands for it.
    made_from
        The ids of the entries that it was made from.
    """

    bench: Bench | None
    settings: Settings | None
    payload: Any
    attachments: Iterable[Attachment | AttachmentLabel]
    made_from: Iterable[str]


class Changes(Contents, total=False):
    """What can be amended."""

    kind: Kind
    title: str


def as_written(changes: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[Attachment, ...]]:
    """Give what was changed as it stands in an entry's text, and the files to keep."""
    allowed = {*Contents.__annotations__, *Changes.__annotations__}
    if unknown := set(changes) - allowed:
        raise TypeError(f"unexpected {', '.join(sorted(unknown))}; allowed: {sorted(allowed)}")
    written = {name: changes[name] for name in ("payload",) if name in changes}
    if "kind" in changes:
        written["kind"] = known_kind(changes["kind"])
    if "title" in changes:
        written["title"] = clean_name(changes["title"], "title", TITLE_LENGTH)
    if "bench" in changes:
        bench = changes["bench"]
        written["bench_text"] = None if bench is None else bench_to_toml(bench)
    if "settings" in changes:
        settings = changes["settings"]
        written["settings_text"] = None if settings is None else settings_to_toml(settings)
    if "made_from" in changes:
        written["made_from"] = list(changes["made_from"])
    files: tuple[Attachment, ...] = ()
    if "attachments" in changes:
        given = tuple(changes["attachments"])
        files = tuple(one for one in given if isinstance(one, Attachment))
        labels = [one.label if isinstance(one, Attachment) else one for one in given]
        written["attachments"] = [label.model_dump() for label in labels]
    return written, files


def checked_entry(data: Mapping[str, Any]) -> Entry:
    """Give the entry as it will be read back, so that nothing is kept that cannot be."""
    reason = data["reason"]
    data = {**data, "reason": clean_name(reason, "reason", TITLE_LENGTH) if reason else ""}
    try:
        entry = Entry.model_validate_json(json.dumps(data, allow_nan=False))
        entry = entry_from_text(entry.text)
    except (TypeError, ValueError, RecursionError) as error:
        first_line = next(iter(str(error).splitlines()), type(error).__name__)
        raise StoreError(
            f"The entry cannot be written as plain JSON ({first_line}); nothing was changed."
        ) from error
    if len(entry.text) > MOST_TEXT:
        raise StoreError(
            f"The entry's text has {len(entry.text)} bytes; at most {MOST_TEXT} are kept. "
            "Attach large data as a file."
        )
    return entry


def known_kind(kind: str) -> str:
    """Give the kind; StoreError where there is none of that name."""
    if kind not in get_args(Kind):
        raise StoreError(f"The kind {kind!r:.40} is unknown; give {', '.join(get_args(Kind))}.")
    return kind
