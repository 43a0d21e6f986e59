"""The bench: what stands on the table, frozen, in SI floats."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

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

    `invented` says that its numbers are no real apparatus but made up for demonstration.
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
