"""What to change so that a class sees the trace, each found by solving the model for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq

from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import eye_margins
from glowtrace.light.glow import Glow, scaled
from glowtrace.light.scene import Scene, beam_current
from glowtrace.light.verdict import SURE, Verdict, judge
from glowtrace.units import format_quantity

X_RAYS_FROM: Final = 5e3
"""V from cathode to the most positive electrode above which nothing is suggested: the lower of the
published levels for soft X-rays (5 keV, IAEA GSR Part 3, Schedule I, from memory)."""
HOOD: Final = 0.1
"""Share of the room's light under a black hood that is open to the audience (a guess)."""
BLACK_CLOTH: Final = 0.04
"""Reflectance of black velvet or card, with its gloss (from memory)."""
_MORE_CURRENT: Final = 2.0
"""A bench tells a typical beam current, no rating; suggestions stay within twice that."""
_DARKEST: Final = 0.1
"""lx: what is left behind a good blackout, as of a full moon."""
_NEAREST: Final = 1.5
"""m; local rules may want more."""
_SLACK: Final = 0.003
"""Of the chance, so that what is suggested is sure and not at the edge of it."""
_WORTH: Final = 1.2
"""Factor of the margin from which a change is worth telling."""


@dataclass(frozen=True)
class Change:
    """One thing to change.

    Attributes
    ----------
    what
        What is changed, in a word or two.
    advice
        What to do, with the value.
    note
        What limits it, or what to mind.
    after
        The verdict then.
    gain
        Factor by which the margin grows.
    scene, settings
        With the change made.
    """

    what: str
    advice: str
    note: str
    after: Verdict
    gain: float
    scene: Scene
    settings: Settings


@dataclass(frozen=True)
class _Case:
    """A bench in a scene, whose margin can be asked for."""

    bench: Bench
    settings: Settings
    scene: Scene
    glow: Glow

    def judged(self) -> Verdict:
        return judge(eye_margins(self.bench, self.settings, self.scene, self.glow))

    @property
    def shortfall(self) -> float:
        """Logarithm of the margin that is reached with the chance of `SURE`; 0 is enough."""
        margins = eye_margins(self.bench, self.settings, self.scene, self.glow)
        return math.log(max(float(np.quantile(margins, 1.0 - SURE - _SLACK)), 1e-12))

    def within(self, **changes: object) -> _Case:
        """Give the case with fields of the room, the gas or the scene changed."""
        scene = self.scene
        for name, value in changes.items():
            part, _, field = name.partition("__")
            if field:
                value = getattr(scene, part).model_copy(update={field: value})
            scene = scene.model_copy(update={part: value})
        return _Case(self.bench, self.settings, scene, self.glow)

    def at_voltage(self, factor: float) -> _Case:
        """Give the case with all voltages times a factor, which keeps the picture."""
        return _Case(
            self.bench,
            scale_settings(self.settings, factor),
            self.scene,
            scaled(self.glow, factor),
        )


def scale_settings(settings: Settings, factor: float) -> Settings:
    """Give settings with all voltages times a factor and the coil current times its root.

    Slow electrons then fly the same paths: the picture stays.
    """
    return settings.model_copy(update={
        "accelerating_voltage": settings.accelerating_voltage * factor,
        "plate_voltage": settings.plate_voltage * factor,
        "coil_current": settings.coil_current * math.sqrt(factor),
    })  # fmt: skip


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
    case = _Case(bench, settings, scene, glow)
    before = case.judged()
    if glow.is_dark or before.word == "surely":
        return ()
    single = [
        change
        for change in (
            _change(case, way.what, way.advice, way.note, way.then) for way in _ways(case)
        )
        if change.gain >= _WORTH
    ]
    single.sort(key=lambda change: -change.after.chance)
    if single and single[0].after.word != "surely":
        together = _together(case, single)
        return (together, *single) if together is not None else tuple(single)
    return tuple(single)


