"""What stands on a worksheet: its questions, and the answers that go with them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

from glowtrace.errors import GlowtraceError, Problem

Level = Literal["proportion", "algebra"]

LEVELS: Final[dict[Level, str]] = {
    "proportion": "proportion, powers of ten, reading a graph",
    "algebra": "rearranging formulas, square roots, directions of vectors",
}
"""The mathematics that each level needs."""


@dataclass(frozen=True)
class Result:
    """A number that answers a question.

    Attributes
    ----------
    name
        What it is.
    text
        As it is written: number, unit, sensible digits.
    value
        The same before it was rounded, in the SI unit.
    unit
        That unit.
    """

    name: str
    text: str
    value: float
    unit: str


@dataclass(frozen=True)
class Graph:
    """A drawing that a learner measures on.

    Attributes
    ----------
    svg
        The drawing.
    words
        The drawing in words.
    head, rows
        Its points as a table, for where no drawing can be shown.
    """

    svg: str
    words: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Question:
    """One question with its answer.

    Attributes
    ----------
    topic
        A word or two.
    text
        What is asked, one paragraph each.
    room
        Lines to write the answer on.
    steps
        The way to the answer, line by line.
    results
        The numbers of the answer; none where it is in words.
    remark
        What differs on the real tube, or what is left out; empty where nothing does.
    graph
        What is measured on.
    """

    topic: str
    text: tuple[str, ...]
    room: int
    steps: tuple[str, ...]
    results: tuple[Result, ...] = ()
    remark: str = ""
    graph: Graph | None = None


@dataclass(frozen=True)
class Worksheet:
    """The sheet of one learner.

    Attributes
    ----------
    bench, is_invented
        The bench's name, and whether its numbers are made up.
    level
        The mathematics it needs.
    seed, learner
        What its numbers come from: the class's seed, and the learner's number from 1.
    data
        The bench's data that the questions use: name, symbol and value.
    constants
        Constants of nature in the same form.
    questions
        In their order.
    """

    bench: str
    is_invented: bool
    level: Level
    seed: int
    learner: int
    data: tuple[tuple[str, str, str], ...]
    constants: tuple[tuple[str, str, str], ...]
    questions: tuple[Question, ...]

    @property
    def title(self) -> str:
        """Head of the sheet."""
        return f"Electron beam: {self.bench}"

    @property
    def number(self) -> str:
        """What tells one sheet from another: seed and learner."""
        return f"{self.seed}–{self.learner}"


def require_level(level: str) -> Level:
    """Give a level by its name; GlowtraceError where there is none such."""
    for known in get_args(Level):
        if level == known:
            return known  # type: ignore[no-any-return]
    choice = " or ".join(f'"{each}"' for each in get_args(Level))
    raise GlowtraceError(Problem("level", f'"{level}"', f"choose {choice}"))
