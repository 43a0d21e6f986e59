"""The bench: what stands on the table, frozen, in SI floats."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from glowtrace.bench.conflicts import Assembly, find_conflicts
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


class Bench(Part):
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

    @property
    def plane(self) -> ScreenPlane:
        """The picture plane of its screen: what that shows, and where."""
        return screen_plane(self.screen)

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        parts = {name: getattr(self, name) for name in Assembly.model_fields}
        problems = find_conflicts(Assembly(**parts))
        if problems:
            text = "; ".join(str(problem) for problem in problems)
            raise PydanticCustomError(
                "bench_conflicts", "{text}", {"text": text, "problems": problems}
            )
        return self
