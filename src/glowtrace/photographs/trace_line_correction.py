"""Correcting an extracted line by hand: moving, adding, removing and restoring points.

A moved point takes the place of the extracted one and is remembered as moved; a removed one stays
in the line, marked, and does not count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid_points import CLICK_UNCERTAINTY
from glowtrace.photographs.photograph import PhotographError
from glowtrace.photographs.trace_line import Finding, TraceLine

Array = NDArray[np.float64]


def move_point(
    line: TraceLine, number: int, column: float, row: float, uncertainty: float = CLICK_UNCERTAINTY
) -> TraceLine:
    """Put a point where somebody saw it; it counts again if it was removed.

    Parameters
    ----------
    line
        An extracted line.
    number
        Position of the point in the line, from 0.
    column, row
        Where it belongs, in pixels.
    uncertainty
        Standard uncertainty along each direction in pixels.

    Raises
    ------
    PhotographError
        If there is no such point, or it would lie outside the photograph.
    """
    _require_point(line, number)
    _require_place(line, column, row, uncertainty)
    pixels, spread = line.pixels.copy(), line.pixel_covariance.copy()
    pixels[number] = column, row
    spread[number] = uncertainty**2 * np.eye(2)
    removed, width, strength = line.is_removed.copy(), line.width.copy(), line.strength.copy()
    removed[number] = False
    width[number] = strength[number] = np.nan
    source = list(line.source)
    if source[number] == "extracted":
        source[number] = "moved"
    return _told(
        replace(
            line,
            pixels=pixels,
            pixel_covariance=spread,
            width=width,
            strength=strength,
            source=tuple(source),
            is_removed=removed,
        )
    )


def add_point(
    line: TraceLine, column: float, row: float, uncertainty: float = CLICK_UNCERTAINTY
) -> TraceLine:
    """Add a point that somebody saw, beside the nearest one along the line.

    Raises
    ------
    PhotographError
        If it would lie outside the photograph.
    """
    _require_place(line, column, row, uncertainty)
    at = _place_in_order(line, np.array([column, row]))
    piece = line.piece[min(at, len(line) - 1)] if len(line) else 0

    def with_new(values: NDArray[Any], new: Any) -> NDArray[Any]:
        return np.insert(values, at, new, axis=0)

    return _told(
        replace(
            line,
            pixels=with_new(line.pixels, [column, row]),
            pixel_covariance=with_new(line.pixel_covariance, uncertainty**2 * np.eye(2)),
            width=with_new(line.width, np.nan),
            strength=with_new(line.strength, np.nan),
            piece=with_new(line.piece, piece),
            source=(*line.source[:at], "added", *line.source[at:]),
            is_removed=with_new(line.is_removed, False),
        )
    )


def remove_points(line: TraceLine, numbers: Iterable[int]) -> TraceLine:
    """Take points out; they stay in the line, marked as removed.

    Raises
    ------
    PhotographError
        If there is no such point.
    """
    return _marked(line, numbers, True)


def restore_points(line: TraceLine, numbers: Iterable[int]) -> TraceLine:
    """Let removed points count again.

    Raises
    ------
    PhotographError
        If there is no such point.
    """
    return _marked(line, numbers, False)


def _marked(line: TraceLine, numbers: Iterable[int], is_removed: bool) -> TraceLine:
    removed = line.is_removed.copy()
    for number in numbers:
        _require_point(line, number)
        removed[number] = is_removed
    return _told(replace(line, is_removed=removed))


def _told(line: TraceLine) -> TraceLine:
    """Bring the finding about corrections up to date."""
    counts = {
        "moved": line.source.count("moved"),
        "added": line.source.count("added"),
        "removed": int(line.is_removed.sum()),
    }
    said = ", ".join(f"{count} {what}" for what, count in counts.items() if count)
    findings = [each for each in line.findings if each.topic != "by hand"]
    if said:
        findings.append(Finding("by hand", f"corrected by hand: {said}"))
    return replace(line, findings=tuple(findings))


def _place_in_order(line: TraceLine, at: Array) -> int:
    """Where (0 to n) a new point makes the line the least longer."""
    if len(line) < 2:
        return len(line)
    away = np.linalg.norm(line.pixels - at, axis=1)
    step = np.linalg.norm(np.diff(line.pixels, axis=0), axis=1)
    longer = np.concatenate([away[:1], away[:-1] + away[1:] - step, away[-1:]])
    return int(longer.argmin())


def _require_point(line: TraceLine, number: int) -> None:
    if not 0 <= number < len(line):
        allowed = f"the line has points 0 to {len(line) - 1}" if len(line) else "the line has none"
        raise PhotographError(f"point {number} is not there; {allowed}")


def _require_place(line: TraceLine, column: float, row: float, uncertainty: float) -> None:
    width, height = line.screen_map.size
    if not (-0.5 <= column <= width - 0.5 and -0.5 <= row <= height - 0.5):
        allowed = f"columns go to {width - 1}, rows to {height - 1}"
        raise PhotographError(f"({column:.1f}, {row:.1f}) is outside the photograph; {allowed}")
    if not 0 < uncertainty < np.inf:
        raise PhotographError(
            f"an uncertainty of {uncertainty} pixels is not allowed; give more than 0"
        )
