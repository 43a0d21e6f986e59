"""What pydantic finds wrong, as Problems in the words of the trade.

Pydantic finds the wrong fields; here each becomes a Problem with the dotted path of the TOML file,
the value as it was given, and what is allowed in the units of the trade.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from glowtrace.bench.ranges import NOTHING, Count, Day, Quantity, show
from glowtrace.errors import Problem

_SIMPLE: Final = {
    "string_type": "give text in quotes",
    "string_unicode": "give text of whole Unicode characters",
    "string_too_short": "give at least one character",
    "string_pattern_mismatch": "give one line without control characters",
    "bool_type": "give true or false",
    "tuple_type": 'give three coordinates, for example ["50 mm", "0 mm", "0 mm"]',
    "too_long": 'give three coordinates, for example ["50 mm", "0 mm", "0 mm"]',
}
"""What is allowed, for the kinds of error that say it themselves."""
_LEAST_LETTERS: Final = 3
"""Letters from which a part of a name may stand for all of it."""


def problems_of(kind: type[BaseModel], data: object, error: ValidationError) -> list[Problem]:
    """Give one Problem for each wrong field of ``data``, from which a ``kind`` was to be built."""
    details = error.errors(include_url=False)
    return [problem for each in details for problem in _problems(kind, data, each)]


def nearest_name(given: str, known: Sequence[str]) -> str:
    """Say which known name may be meant, or else list them."""
    meant = meant_name(given, known)
    return f"did you mean {meant}?" if meant else f"known names are {', '.join(known)}"


def unknown_name(field: str, given: str, known: Sequence[str]) -> Problem:
    """Give the problem of a name that is not among the known ones."""
    meant = meant_name(given, known)
    if meant:
        return Problem(field, f'"{given}"', hint=f"did you mean {meant}?")
    return Problem(field, f'"{given}"', f"known names are {', '.join(known)}")


def meant_name(given: str, known: Sequence[str]) -> str | None:
    """Give the known name that may be meant, if there is one.

    A name that only one known name begins with or holds is meant rather than one that is alike.
    """
    if len(given) >= _LEAST_LETTERS:
        for holds in (str.startswith, str.__contains__):
            holding = [name for name in known if holds(name, given)]
            if len(holding) == 1:
                return holding[0]
    return next(iter(difflib.get_close_matches(given, known, n=1)), None)


def _problems(kind: type[BaseModel], data: object, details: ErrorDetails) -> Iterator[Problem]:
    """Give the problems that one of pydantic's errors stands for."""
    context: Mapping[str, Any] = details.get("ctx", {})
    if details["type"] == "bench_conflicts":
        yield from context["problems"]
        return
    path, parent, info = _locate(kind, data, details["loc"])
    given = show(details["input"])
    match details["type"]:
        case "bench_field":
            given, allowed = context["given"], context["allowed"]
        case "missing":
            given, allowed = NOTHING, _wanted(path, info)
        case "extra_forbidden":
            name = str(path[-1])
            given = f'the unknown name "{name}"'
            allowed = nearest_name(name, list(parent.model_fields))
        case "literal_error":
            allowed = _wanted(path, info)
        case "union_tag_invalid":
            path, given = [*path, "kind"], show(details["input"]["kind"])
            allowed = _choice(_kinds(info))
        case "union_tag_not_found":
            path, given, allowed = [*path, "kind"], NOTHING, _choice(_kinds(info))
        case "string_too_long":
            allowed = f"give at most {context['max_length']} characters"
        case "model_type" | "model_attributes_type":
            allowed = f"give a table [{_dotted(path)}] with its fields"
        case other:
            allowed = _SIMPLE.get(other, details["msg"])
    yield Problem(_dotted(path) or "file", given, allowed)


def _locate(
    kind: type[BaseModel], data: object, location: Sequence[str | int]
) -> tuple[list[str | int], type[BaseModel], FieldInfo | None]:
    """Find the path in the file, the class that holds the field, and the field's declaration.

    Pydantic's location of a union holds the chosen `kind` as well, which the file has not.
    """
    path: list[str | int] = []
    node: object = data
    parent, info = kind, None
    current: type[BaseModel] | None = kind
    for step in location:
        if isinstance(node, Mapping) and step not in node and step == node.get("kind"):
            continue
        path.append(step)
        parent = current or parent
        info = parent.model_fields.get(step) if isinstance(step, str) else None
        node = node.get(step) if isinstance(node, Mapping) else None
        current = class_of(info, node)
    return path, parent, info


def part_classes(annotation: object) -> tuple[type[BaseModel], ...]:
    """Give the part classes that an annotation names."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return (annotation,)
    return tuple(each for argument in get_args(annotation) for each in part_classes(argument))


def _kinds(info: FieldInfo | None) -> list[str]:
    """Give the kinds among which a field may choose."""
    classes = part_classes(info.annotation) if info else ()
    return [str(each.model_fields["kind"].default) for each in classes]


def class_of(info: FieldInfo | None, node: object) -> type[BaseModel] | None:
    """Give the class of the part that stands in a field."""
    classes = part_classes(info.annotation) if info else ()
    if len(classes) > 1:
        kind = node.get("kind") if isinstance(node, Mapping) else None
        return dict(zip(_kinds(info), classes, strict=True)).get(str(kind))
    return classes[0] if classes else None


def _wanted(path: Sequence[str | int], info: FieldInfo | None) -> str:
    """Say what to give in a field that is missing."""
    if info is None:
        return _SIMPLE["tuple_type"]
    for mark in info.metadata:
        if isinstance(mark, Quantity | Count | Day):
            return mark.wanted
    if get_origin(info.annotation) is Literal:
        return _choice(get_args(info.annotation))
    if part_classes(info.annotation):
        return f"give a table [{_dotted(path)}] with its fields"
    return _SIMPLE["tuple_type" if get_origin(info.annotation) is tuple else "string_type"]


def _choice(names: Sequence[str]) -> str:
    """Say what there is to choose from."""
    return "choose " + " or ".join(f'"{name}"' for name in names)


def _dotted(path: Sequence[str | int]) -> str:
    """Write a path as in a TOML file, with positions in brackets."""
    return "".join(f"[{s}]" if isinstance(s, int) else f".{s}" for s in path).removeprefix(".")
