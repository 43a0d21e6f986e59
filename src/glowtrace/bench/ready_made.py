"""Ready-made benches to start from: our own invention, good demonstrations, no real apparatus."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Final

from glowtrace.bench.checking import nearest_name
from glowtrace.bench.files import bench_from_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import show
from glowtrace.errors import BenchError, Problem

_NAMES: Final = ("deflection tube", "fine-beam bulb", "axial coil tube")


def ready_made_names() -> tuple[str, ...]:
    """Give the names of the ready-made benches."""
    return _NAMES


@cache
def ready_made(name: str) -> Bench:
    """Give a ready-made bench by its name.

    Raises
    ------
    BenchError
        When there is none of this name; its text names those that there are.
    """
    if name not in _NAMES:
        raise BenchError("ready-made benches", [Problem("name", show(name), _wanted(name))])
    file = resources.files("glowtrace.bench") / "ready_made" / f"{name.replace(' ', '-')}.toml"
    return bench_from_toml(file.read_text(encoding="utf-8"), f'ready-made bench "{name}"')


def _wanted(name: str) -> str:
    choices = " or ".join(f'"{known}"' for known in _NAMES)
    return f"choose {choices} ({nearest_name(name, _NAMES)})"
