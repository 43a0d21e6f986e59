"""The bench: what stands on the table, frozen, in SI floats."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Self

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator
from pydantic_core import PydanticCustomError

from glowtrace.bench.conflicts import Assembly, find_conflicts
from glowtrace.bench.doubts import (
    Doubts,
    Slack,
    doubt_problems,
    mark_of,
    put_doubts,
    take_doubts,
)
from glowtrace.bench.parts import (
    CoilPair,
    Coils,
    Cylinder,
    EndFace,
    Envelope,
    GasGlow,
    Gun,
    Line,
    LongCoil,
    Part,
    Place,
    Plates,
    Screen,
    Sheet,
    Sphere,
    Supplies,
    Supply,
)
from glowtrace.bench.screen_plane import ScreenPlane, screen_plane
from glowtrace.shown import Shown

__all__ = [
    "Bench",
    "CoilPair",
    "Coils",
    "Cylinder",
    "EndFace",
    "Envelope",
    "GasGlow",
    "Gun",
    "LongCoil",
    "Place",
    "Plates",
    "Screen",
    "Sheet",
    "Sphere",
    "Supplies",
    "Supply",
]


class Bench(Part, Shown):
    """A bench as a whole.

    `invented` says that its numbers are no real apparatus but made up for demonstration. A bench
    whose parts do not fit together cannot be built; `glowtrace.bench.checking.check` reports all
    that is wrong as a `BenchError`.
    """

    name: Line
    invented: bool = False
    notes: Annotated[str, Field(max_length=10_000)] = ""
    gun: Gun
    plates: Plates | None = None
    screen: Screen
    envelope: Envelope
    coils: Coils | None = None
    supplies: Supplies
    place: Place
    slack: Slack | None = None
    doubts: Doubts | None = None
    """How well its numbers are known; None where every number is taken for exact."""

    def __repr__(self) -> str:
        parts = {
            "plates": self.plates is not None,
            "coil pair": isinstance(self.coils, CoilPair),
            "long coil": isinstance(self.coils, LongCoil),
        }
        named = [*(name for name, is_there in parts.items() if is_there), self.screen.kind]
        made_up = ", invented" if self.invented else ""
        return f'Bench "{self.name}"{made_up}: {", ".join(named)}'

    @property
    def plane(self) -> ScreenPlane:
        """The picture plane of its screen: what that shows, and where."""
        return screen_plane(self.screen)

    @model_validator(mode="before")
    @classmethod
    def _take_doubts(cls, data: object) -> object:
        """Let a number stand in a file with its uncertainty: "49 mm ± 1 mm"."""
        return take_doubts(cls, data) if isinstance(data, Mapping) else data

    @model_serializer(mode="wrap", when_used="json")
    def _put_doubts(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # A bench without them is written as it was before benches had any.
        written = {name: value for name, value in write(self).items() if name not in _MAY_LACK}
        if self.slack is not None:
            written["slack"] = self.slack.model_dump(mode="json")
        if self.doubts is not None:
            table = self.doubts.model_dump(mode="json")
            written = put_doubts(type(self), written | {"doubts": table}, self.doubts)
        return written

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        parts = {name: getattr(self, name) for name in Assembly.model_fields}
        problems = find_conflicts(Assembly(**parts))
        if self.doubts is not None:
            problems += tuple(doubt_problems(_uncertain(self), self.doubts))
        if problems:
            text = "; ".join(str(problem) for problem in problems)
            raise PydanticCustomError(
                "bench_conflicts", "{text}", {"text": text, "problems": problems}
            )
        return self


_MAY_LACK = ("slack", "doubts")


def _uncertain(bench: Bench) -> Mapping[str, tuple[float, Any]]:
    """Give value and allowed range of every number that may be uncertain, by path."""
    return dict(_numbers_of(bench, ""))


def _numbers_of(part: Part, path: str) -> Iterator[tuple[str, tuple[float, Any]]]:
    for name, info in type(part).model_fields.items():
        value, mark = getattr(part, name), mark_of(info)
        if isinstance(value, Part) and name not in _MAY_LACK:
            yield from _numbers_of(value, f"{path}{name}.")
        elif mark is not None and isinstance(value, tuple):
            for place, each in enumerate(value):
                yield f"{path}{name}[{place}]", (each, mark)
        elif mark is not None and value is not None:
            yield f"{path}{name}", (value, mark)
