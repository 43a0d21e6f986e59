"""Quantities and ranges as they are written on the command line."""

from __future__ import annotations

import re

from glowtrace.errors import BenchError, Problem


def read_quantity(subject: str, option: str, text: str, unit: str) -> float:
    """Read "90 mm" in SI; parameters and errors as for `read_range`."""
    from glowtrace.units import QuantityError, parse_quantity

    try:
        return parse_quantity(text, unit)
    except QuantityError as error:
        raise BenchError(subject, [Problem(option, error.given, error.allowed)]) from None


def read_range(subject: str, option: str, text: str, unit: str) -> tuple[float, float]:
    """Read "0 V to 2 kV" as two values in SI; a bare 0 needs no unit.

    Parameters
    ----------
    subject, option
        What is being made, and the option that was given, for the error's text.
    text
        What was written.
    unit
        SI unit that it must have; "1" for a count.

    Raises
    ------
    BenchError
        There are not two ends, or one of them cannot be read.
    """
    ends = re.split(r"\s+to\s+|\.\.", text.strip())
    if len(ends) != 2:
        wanted = f'give two ends, for example "0 {unit} to 2 {unit}"'
        raise BenchError(subject, [Problem(option, f'"{text}"', wanted)])
    low, high = (
        0.0 if end.strip() == "0" else read_quantity(subject, option, end, unit) for end in ends
    )
    return low, high
