"""Benches to begin one's own from: a kind of tube with usual numbers, none of them yours yet."""

from __future__ import annotations

from glowtrace.bench.checking import change
from glowtrace.bench.model import Bench
from glowtrace.bench.ready_made import ready_made


def own_copy(bench: Bench, name: str = "") -> Bench:
    """Give a bench to make one's own of: under a name of its own, not invented, without notes."""
    own = {"name": name or f"my {bench.name}", "invented": False, "notes": ""}
    return bench.model_copy(update=own)


def beginnings() -> dict[str, Bench]:
    """Give a bench of each kind of tube, by what the kind shows."""
    coil = ready_made("axial coil tube")
    return {
        "Line on a sheet": ready_made("deflection tube"),
        "Spot on an end face": _end_face_tube(coil),
        "Circle in gas": ready_made("fine-beam bulb"),
        "Spot in a long coil": coil,
    }


def _end_face_tube(coil: Bench) -> Bench:
    """Give a tube that moves a spot over its face with plates, made from one with a long coil."""
    reach = coil.screen.x if coil.screen.kind == "end face" else coil.screen.x_to
    changes = {
        "name": "end-face tube",
        "coils": None,
        "supplies.coils": None,
        "supplies.plates": coil.supplies.accelerating.model_dump(),
        "plates": {
            "length": 0.2 * reach,
            "width": 0.1 * reach,
            "gap": 0.1 * reach,
            "start": 0.05 * reach,
            "max_voltage": coil.gun.max_accelerating_voltage,
        },
    }
    return change(coil, changes)
