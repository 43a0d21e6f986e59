"""Options that several commands share, as one parameter: a data class whose fields are options."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import wraps
from typing import Any, get_type_hints


def with_groups(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command that takes each field of its option groups as an option of its own.

    Every parameter whose type is a data class is a group. On the command line its fields stand
    in its place, in their order; the command itself receives one object for all of them.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: kind for name, kind in hints.items() if is_dataclass(kind)}
    parameters = list(_flat(command, hints, groups))

    @wraps(command)
    def flat(**told: Any) -> None:
        for name, kind in groups.items():
            told[name] = kind(**{each.name: told.pop(each.name) for each in fields(kind)})
        command(**told)

    flat.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    flat.__annotations__ = {each.name: each.annotation for each in parameters}
    return flat


def _flat(
    command: Callable[..., None], hints: dict[str, Any], groups: dict[str, Any]
) -> Iterator[inspect.Parameter]:
    for name, parameter in inspect.signature(command).parameters.items():
        if name not in groups:
            yield parameter.replace(annotation=hints[name], kind=parameter.KEYWORD_ONLY)
            continue
        of_fields = get_type_hints(groups[name], include_extras=True)
        for each in fields(groups[name]):
            yield inspect.Parameter(
                each.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=each.default,
                annotation=of_fields[each.name],
            )
