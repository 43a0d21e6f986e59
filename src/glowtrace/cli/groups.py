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
    in its place, in their order; the command itself receives one object for all of them. A class
    that makes its options itself has `options`, which gives them as parameters, and `of`, which
    takes what was told for each.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: kind for name, kind in hints.items() if is_dataclass(kind)}
    parts = {name: tuple(_options(kind)) for name, kind in groups.items()}
    parameters = [
        option
        for name, parameter in inspect.signature(command).parameters.items()
        for option in parts.get(name)
        or (parameter.replace(annotation=hints[name], kind=parameter.KEYWORD_ONLY),)
    ]

    @wraps(command)
    def flat(**told: Any) -> None:
        for name, kind in groups.items():
            own = {each.name: told.pop(each.name) for each in parts[name]}
            told[name] = kind.of(own) if hasattr(kind, "of") else kind(**own)
        command(**told)

    flat.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    flat.__annotations__ = {each.name: each.annotation for each in parameters}
    return flat


def option(name: str, annotation: Any, default: Any = None) -> inspect.Parameter:
    """Give an option of a group."""
    kind = inspect.Parameter.KEYWORD_ONLY
    return inspect.Parameter(name, kind, default=default, annotation=annotation)


def _options(group: Any) -> Iterator[inspect.Parameter]:
    if hasattr(group, "options"):
        yield from group.options()
        return
    of_fields = get_type_hints(group, include_extras=True)
    for each in fields(group):
        yield option(each.name, of_fields[each.name], each.default)
