"""Short keys of benches by their content, for calibrations and exports."""

from __future__ import annotations

import hashlib
import json
from typing import Any, Final

from glowtrace.bench.model import Bench

_FIELD_PARTS: Final = {
    "gun": {"aperture_shape", "aperture_height", "aperture_width", "anode_radius"},
    "plates": {
        "length",
        "width",
        "gap",
        "start",
        "height_offset",
        "tilt_upper",
        "tilt_lower",
    },
    "screen": {
        "kind", "x", "x_from", "x_to", "y_from", "y_to", "z_from", "z_to", "width", "height",
    },
    "envelope": {"kind", "centre", "radius", "x_from", "x_to"},
    "coils": {
        "kind", "mean_radius", "turns", "winding_width", "winding_depth", "spacing", "centre",
        "tilt_x", "tilt_y", "sense", "x_from", "x_to", "shift_y", "shift_z",
    },
}  # fmt: skip
"""What the fields and the box of their map depend on."""


def bench_hash(bench: Bench) -> str:
    """Give a key of all that a bench says, names and notes included: 32 hexadecimal figures."""
    return _digest(bench.model_dump(mode="json"))


def fields_key(bench: Bench) -> str:
    """Give a key of the geometry that decides the fields: 32 hexadecimal figures.

    Benches that differ only in names, notes, supplies, ratings, place, the grid printed on the
    screen or how well they are known share it, and with it what was calibrated on one of them.
    """
    exact = bench.model_copy(update={"doubts": None, "slack": None})
    geometry = exact.model_dump(mode="json", include=_FIELD_PARTS)
    # Kept calibrations carry keys from when a bench could say where its anode is.
    geometry["gun"]["anode_position"] = "0 mm"
    return _digest(geometry)


def moves_line(path: str) -> bool:
    """Say whether a number, by its path in the bench file, can move the line on the screen.

    Words, such as a coil's sense, do not count.
    """
    part, _, name = path.rpartition(".")
    if path == "screen.x":
        return True
    is_field = part in ("gun", "plates", "coils") and name in _FIELD_PARTS[part]
    return is_field and name not in ("aperture_shape", "kind", "sense")


def _digest(data: dict[str, Any]) -> str:
    # Written quantities are exact, so equal text means equal floats.
    text = json.dumps(data, sort_keys=True, ensure_ascii=True)
    return hashlib.blake2b(text.encode("ascii"), digest_size=16).hexdigest()
