"""The one place where wrong fields become a `BenchError` that names them all.

Each wrong field is a Problem of `glowtrace.bench.wrong_fields`; the conflicts between parts that
are sound in themselves are told with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from glowtrace.bench.conflicts import Assembly, find_conflicts
from glowtrace.bench.doubts import forget, take_doubts
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import WRITTEN
from glowtrace.bench.wrong_fields import nearest_name, problems_of
from glowtrace.errors import BenchError, Problem
from glowtrace.units import carries_uncertainty

__all__ = ["change", "check", "nearest_name"]

Model = TypeVar("Model", bound=BaseModel)


def check(kind: type[Model], data: object, subject: str, *, is_written: bool = False) -> Model:
    """Build a bench, a part of one, or settings from plain data, or report every wrong field.

    Parameters
    ----------
    kind
        The class to build, such as `Bench`.
    data
        Fields by name, nested as in the TOML file: SI numbers or quantity text.
    subject
        What the data are, for the head of the error: 'bench file "tube.toml"'.
    is_written
        True for what people wrote: a bare number is refused where a unit is needed.

    Raises
    ------
    BenchError
        With one Problem for each wrong field, and one for each conflict between sound parts.
    """
    context = WRITTEN if is_written else None
    try:
        return kind.model_validate(data, context=context)
    except ValidationError as error:
        problems = problems_of(kind, data, error)
        if issubclass(kind, Bench) and isinstance(data, Mapping):
            wrong = {str(each["loc"][0]) for each in error.errors() if each["loc"]}
            problems += _conflicts_of_sound_parts(data, wrong, context) if wrong else ()
        raise BenchError(subject, problems) from None


def change(
    model: Model, changes: Mapping[str, object], subject: str = "", *, is_written: bool = False
) -> Model:
    """Give a copy with some fields changed, checked as a whole.

    Parameters
    ----------
    model
        A bench, a part or settings.
    changes
        New values by dotted path: ``{"plates.tilt_upper": "2 deg", "coils": None}``; one coordinate
        of a point as "coils.centre[0]".
    subject, is_written
        As for `check`.

    Raises
    ------
    BenchError
        As for `check`.
    """
    # Written form, so that text and numbers of the changes meet text that reads back exactly.
    data = model.model_dump(mode="json")
    for path, value in changes.items():
        if "doubts" in data and not path.startswith("doubts"):
            is_uncertain = isinstance(value, str) and carries_uncertainty(value)
            data["doubts"] = data["doubts"] if is_uncertain else forget(data["doubts"], path)
        *parents, name = path.split(".")
        node = data
        for parent in parents:
            if not isinstance(node.get(parent), dict):
                node[parent] = {}
            node = node[parent]
        name, _, place = name.partition("[")
        if place:
            node[name][int(place.removesuffix("]"))] = value
        else:
            node[name] = value
    return check(type(model), data, subject or "changes", is_written=is_written)


def _conflicts_of_sound_parts(
    data: Mapping[str, Any], wrong: set[str], context: dict[str, bool] | None
) -> tuple[Problem, ...]:
    """Report conflicts between the parts that are right in themselves."""
    data = take_doubts(Bench, data)
    sound = {name: data[name] for name in Assembly.model_fields if name in data.keys() - wrong}
    return find_conflicts(Assembly.model_validate(sound, context=context))
