"""What stands on the table, as the query of the page's address.

A reloaded, bookmarked or reconnected page comes back as it was, also after the server has ended.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from pydantic import ValidationError

from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, Problem

BENCH = "bench"


def to_query(place: str, settings: Settings) -> str:
    """Give the query: the bench's place and every setting that is not at its default."""
    changed = settings.model_dump(exclude_defaults=True)
    return urlencode({BENCH: place, **{name: value_text(value) for name, value in changed.items()}})


def from_query(query: Mapping[str, str]) -> tuple[str | None, Settings | None]:
    """Read a query back: the bench's place and the settings, None where they are not told.

    Raises
    ------
    BenchError
        When a setting has no such value.
    """
    told = {name: text for name, text in query.items() if name in Settings.model_fields}
    if "accelerating_voltage" not in told:
        return query.get(BENCH), None
    try:
        settings = Settings.model_validate({name: read_value(text) for name, text in told.items()})
    except ValidationError as error:
        problems = [
            Problem(str(one["loc"][0]), f'"{one["input"]}"', "set it on the page instead")
            for one in error.errors()
        ]
        raise BenchError("the page’s address", problems) from None
    return query.get(BENCH), settings


def value_text(value: object) -> str:
    """Write a value for an address."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def read_value(text: str) -> object:
    """Read a value of an address: a truth, a number, or else the text itself."""
    if text in ("true", "false"):
        return text == "true"
    try:
        return float(text)
    except ValueError:
        return text
