"""Ways to make a trace easier to see, each as far as it suffices or as it may go."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import eye_margins
from glowtrace.light.glow import Glow, scaled
from glowtrace.light.scaling import X_RAYS_FROM, scale_settings, voltage_reach
from glowtrace.light.scene import Scene, beam_current, room_nearby
from glowtrace.light.verdict import SURE, Verdict, judge
from glowtrace.units import format_quantity

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


@dataclass(frozen=True)
class Way:
    """A way to a better margin: its name, what to do in short and in full, what to mind."""

    what: str
    short: str
    advice: str
    note: str
    then: Case


def ways(case: Case) -> Iterator[Way]:
    """Give the ways that there are, from the easiest on."""
    for find in (_backdrop, _covered, _darker, _nearer, _voltage, _current):
        yield from find(case)


def _backdrop(case: Case) -> Iterator[Way]:
    if not case.glow.is_gas or case.scene.gas.backdrop <= BLACK_CLOTH:
        return
    yield Way(
        "Backdrop",
        "a black cloth behind the bulb",
        "Black cloth or card behind the bulb, as the audience sees it, and nothing bright that "
        "the glass mirrors.",
        "Clear of hot parts and leads; put up with the high tension off and discharged.",
        case.within(gas__backdrop=BLACK_CLOTH),
    )


def _covered(case: Case) -> Iterator[Way]:
    if case.scene.room.hood <= HOOD:
        return
    yield Way(
        "Hood",
        "a hood over the tube",
        "A black hood round the tube, open to the audience, so that a tenth of the light gets in.",
        "Of card, clear of hot parts, leads and vents; put on with the high tension off and "
        "discharged.",
        case.within(room__hood=HOOD),
    )


def _darker(case: Case) -> Iterator[Way]:
    room = case.scene.room
    if room.illuminance <= DARKEST:
        return
    lux = solved(lambda e: case.within(room__illuminance=e), room.illuminance, DARKEST)
    lux = _rounded_down(lux, 1)
    if lux >= room.illuminance:
        return
    written = format_quantity(lux, "lx", 1)
    yield Way(
        "Room light",
        f"the room below {written}",
        f"Room below {written} on the screen ({room_nearby(lux)}): lamps off that shine on it, "
        "blinds down; black out what is left.",
        "Enough light to see the steps, the leads and the switches must stay; local rules say how "
        "much.",
        case.within(room__illuminance=lux),
    )


def _nearer(case: Case) -> Iterator[Way]:
    if case.scene.away <= _NEAREST * 1.1:
        return
    away = solved(lambda away: case.within(away=away), case.scene.away, _NEAREST)
    away = max(_rounded_down(away, 2), _NEAREST)
    written = format_quantity(away, "m", 2)
    yield Way(
        "Distance",
        f"nobody farther than {written}",
        f"Nobody farther than {written} from the screen, in turns if need be, or a camera close "
        "by.",
        "No nearer to the bench than local rules allow.",
        case.within(away=away),
    )


def _voltage(case: Case) -> Iterator[Way]:
    up, down = (voltage_reach(case.bench, case.settings, farthest) for farthest in (10.0, 0.1))
    reach = max((up, down), key=lambda factor: case.at_voltage(factor).shortfall)
    if abs(math.log(reach)) < 0.01:
        return
    then = case.at_voltage(solved(case.at_voltage, 1.0, reach))
    wanted = then.settings
    word = "raise" if reach > 1.0 else "lower"
    volts = format_quantity(wanted.accelerating_voltage, "V")
    parts = [f"the accelerating voltage to {volts}"]
    if wanted.plate_voltage:
        parts.append(f"the plate voltage to {format_quantity(wanted.plate_voltage, 'V')}")
    if wanted.coil_current:
        parts.append(f"the coil current to {format_quantity(wanted.coil_current, 'A')}")
    yield Way(
        "Voltage",
        f"{volts} on the gun",
        f"{word.capitalize()} {listed(parts)}: so the picture keeps its shape.",
        f"Within the ratings of the bench and at most {format_quantity(X_RAYS_FROM, 'V', 1)} from "
        "cathode to the most positive electrode: above, soft X-rays count, and local rules decide. "
        + (
            "In gas slower electrons make more light."
            if case.glow.is_gas
            else "Faster electrons bring more energy, and lose less of it in the dead layer."
        ),
        then,
    )


def _current(case: Case) -> Iterator[Way]:
    now = beam_current(case.bench, case.scene)
    supply = case.bench.supplies.accelerating.max_current
    most = min(supply, _MORE_CURRENT * case.bench.gun.beam_current)
    if most <= now * 1.05:
        return
    wanted = solved(lambda current: case.within(beam_current=current), now, most)
    written = format_quantity(wanted, "A", 2)
    yield Way(
        "Beam current",
        f"{written} of beam current",
        f"Beam current {written} instead of {format_quantity(now, 'A', 2)}: by the control "
        "electrode, or with another tube, put in with the high tension off and discharged; the "
        "heater at its rated voltage, never above.",
        f"Suggested up to {format_quantity(most, 'A', 2)}; the tube's own rating decides. No "
        "longer than you show it: a bright line that stands still burns into the phosphor, and "
        "soft X-rays grow with the current.",
        case.within(beam_current=wanted),
    )


def listed(parts: list[str]) -> str:
    """Join parts of a sentence with commas and a last "and"."""
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last


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
