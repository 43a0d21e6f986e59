"""Annotations for the numbers of a bench: unit, allowed range, and how they are written.

`Annotated[float, Quantity("mm", "0.1 mm", "500 mm")]` is a plain SI float to the program, checked
against its range, that reads and writes quantity text in files and forms.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from numbers import Real
from typing import Any, Final, get_args

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from glowtrace.units import (
    DIMENSIONS,
    QuantityError,
    carries_uncertainty,
    exact_text,
    parse_measurement,
    parse_quantity,
)

WRITTEN: Final = {"written": True}
"""Validation context for text written by people: a bare number is refused where a unit is due."""

NOTHING: Final = "nothing was given"
EXAMPLE_DAY: Final = "2026-01-01"


def refuse(given: str, allowed: str) -> PydanticCustomError:
    """Make the error from which `glowtrace.bench.checking` reads a Problem."""
    # Half a surrogate pair, as a command line may hold, has no place in a message.
    given, allowed = (text.encode("utf-8", "replace").decode() for text in (given, allowed))
    return PydanticCustomError(
        "bench_field", "{given} is not allowed; {allowed}", {"given": given, "allowed": allowed}
    )


def show(value: object, unit: str = "1") -> str:
    """Show a value as it was given: text in quotes, numbers with their unit."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 80 else f'"{value[:80]}…"'
    if value is None:
        return NOTHING
    if isinstance(value, Real):
        number = _as_float(value)
        return exact_text(number, unit) if math.isfinite(number) else f"{number}"
    text = str(value)
    return text if len(text) <= 80 else text[:80] + "…"


def _as_float(number: Real) -> float:
    """Give a number as a float; a whole number beyond all floats is infinite."""
    try:
        return float(number)
    except OverflowError:
        return math.inf


@dataclass(frozen=True)
class Quantity:
    """A float in SI units with a range; quantity text in files.

    Parameters
    ----------
    unit
        Unit in which it is written: "mm" always writes millimetres, "V" chooses the prefix.
    low, high
        Smallest and largest value allowed, as quantity text; None where there is no limit.
    """

    unit: str
    low: str
    high: str | None = None

    @property
    def si_unit(self) -> str:
        """SI unit of the float."""
        return "m" if self.unit == "mm" else self.unit

    @property
    def allowed(self) -> str:
        """The range, in the words of an error."""
        if self.high is None:
            return f"give {self.low} or more"
        return f"choose between {self.low} and {self.high}"

    @property
    def wanted(self) -> str:
        """What to give where nothing was given."""
        dimension = DIMENSIONS[self.si_unit]
        if self.unit == "1":
            return f"give {dimension.name}: {self.allowed}"
        low, high = self.limits
        usual = low <= parse_quantity(dimension.example, self.si_unit) <= high
        example = dimension.example if usual or self.high is None else self.high
        return f'give {dimension.name}, for example "{example}": {self.allowed}'

    @property
    def limits(self) -> tuple[float, float]:
        """Smallest and largest value allowed, in the SI unit."""
        high = math.inf if self.high is None else parse_quantity(self.high, self.si_unit)
        return parse_quantity(self.low, self.si_unit), high

    def check(self, value: object, info: ValidationInfo) -> float:
        """Give the value as an SI float, or refuse it."""
        number = self._number(value, bool(info.context and info.context.get("written")))
        low, high = self.limits
        if not (low <= number <= high and math.isfinite(number)):
            raise refuse(show(value, self.unit), self.allowed)
        # Equal benches have equal text and so equal keys: no negative zero.
        return number + 0.0

    def _number(self, value: object, is_written: bool) -> float:
        if isinstance(value, str):
            try:
                number, uncertainty = parse_measurement(value, self.si_unit)
            except QuantityError as error:
                raise refuse(error.given, error.allowed) from None
            if carries_uncertainty(value):
                allowed = "no uncertainty is kept here: give the value alone"
                if uncertainty == 0.0:
                    allowed = "an uncertainty is above 0: give the value alone where it is exact"
                raise refuse(show(value), allowed)
            return number
        if isinstance(value, bool) or not isinstance(value, Real):
            raise refuse(show(value), self.wanted)
        if is_written and self.unit != "1":
            raise refuse(f"the bare number {value}", self.wanted)
        return _as_float(value)

    def write(self, value: float) -> str | float:
        """Give the value as it is written in files: exact text, or a number if it has no unit."""
        return exact_text(value, self.unit) if self.unit != "1" else value

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Tell pydantic how to check, and how to write files."""
        writing = core_schema.plain_serializer_function_ser_schema(self.write, when_used="json")
        return core_schema.with_info_plain_validator_function(self.check, serialization=writing)


def quantity_of(declared: Any) -> Quantity | None:
    """Give unit and range of a declared field that holds a quantity, or a point of three."""
    marks = list(declared.metadata)
    for each in get_args(declared.annotation):
        marks += getattr(each, "__metadata__", ())
    return next((mark for mark in marks if isinstance(mark, Quantity)), None)


@dataclass(frozen=True)
class Count:
    """A whole number of at least one, such as turns."""

    highest: int

    @property
    def limits(self) -> tuple[float, float]:
        """Smallest and largest value allowed."""
        return 1.0, float(self.highest)

    @property
    def allowed(self) -> str:
        """The range, in the words of an error."""
        return self.wanted

    @property
    def wanted(self) -> str:
        """The range, in the words of an error."""
        return f"give a whole number between 1 and {self.highest}"

    def check(self, value: object) -> int:
        """Give the value as an int, or refuse it."""
        number: Any = value
        is_whole = isinstance(value, Real) and not isinstance(value, bool) and value == value // 1
        if not is_whole or not 1 <= number <= self.highest:
            raise refuse(show(value), self.wanted)
        return int(number)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Tell pydantic how to check."""
        return core_schema.no_info_plain_validator_function(self.check)


@dataclass(frozen=True)
class Day:
    """A calendar date within a range of years, given as a TOML date or as "2026-01-01"."""

    first: datetime.date
    last: datetime.date

    @property
    def wanted(self) -> str:
        """The range, in the words of an error."""
        return f"give a date between {self.first} and {self.last}, for example {EXAMPLE_DAY}"

    def check(self, value: object) -> datetime.date:
        """Give the value as a date, or refuse it."""
        day = self._day(value)
        if day is None or not self.first <= day <= self.last:
            raise refuse(show(value), self.wanted)
        return day

    @staticmethod
    def _day(value: object) -> datetime.date | None:
        if isinstance(value, str):
            try:
                return datetime.date.fromisoformat(value)
            except ValueError:
                return None
        # A moment is a date to Python, yet not what is asked for.
        if isinstance(value, datetime.datetime) or not isinstance(value, datetime.date):
            return None
        return value

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Tell pydantic how to check."""
        return core_schema.no_info_plain_validator_function(self.check)
