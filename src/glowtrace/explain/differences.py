"""Why the real trace is not the textbook's: each difference with its share of the shift.

One electron is followed from the textbook's fields to the bench's, with every combination of the
differences switched on (`glowtrace.explain.blend`); the shift is shared out by the mean over all
orders (`glowtrace.explain.orders`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.path import Path
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.explain.blend import Effect, active_effects, blended_path
from glowtrace.explain.followed import usual_launch
from glowtrace.explain.orders import Share, share_out
from glowtrace.units import format_quantity
from glowtrace.watching import Cancelled, Progress, Watch

Array = NDArray[np.float64]
_NEARLY_ALL, _WELL_BEFORE_TURNING = 0.999, 0.9
"""Of the way along x that all paths have in common: where their heights are compared. A path that
turns back runs steeply where it turns, so that its height there would tell little."""
NAMES: dict[Effect, str] = {
    "plates": "Plates of finite size",
    "tie": "Plates tied to the anode",
    "coils": "The coils' real field",
    "earth": "Earth's field",
    "mass": "Relativity",
}
SAYS: dict[Effect, str] = {
    "plates": (
        "The field does not begin and end sharply. It is weaker near the edges of the plates, "
        "reaches beyond them, and reaches back to the anode."
    ),
    "tie": (
        "The middle of the gap is not at the anode's potential, so the electron is faster or "
        "slower between the plates than behind the gun."
    ),
    "coils": (
        "The textbook takes the value at the middle of the coils everywhere. "
        "Off the middle the field is weaker or stronger, and points a little aside."
    ),
    "earth": "Earth's magnetic field acts on the beam as well.",
    "mass": (
        "The formula for slow electrons leaves relativity out. At the same voltage the electron "
        "is a little slower than ½mv² says, so that plates act on it longer; its momentum is a "
        "little larger than that formula's, so that coils bend it less."
    ),
}


@dataclass(frozen=True)
class Difference:
    """One difference between textbook and bench."""

    effect: Effect
    name: str
    says: str
    share: Share
    """In m of `Differences.compared`."""


@dataclass(frozen=True, eq=False)
class Differences:
    """From the textbook's trace to that of the bench."""

    compared: str
    """What is compared, in words; its place is told."""
    textbook: float
    """It in the textbook for slow electrons, m."""
    bench: float
    """It on the bench, m."""
    parts: tuple[Difference, ...]
    """Their mean shares add up to bench - textbook."""
    textbook_path: Array
    """(m, 3) m."""
    bench_path: Array
    """(m, 3) m."""


def find_differences(
    prepared: PreparedBench,
    settings: Settings,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Differences | None:
    """Attribute the shift between the textbook's trace and the bench's to its causes.

    What is compared: on a sheet, the height of the trace at the end of the sheet (or as far as all
    paths reach that have to be compared); in gas, how high the circle reaches; on an end face, how
    far from its middle the followed electron arrives.

    Parameters
    ----------
    prepared, settings
        What is looked at.
    progress
        Called with the fraction done and a few words before each path.
    cancelled
        Asked before each path whether to give up.

    Returns
    -------
    Differences or None
        None where no electron flies.

    Raises
    ------
    GivenUpError
        It was cancelled.
    """
    effects = active_effects(prepared, settings)
    launch = usual_launch(prepared.bench)
    paths: dict[frozenset[str], Path] = {}
    watch = Watch(progress, cancelled)
    # A tie is nothing without plates: of four combinations of the two, three are flown.
    count = 2 ** len(effects) * (3 if "tie" in effects else 4) // 4

    def fly(on: frozenset[str]) -> float:
        watch.note(len(paths) / count, f"path {len(paths) + 1} of {count}")
        chosen: frozenset[Effect] = frozenset(each for each in effects if each in on)
        paths[on] = blended_path(prepared, settings, chosen, launch)
        return 0.0

    needs = {"tie": "plates"}
    share_out(effects, fly, needs)
    if any(len(path.time) == 0 for path in paths.values()):
        return None
    compared, values = _compare(prepared, paths, is_aslant=launch.up != 0.0)
    shares = share_out(effects, values.__getitem__, needs)
    none: frozenset[str] = frozenset()
    every = frozenset[str](effects)
    return Differences(
        compared=compared,
        textbook=values[none],
        bench=values[every],
        parts=tuple(
            Difference(effect, NAMES[effect], SAYS[effect], share)
            for effect, share in zip(effects, shares, strict=True)
        ),
        textbook_path=paths[none].position,
        bench_path=paths[every].position,
    )


def _compare(
    prepared: PreparedBench, paths: dict[frozenset[str], Path], *, is_aslant: bool
) -> tuple[str, dict[frozenset[str], float]]:
    """Give what is compared, and its value in m for each path."""
    plane = prepared.plane
    if plane.is_spot:
        values = {on: _off_axis(path, plane.x_to) for on, path in paths.items()}
        who = "of an electron at the edge of the beam" if is_aslant else "of the beam's middle"
        return f"Distance from the middle of the face, {who}", values
    reach = min(float(path.position[:, 0].max()) for path in paths.values())
    if plane.glows and all(_comes_back(path) for path in paths.values()):
        values = {on: abs(path.far_height()) for on, path in paths.items()}
        return "Width of the circle", values
    turns = any(path.position[-1, 0] < path.position[:, 0].max() for path in paths.values())
    x = min(plane.x_to, (_WELL_BEFORE_TURNING if turns else _NEARLY_ALL) * reach)
    values = {on: path.height_at(x) for on, path in paths.items()}
    return f"Height of the trace at x = {format_quantity(x, 'mm')}", values


def _comes_back(path: Path) -> bool:
    """Say whether a path bends back far enough to show its whole width."""
    turns = path.turning_points()
    return bool(turns) and turns[0].x < 0.5 * float(path.position[:, 0].max())


def _off_axis(path: Path, x: float) -> float:
    at = path.place_of(x)
    _, y, z = path.position[-1] if at is None else path.point(at)
    return float(np.hypot(y, z))
