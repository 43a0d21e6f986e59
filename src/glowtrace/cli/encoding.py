"""The JSON that commands print: one object each, described for others in docs/json.md.

The first name is `format`, with a version. Numbers are SI and their names end in the unit; what
is no number (an infinite time, a value that does not exist) is null.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from numbers import Integral, Real
from pathlib import PurePath
from typing import Any

VERSION = 1
"""Of every format that has no version of its own."""


def json_text(kind: str, content: Mapping[str, Any]) -> str:
    """Give the JSON text of what a command found; ASCII, which every pipe carries.

    Parameters
    ----------
    kind
        What it is, for the format line: "plan" is written as "glowtrace-plan 1".
    content
        Its parts; a format line of its own stays, as files have one.
    """
    whole = {"format": f"glowtrace-{kind} {VERSION}", **content}
    return json.dumps(plain(whole), indent=2, allow_nan=False)


def plain(value: Any) -> Any:
    """Give a value as JSON has it: what is not finite is null, a data class is an object."""
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        number = float(value)
        return number if math.isfinite(number) else None
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "tolist"):  # an array or a number of numpy's, which is not loaded here
        return plain(value.tolist())
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, Collection):
        return [plain(each) for each in value]
    raise TypeError(f"{type(value).__name__} has no form in JSON")
