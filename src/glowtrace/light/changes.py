"""What to change so that a class sees the trace, each found by solving the model for it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.glow import Glow
from glowtrace.light.scene import Scene
from glowtrace.light.verdict import Verdict
from glowtrace.light.ways import DARKEST, Case, Way, solved, ways

_WORTH: Final = 1.2
"""Factor of the margin from which a change is worth telling."""


@dataclass(frozen=True)
class Change:
    """One thing to change, or several together.

    Attributes
    ----------
    ways
        What is changed, each with its case before and after.
    after
        The verdict then.
    gain
        Factor by which the margin grows.
    scene, settings
        With the change made.
    """

    ways: tuple[Way, ...]
    after: Verdict
    gain: float
    scene: Scene
    settings: Settings

    @property
    def key(self) -> str:
        """The kind of what is changed; "together" for several things."""
        return self.ways[0].kind if len(self.ways) == 1 else "together"


def suggest_changes(
    bench: Bench, settings: Settings, scene: Scene, glow: Glow
) -> tuple[Change, ...]:
    """Give what would make the trace surely seen, or better seen where nothing makes it sure.

    Parameters
    ----------
    bench, settings, scene, glow
        As for `assess_glow`.

    Returns
    -------
    tuple of Change
        Those that suffice by themselves first; none where the trace is surely seen already, or
        where there is none. All keep within the ratings of the bench.
    """
    case = Case(bench, settings, scene, glow)
    before = case.judged()
    if glow.is_dark or before.word == "surely":
        return ()
    single = [
        change for change in (_change(case, (way,)) for way in ways(case)) if change.gain >= _WORTH
    ]
    single.sort(key=lambda change: -change.after.chance)
    if single and single[0].after.word != "surely":
        together = _together(case, single)
        return (together, *single) if together is not None else tuple(single)
    return tuple(single)


def brightest_room(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> float | None:
    """Give the illuminance in lx up to which the trace is surely seen; None where in no room."""
    case = Case(bench, settings, scene, glow)
    if glow.is_dark or case.within(room__illuminance=DARKEST).shortfall < 0.0:
        return None
    return solved(lambda lux: case.within(room__illuminance=lux), 1e5, DARKEST)


def _change(case: Case, used: tuple[Way, ...]) -> Change:
    then = used[-1].then
    before, after = case.judged(), then.judged()
    gain = after.margin / before.margin if before.margin > 0.0 else math.inf
    if after.margin == 0.0:
        gain = 1.0
    return Change(used, after, gain, then.scene, then.settings)


def _together(case: Case, single: list[Change]) -> Change | None:
    """Join ways, the easiest first, until they suffice; None where there is but one."""
    useful = {change.key for change in single}
    then, used = case, list[Way]()
    for kind in [way.kind for way in ways(case) if way.kind in useful]:
        way = next((way for way in ways(then) if way.kind == kind), None)
        if way is None:
            continue
        then = way.then
        used.append(way)
        if then.judged().word == "surely":
            break
    return _change(case, tuple(used)) if len(used) > 1 else None
