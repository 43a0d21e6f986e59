"""The states of pages in their addresses: one codec.

A reloaded, bookmarked or reconnected page comes back as it was, also after the server has ended.
What a page prepares is read strictly, so that a wrong value is told: settings and light are models,
written by dotted path. How a page shows it is a frozen data class of which a wrong or missing value
is read as usual. Of both only what differs from the usual is written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import is_dataclass, replace
from typing import Any, ClassVar, Final, NamedTuple, Protocol, TypeVar, get_type_hints
from urllib.parse import urlencode

from pydantic import BaseModel, TypeAdapter, ValidationError

from glowtrace.bench.checking import check
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, GlowtraceError, Problem


class DataClass(Protocol):
    """What every data class has."""

    __dataclass_fields__: ClassVar[dict[str, Any]]


State = TypeVar("State", bound=DataClass)
Model = TypeVar("Model", bound=BaseModel)
BENCH: Final = "bench"
SUBJECT: Final = "the page’s address"


def fragment(told: Mapping[str, str]) -> str:
    """Give the end of a query, with a leading "&" where anything is told."""
    return f"&{urlencode(told)}" if told else ""


# ---- how a page shows it -------------------------------------------------------------------------


class Word(NamedTuple):
    """Another name of a field in the address, as in ``Annotated[bool, Word("back")]``."""

    name: str


def told_state(state: State, usual: State, prefix: str = "") -> dict[str, str]:
    """Give what differs from the usual state, by the words of the address."""
    values = ((name, word, getattr(state, name)) for name, word, _ in _words(type(state)))
    return {
        prefix + word: value_text(value)
        for name, word, value in values
        if value != getattr(usual, name) and not is_dataclass(value)
    }


def read_state(query: Mapping[str, str], usual: State, prefix: str = "") -> State:
    """Read a state; what the query does not tell, or tells wrongly, is as usual."""
    found = usual
    for name, word, hint in _words(type(usual)):
        text = query.get(prefix + word, "")
        if not text or is_dataclass(hint):
            continue
        with suppress(ValidationError, GlowtraceError):
            value = TypeAdapter(hint).validate_python(text)
            if not isinstance(value, float) or math.isfinite(value):
                found = replace(found, **{name: value})
    return found


def _words(kind: type) -> Iterator[tuple[str, str, Any]]:
    """Give name, word and type of each field of a state."""
    for name, hint in get_type_hints(kind, include_extras=True).items():
        marks = (each for each in getattr(hint, "__metadata__", ()) if isinstance(each, Word))
        yield name, next((mark.name for mark in marks), name), hint


# ---- what a page prepares ------------------------------------------------------------------------


def told_model(model: BaseModel, prefix: str = "") -> dict[str, str]:
    """Give what differs from the usual by dotted path: {"light.room.illuminance": "20.0"}."""
    return dict(_flat(prefix, model.model_dump(exclude_defaults=True)))


def read_model(kind: type[Model], query: Mapping[str, str], prefix: str) -> Model:
    """Read a model back; what is not told is as usual.

    Raises
    ------
    BenchError
        A value makes no sense.
    """
    data: dict[str, Any] = {}
    for path, text in query.items():
        if path.startswith(prefix):
            *parents, name = path.removeprefix(prefix).split(".")
            node = data
            for parent in parents:
                if not isinstance(node.get(parent), dict):
                    node[parent] = {}
                node = node[parent]
            node[name] = read_value(text)
    return check(kind, data, SUBJECT)


def to_query(place: str, settings: Settings) -> str:
    """Give the query: the bench's place and every setting that is not at its default."""
    return urlencode({BENCH: place, **told_model(settings)})


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
        raise BenchError(SUBJECT, problems) from None
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


def _flat(prefix: str, data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in data.items():
        if isinstance(value, Mapping):
            yield from _flat(f"{prefix}{name}.", value)
        else:
            yield prefix + name, value_text(value)