def brightest_room(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> float | None:
    """Give the illuminance in lx up to which the trace is surely seen; None where in no room."""
    case = _Case(bench, settings, scene, glow)
    if glow.is_dark or case.within(room__illuminance=_DARKEST).shortfall < 0.0:
        return None
    return _solved(lambda lux: case.within(room__illuminance=lux), 1e5, _DARKEST)


@dataclass(frozen=True)
class _Way:
    """A way to a better margin: its name, what to do in short and in full, what to mind."""

    what: str
    short: str
    advice: str
    note: str
    then: _Case


def _ways(case: _Case) -> Iterator[_Way]:
    """Give the ways that there are, from the easiest on."""
    for find in (_backdrop, _covered, _darker, _nearer, _voltage, _current):
        yield from find(case)


def _change(case: _Case, what: str, advice: str, note: str, then: _Case) -> Change:
    before, after = case.judged(), then.judged()
    gain = after.margin / before.margin if before.margin > 0.0 else math.inf
    if after.margin == 0.0:
        gain = 1.0
    return Change(what, advice, note, after, gain, then.scene, then.settings)


def _backdrop(case: _Case) -> Iterator[_Way]:
    if not case.glow.is_gas or case.scene.gas.backdrop <= BLACK_CLOTH:
        return
    yield _Way(
        "Backdrop",
        "a black cloth behind the bulb",
        "Black cloth or card behind the bulb, as the audience sees it, and nothing bright that "
        "the glass mirrors.",
        "Clear of hot parts and leads; put up with the high tension off and discharged.",
        case.within(gas__backdrop=BLACK_CLOTH),
    )


def _covered(case: _Case) -> Iterator[_Way]:
    if case.scene.room.hood <= HOOD:
        return
    yield _Way(
        "Hood",
        "a hood over the tube",
        "A black hood round the tube, open to the audience, so that a tenth of the light gets in.",
        "Of card, clear of hot parts, leads and vents; put on with the high tension off and "
        "discharged.",
        case.within(room__hood=HOOD),
    )


def _darker(case: _Case) -> Iterator[_Way]:
    room = case.scene.room
    if room.illuminance <= _DARKEST:
        return
    lux = _solved(lambda e: case.within(room__illuminance=e), room.illuminance, _DARKEST)
    lux = _rounded_down(lux, 1)
    if lux >= room.illuminance:
        return
    written = format_quantity(lux, "lx", 1)
    yield _Way(
        "Room light",
        f"the room below {written}",
        f"Room below {written} on the screen: lamps off that shine on it, blinds down; black out "
        "what is left.",
        "Enough light to see the steps, the leads and the switches must stay; local rules say how "
        "much.",
        case.within(room__illuminance=lux),
    )


def _nearer(case: _Case) -> Iterator[_Way]:
    if case.scene.away <= _NEAREST * 1.1:
        return
    away = _solved(lambda away: case.within(away=away), case.scene.away, _NEAREST)
    away = max(_rounded_down(away, 2), _NEAREST)
    written = format_quantity(away, "m", 2)
    yield _Way(
        "Distance",
        f"nobody farther than {written}",
        f"Nobody farther than {written} from the screen, in turns if need be, or a camera close "
        "by.",
        "No nearer to the bench than local rules allow.",
        case.within(away=away),
    )


def _voltage(case: _Case) -> Iterator[_Way]:
    up, down = _voltage_reach(case, 10.0), _voltage_reach(case, 0.1)
    reach = max((up, down), key=lambda factor: case.at_voltage(factor).shortfall)
    if abs(math.log(reach)) < 0.01:
        return
    then = case.at_voltage(_solved(case.at_voltage, 1.0, reach))
    wanted = then.settings
    word = "raise" if reach > 1.0 else "lower"
    volts = format_quantity(wanted.accelerating_voltage, "V")
    parts = [f"the accelerating voltage to {volts}"]
    if wanted.plate_voltage:
        parts.append(f"the plate voltage to {format_quantity(wanted.plate_voltage, 'V')}")
    if wanted.coil_current:
        parts.append(f"the coil current to {format_quantity(wanted.coil_current, 'A')}")
    yield _Way(
        "Voltage",
        f"{volts} on the gun",
        f"{word.capitalize()} {' and '.join(parts)}: so the picture keeps its shape.",
        f"Within the ratings of the bench and at most {format_quantity(X_RAYS_FROM, 'V', 1)} from "
        "cathode to the most positive electrode: above, soft X-rays count, and local rules decide. "
        + (
            "In gas slower electrons make more light."
            if case.glow.is_gas
            else "Faster electrons bring more energy, and lose less of it in the dead layer."
        ),
        then,
    )


def _voltage_reach(case: _Case, farthest: float) -> float:
    """Give the factor on all voltages, towards the farthest, at which the first limit is met."""

    def is_allowed(factor: float) -> bool:
        wanted = scale_settings(case.settings, factor)
        return not check_settings(case.bench, wanted) and (
            factor <= 1.0 or greatest_voltage(case.bench, wanted) <= X_RAYS_FROM
        )

    if not is_allowed(1.0):
        return 1.0
    near, far = 0.0, math.log(farthest)
    for _ in range(24):
        middle = (near + far) / 2.0
        near, far = (middle, far) if is_allowed(math.exp(middle)) else (near, middle)
    return math.exp(near)


def greatest_voltage(bench: Bench, settings: Settings) -> float:
    """Voltage in V from the cathode to the most positive electrode, at the top of the ripple."""
    peak = settings.accelerating_voltage * (1.0 + bench.supplies.accelerating.ripple / 2.0)
    if bench.plates is None:
        return peak
    ripple = bench.supplies.plates.ripple if bench.supplies.plates else 0.0
    return peak + max(0.0, *electrode_voltages(settings)) * (1.0 + ripple / 2.0)


def _current(case: _Case) -> Iterator[_Way]:
    now = beam_current(case.bench, case.scene)
    supply = case.bench.supplies.accelerating.max_current
    most = min(supply, _MORE_CURRENT * case.bench.gun.beam_current)
    if most <= now * 1.05:
        return
    wanted = _solved(lambda current: case.within(beam_current=current), now, most)
    written = format_quantity(wanted, "A", 2)
    yield _Way(
        "Beam current",
        f"{written} of beam current",
        f"Beam current {written} instead of {format_quantity(now, 'A', 2)}: by the control "
        "electrode, or with another tube; the heater at its rated voltage, never above.",
        f"Suggested up to {format_quantity(most, 'A', 2)}; the tube's own rating decides. No "
        "longer than you show it: a bright line that stands still burns into the phosphor, and "
        "soft X-rays grow with the current.",
        case.within(beam_current=wanted),
    )


def _together(case: _Case, single: list[Change]) -> Change | None:
    """Join ways, the easiest first, until they suffice; None where there is but one."""
    useful = [change.what for change in single]
    then, used = case, []
    for what in [way.what for way in _ways(case) if way.what in useful]:
        way = next((way for way in _ways(then) if way.what == what), None)
        if way is None:
            continue
        then = way.then
        used.append(way.short)
        if then.judged().word == "surely":
            break
    if len(used) < 2:
        return None
    words = f"{', '.join(used[:-1])} and {used[-1]}"
    return _change(
        case,
        "Together",
        f"{words[:1].upper()}{words[1:]}.",
        "No single change suffices; what to mind stands with each of them below."
        if then.judged().word == "surely"
        else "Even all of it may not suffice: bring a camera close, or take another tube.",
        then,
    )


def _rounded_down(value: float, digits: int) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return round(math.floor(value / step * (1.0 + 1e-9)) * step, 12)


def _solved(at: Callable[[float], _Case], now: float, limit: float) -> float:
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
