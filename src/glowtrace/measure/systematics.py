"""What the textbook leaves out, each effect quantified on this bench by computing with and without.

The effects are switched on one after the other, from the textbook's picture to the bench as it is;
after each the reading is evaluated by the textbook's formula, and the change of the result is the
share of this effect. The order matters little while effects are small.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.observing import STRAIGHT_ON, Knobs, Observation, Viewing, evaluate, observe
from glowtrace.measure.tables.readings import Tie
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import Tube, nominal_tube
from glowtrace.watching import Cancelled, Progress, Watch

_PHASES = 8
_SMALL = 1e-4
_MOST_EFFECTS = 7
"""Effects that are counted at most, for telling how far the work is."""


@dataclass(frozen=True)
class Effect:
    """One thing that the textbook leaves out."""

    name: str
    without: float
    """What the textbook's formula gives before this effect is counted: e/m in C/kg, or the plate
    factor of plates only."""
    with_it: float
    """The same with it; NaN where the beam then ends before it can be read."""
    says: str

    @property
    def shift(self) -> float:
        """Relative change of the result that the effect makes."""
        return self.with_it / self.without - 1.0

    @property
    def matters(self) -> bool:
        """Whether it makes more than 0.01 %, or leaves nothing to be read."""
        return not abs(self.shift) < _SMALL


@dataclass(frozen=True)
class Systematics:
    """All effects at some knobs."""

    method: Method
    knobs: Knobs
    effects: tuple[Effect, ...]
    seen: float
    """What is read on the bench as it is: m, V or A as in `Observation`; NaN if nothing can be."""

    @property
    def total(self) -> float:
        """Relative error of the textbook's result on the bench as it is."""
        return self.without()

    def without(self, *names: str) -> float:
        """Relative error of the textbook's result, some effects left out."""
        return math.prod(1.0 + each.shift for each in self.effects if each.name not in names) - 1.0


def systematics(
    prepared: PreparedBench,
    method: Method,
    knobs: Knobs,
    *,
    plate_tie: Tie = "symmetric",
    viewing: Viewing = STRAIGHT_ON,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Systematics:
    """Quantify what the textbook leaves out when e/m is measured at some knobs.

    Counted are the finite size of the plates, a plate tied to the anode, the real field of the
    coils, Earth's field at the bench's place (whether the bench counts or ignores it), the growth
    of the mass, the ripple of the supplies, and parallax.

    Parameters
    ----------
    prepared
        The bench.
    method
        How e/m is measured; of plates only, where it cancels, the plate factor is looked at.
    knobs
        Where; of a null V_p, of an axial focus I is looked for and need not be given.
    plate_tie
        How the plates stand against the anode.
    viewing
        How the scale is read.
    progress
        Called with the fraction done and a few words before each effect is counted.
    cancelled
        Asked before each effect whether to give up.

    Raises
    ------
    GivenUpError
        If it was cancelled.
    GlowtraceError
        If nothing can be read even with all effects left out.
    """
    bench = prepared.bench
    tube = nominal_tube(bench, "bench")
    tied = replace(tube, plate_tie=plate_tie)
    bx, by, bz = earth_at(bench.place).tolist()
    there = replace(tied, earth_x=bx, earth_y=by, earth_z=bz)
    simple = Tracer(prepared, uses_uniform_coils=True)
    real = Tracer(prepared)

    first = 1.0 if method == "plates only" else SPECIFIC_CHARGE
    has_coils = method != "plates only"
    has_plates = method in ("plates only", "null", "turn-back")
    value = first
    effects: list[Effect] = []
    watch = Watch(progress, cancelled)

    def count(name: str, says: str, result: Callable[[], float]) -> None:
        nonlocal value
        watch.note(len(effects) / _MOST_EFFECTS, f"counting: {name}")
        try:
            new = result()
        except GlowtraceError:
            new = math.nan
        effects.append(Effect(name, value, new, says))
        value = value if math.isnan(new) else new

    def result(tracer: Tracer, of: Tube) -> float:
        return evaluate(method, tube, observe(method, tracer, of, knobs))

    if has_plates:
        says = (
            "the plates' field is weaker at their edges and reaches beyond them, "
            "while the coils act all the way from the aperture"
            if has_coils
            else "the field between finite plates is weaker at their edges and reaches beyond them"
        )
        count("finite plates", says, lambda: result(simple, tube))
        if plate_tie != "symmetric":
            says = (
                "the gap's middle is not at the anode's potential: the beam enters at other speed"
            )
            count("plate tied to the anode", says, lambda: result(simple, tied))
    elif method == "axial focus":
        says = "rays at an angle come to the axis earlier than those along it"
        count("spread of the beam", says, lambda: result(simple, tube))
    if has_coils:
        says = "the coils' field is not that of their centre everywhere"
        count("field of the coils", says, lambda: result(real, tied))
    says = "Earth's field adds to that of the coils, or bends the beam alone"
    count("Earth's field", says, lambda: result(real, there))
    try:
        seen = observe(method, real, there, knobs).value
    except GlowtraceError:
        seen = math.nan
    says = "the mean of a rippling trace is not the trace of the mean voltages and current"
    count("ripple of the supplies", says, lambda: _rippled(prepared, method, real, there, knobs))
    says = "the formula for slow electrons leaves out the growth of their mass"
    count("relativity", says, lambda: value * _classical(method, tube, knobs, seen))
    if viewing != STRAIGHT_ON:
        says = "the scale is read from a distance, and the trace does not lie on it"
        count("parallax", says, lambda: value * _viewed(method, real, there, knobs, viewing))
    watch.note(1.0, "all effects counted")
    return Systematics(method, knobs, tuple(effects), seen)


def _classical(method: Method, tube: Tube, knobs: Knobs, seen: float) -> float:
    """Result of the formula for slow electrons over that of the exact one."""
    if math.isnan(seen):
        return math.nan
    observation = Observation(knobs, seen)
    exact = evaluate(method, tube, observation)
    return evaluate(method, tube, observation, relativistic=False) / exact


def _viewed(method: Method, tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing) -> float:
    """Result with parallax over that without."""
    plain = observe(method, tracer, tube, knobs)
    if method == "axial focus":  # the length is measured, the focus seen on the face itself
        apparent = replace(knobs, length=viewing.read_length(knobs.length))
        seen = Observation(apparent, plain.value)
    else:
        seen = observe(method, tracer, tube, knobs, viewing)
    return evaluate(method, tube, seen) / evaluate(method, tube, plain)


def _rippled(
    prepared: PreparedBench, method: Method, tracer: Tracer, tube: Tube, knobs: Knobs
) -> float:
    """Result from the mean of what is seen while the supplies ripple, each on its own."""
    supplies = prepared.bench.supplies
    still = observe(method, tracer, tube, knobs).value
    shift = 0.0
    for knob, supply in (
        ("accelerating_voltage", supplies.accelerating),
        ("plate_voltage", supplies.plates),
        ("coil_current", supplies.coils),
    ):
        if supply is None or supply.ripple == 0 or getattr(knobs, knob) == 0:
            continue
        swings = 0.5 * supply.ripple * np.sin(2 * np.pi * (np.arange(_PHASES) + 0.5) / _PHASES)
        seen = [
            observe(
                method, tracer, tube, replace(knobs, **{knob: getattr(knobs, knob) * (1 + swing)})
            ).value
            for swing in swings.tolist()
        ]
        shift += float(np.mean(seen)) - still
    return evaluate(method, tube, Observation(knobs, still + shift))
