"""Answers as learners send them: read strictly, and refused with one message each.

A message is JSON: ``{"learner": ..., "sequence": ..., "question": ..., "nickname": ...}`` and one
of ``line`` (places u, v in mm), ``choice`` (a key) or ``readings`` (texts) with ``group``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.lesson.question import MOST_FIELDS, Asked, Question
from glowtrace.units import QuantityError, exact_text, parse_quantity

LONGEST_MESSAGE: Final = 6000
"""Bytes: a line of `MOST_PLACES` has some 2,000."""
MOST_PLACES: Final = 80
MOST_SEQUENCE: Final = 2**53
SHORTEST_LINE: Final = 0.05
LONGEST_LINE: Final = 8.0
"""Of the screen's diagonal: a line that is shorter is a slip of the finger, and one that is longer
no line of a beam. Common practice, no source; a trochoid across the screen has less than 4."""

Place = tuple[float, float]
Pair = Annotated[list[float], Field(min_length=2, max_length=2)]
Typed = Annotated[str, Field(max_length=80)]
Name = Annotated[str, Field(pattern="^[0-9a-f]{16,40}$")]


class Answer(BaseModel):
    """What a learner answered; one of `line`, `choice` and `readings` is there.

    Attributes
    ----------
    line
        Places (u, v) in mm on the screen; a single one is a spot.
    choice
        The key of a choice.
    readings
        What was typed, a text for each field of the question, as it was typed.
    values
        The same in SI; filled in when it is accepted.
    group
        The number of the group that read, from 1.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    line: Annotated[tuple[Place, ...], Field(max_length=MOST_PLACES)] = ()
    choice: Annotated[str, Field(max_length=40)] = ""
    readings: tuple[Typed, ...] = ()
    values: tuple[float, ...] = ()
    group: Annotated[int, Field(ge=0, le=1000)] = 0

    @property
    def written(self) -> str:
        """The answer as JSON, as it is kept."""
        return self.model_dump_json(exclude_defaults=True)


class Message(BaseModel):
    """One message of a learner's page."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    learner: Name
    sequence: Annotated[int, Field(ge=0, le=MOST_SEQUENCE)]
    question: Annotated[int, Field(ge=1, le=100_000)]
    nickname: Annotated[str, Field(max_length=24)] = ""
    line: Annotated[list[Pair], Field(max_length=MOST_PLACES)] | None = None
    choice: Annotated[str, Field(max_length=40)] | None = None
    readings: Annotated[list[Typed], Field(max_length=MOST_FIELDS)] | None = None
    group: Annotated[int, Field(ge=1, le=1000)] | None = None


def answer_from(written: str) -> Answer:
    """Read an answer as `Answer.written` gave it."""
    return Answer.model_validate_json(written)


def read_message(text: str | bytes) -> Message:
    """Read a message.

    Raises
    ------
    GlowtraceError
        It is none: the text says which part of it is wrong.
    """
    if len(text) > LONGEST_MESSAGE:
        raise GlowtraceError(f"This message is too long: at most {LONGEST_MESSAGE} bytes.")
    try:
        return Message.model_validate_json(text)
    except (ValidationError, ValueError, RecursionError) as error:
        where = ""
        if isinstance(error, ValidationError):
            where = ".".join(map(str, error.errors(include_input=False)[0]["loc"]))
        raise GlowtraceError(f"This is no answer{f' ({where:.40})' if where else ''}.") from error


def accepted(message: Message, question: Question) -> Answer:
    """Give the answer that a message holds, checked against its question.

    Raises
    ------
    GlowtraceError
        It does not answer this question: nothing is drawn, it is a scribble, a choice that there is
        not, a reading in a wrong unit or beyond what can be.
    """
    if message.readings is not None:
        return _readings(message, question)
    if message.choice is not None:
        if message.choice not in {choice.key for choice in question.choices}:
            raise GlowtraceError("This choice is not offered; choose one of those on the page.")
        return Answer(choice=message.choice)
    if message.line is not None and question.draws is not None:
        return Answer(line=_line(message.line, question))
    raise GlowtraceError("Nothing is answered yet; draw, choose or type first.")


def _line(line: Sequence[Sequence[float]], question: Question) -> tuple[Place, ...]:
    assert question.screen is not None
    u0, u1, v0, v1 = question.screen.extent
    kept = [(round(min(max(u, u0), u1), 2), round(min(max(v, v0), v1), 2)) for u, v in line]
    if not kept:
        raise GlowtraceError("Nothing is drawn yet; draw on the screen, or choose below it.")
    if question.draws == "spot":
        return (kept[-1],)
    diagonal = math.hypot(u1 - u0, v1 - v0)
    length = math.fsum(map(math.dist, kept, kept[1:]))
    if length < SHORTEST_LINE * diagonal:
        raise GlowtraceError("This line is too short to read; draw the whole line.")
    if length > LONGEST_LINE * diagonal:
        raise GlowtraceError("This line goes to and fro; clear it and draw one line.")
    return tuple(kept)


def _readings(message: Message, question: Question) -> Answer:
    assert message.readings is not None
    if len(message.readings) != len(question.fields):
        raise GlowtraceError("This question does not ask for these readings.")
    if not 1 <= (message.group or 0) <= max(1, len(question.tasks)):
        raise GlowtraceError(
            Problem("group", f"{message.group}", f"choose 1 to {max(1, len(question.tasks))}")
        )
    values = tuple(map(read_value, message.readings, question.fields))
    return Answer(readings=tuple(message.readings), values=values, group=message.group or 1)


def with_unit(text: str, field: Asked) -> str:
    """Give what was typed with a unit: a bare number is in the field's."""
    written = text.strip().replace("−", "-").replace(",", ".")
    has_unit = written[-1:].isalpha() or written.endswith("°")
    return written if has_unit else f"{written} {field.unit}"


def read_value(text: str, field: Asked) -> float:
    """Read what was typed into a field, in SI; a bare number is in the field's unit.

    Raises
    ------
    GlowtraceError
        It is no number, has another unit, or cannot be.
    """
    try:
        value = parse_quantity(with_unit(text, field), field.si_unit)
    except QuantityError as error:
        raise error.within(field.symbol) from None
    if not field.low <= value <= field.high:
        low, high = (exact_text(each, field.unit) for each in (field.low, field.high))
        allowed = f"{low} to {high} can be; is it in {field.unit}?"
        raise GlowtraceError(Problem(field.symbol, f'"{text}"', allowed))
    return value
