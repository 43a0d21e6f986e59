"""Ways to make a trace easier to see, each as far as it suffices or as it may go."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.optimize import brentq

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import eye_margins
from glowtrace.light.glow import Glow, scaled
from glowtrace.light.scaling import scale_settings, voltage_reach
from glowtrace.light.scene import Scene, beam_current
from glowtrace.light.verdict import SURE, Verdict, judge

HOOD: Final = 0.1
"""Share of the room's light under a black hood that is open to the audience (a guess)."""
BLACK_CLOTH: Final = 0.04
"""Reflectance of black velvet or card, with its gloss (from memory)."""
_MORE_CURRENT: Final = 2.0
"""A bench tells a typical beam current, no rating; suggestions stay within twice that."""
DARKEST: Final = 0.1
"""lx: what is left behind a good blackout, as of a full moon."""
_NEAREST: Final = 1.5
"""m; local rules may want more."""
_SLACK: Final = 0.003
"""Of the chance, so that what is suggested is sure and not at the edge of it."""


@dataclass(frozen=True)
class Case:
    """A bench in a scene, whose margin can be asked for."""

    bench: Bench
    settings: Settings
    scene: Scene
    glow: Glow

    def judged(self) -> Verdict:
        """Give the verdict for the eye."""
        return judge(eye_margins(self.bench, self.settings, self.scene, self.glow))

    @property
    def shortfall(self) -> float:
        """Logarithm of the margin that is reached with the chance of `SURE`; 0 is enough."""
        margins = eye_margins(self.bench, self.settings, self.scene, self.glow)
        return math.log(max(float(np.quantile(margins, 1.0 - SURE - _SLACK)), 1e-12))

    def within(self, **changes: object) -> Case:
        """Give the case with fields of the room, the gas or the scene changed."""
        scene = self.scene
        for name, value in changes.items():
            part, _, field = name.partition("__")
            if field:
                value = getattr(scene, part).model_copy(update={field: value})
            scene = scene.model_copy(update={part: value})
        return Case(self.bench, self.settings, scene, self.glow)

    def at_voltage(self, factor: float) -> Case:
        """Give the case with all voltages times a factor, which keeps the picture."""
        return Case(
            self.bench,
            scale_settings(self.settings, factor),
            self.scene,
            scaled(self.glow, factor),
        )


Kind = Literal["backdrop", "hood", "room", "distance", "voltage", "current"]


@dataclass(frozen=True)
class Way:
    """A way to a better margin: its kind, and the case before and after."""

    kind: Kind
    before: Case
    then: Case


def ways(case: Case) -> Iterator[Way]:
    """Give the ways that there are, from the easiest on."""
    found: tuple[tuple[Kind, Callable[[Case], Case | None]], ...] = (
        ("backdrop", _backdrop),
        ("hood", _covered),
        ("room", _darker),
        ("distance", _nearer),
        ("voltage", _voltage),
        ("current", _current),
    )
    for kind, find in found:
        then = find(case)
        if then is not None:
            yield Way(kind, case, then)


def _backdrop(case: Case) -> Case | None:
    if not case.glow.is_gas or case.scene.gas.backdrop <= BLACK_CLOTH:
        return None
    return case.within(gas__backdrop=BLACK_CLOTH)


def _covered(case: Case) -> Case | None:
    return None if case.scene.room.hood <= HOOD else case.within(room__hood=HOOD)


def _darker(case: Case) -> Case | None:
    room = case.scene.room
    if room.illuminance <= DARKEST:
        return None
    lux = solved(lambda e: case.within(room__illuminance=e), room.illuminance, DARKEST)
    lux = _rounded_down(lux, 1)
    return None if lux >= room.illuminance else case.within(room__illuminance=lux)


def _nearer(case: Case) -> Case | None:
    if case.scene.away <= _NEAREST * 1.1:
        return None
    away = solved(lambda away: case.within(away=away), case.scene.away, _NEAREST)
    return case.within(away=max(_rounded_down(away, 2), _NEAREST))


def _voltage(case: Case) -> Case | None:
    up, down = (voltage_reach(case.bench, case.settings, farthest) for farthest in (10.0, 0.1))
    reach = max((up, down), key=lambda factor: case.at_voltage(factor).shortfall)
    if abs(math.log(reach)) < 0.01:
        return None
    return case.at_voltage(solved(case.at_voltage, 1.0, reach))


def most_current(bench: Bench) -> float:
    """Give the largest beam current in A that is suggested."""
    most = _MORE_CURRENT * bench.gun.beam_current
    return min(bench.supplies.accelerating.max_current, most)


def _current(case: Case) -> Case | None:
    now, most = beam_current(case.bench, case.scene), most_current(case.bench)
    if most <= now * 1.05:
        return None
    wanted = solved(lambda current: case.within(beam_current=current), now, most)
    return case.within(beam_current=wanted)


def _rounded_down(value: float, digits: int) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return round(math.floor(value / step * (1.0 + 1e-9)) * step, 12)


def solved(at: Callable[[float], Case], now: float, limit: float) -> float:
    """Give the value nearest to now, towards the limit, that suffices; the limit where none."""
    if at(limit).shortfall < 0.0:
        return limit
    if at(now).shortfall >= 0.0:
        return now
    root = brentq(
        lambda log: at(math.exp(log)).shortfall, math.log(now), math.log(limit), rtol=1e-4
    )
    # On the side that suffices, also after the solver's last step.
    beyond = math.exp(float(root) + 1e-3 * math.copysign(1.0, math.log(limit / now)))
    return min(beyond, limit) if limit > now else max(beyond, limit)
