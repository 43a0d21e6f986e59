"""What is seen and what is said at a step of a run sheet, in words with computed numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPEED_OF_LIGHT
from glowtrace.demos.goals import Check, FullCircle, Goal, HelixFocus, StraightBeam, TurnBack
from glowtrace.demos.goals.deflection import Deflection
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.plan.trial import height_words, place_words
from glowtrace.units import format_quantity

_NOTICEABLE = 0.5e-3
"""m from the axis that the eye tells from none."""
_TOLD = 0.05
"""Share of the electrons from which an end off the screen is told."""
_MUCH = 0.05
"""Share of the electrons on a plate from which one should not linger."""
_PLATES = ("upper plate", "lower plate")


def see_words(prepared: PreparedBench, picture: Picture, x: float) -> str:
    """Say where the trace is and where electrons go astray.

    Parameters
    ----------
    prepared, picture
        The bench, and a picture of it.
    x
        Where along the beam one looks, m; of no account on an end face.
    """
    return " ".join([_place(prepared, picture, x), *_ends(picture)])


def say_words(bench: Bench, before: Settings, now: Settings) -> str:
    """Give one sentence of physics on what a step changes.

    The largest change counts: the first beam, the coils, the plates, or more speed.
    """
    if now.accelerating_voltage == 0.0:
        return (
            "The hot cathode gives off electrons; nothing draws them away from it yet, so there "
            "is no beam."
        )
    if now.accelerating_voltage != before.accelerating_voltage:
        speed = float(speed_from_voltage(now.accelerating_voltage))
        return (
            f"Every electron gains the same energy on its way to the anode, "
            f"{format_quantity(now.accelerating_voltage, 'V').replace('V', 'eV')}, which makes it "
            f"{speed / 1e6:.3g} million metres a second fast, {speed / SPEED_OF_LIGHT:.2g} of the "
            "speed of light."
        )
    if now.coil_current and now.plate_voltage:
        return (
            "The electric force does not depend on the speed, the magnetic force grows with it: "
            "at any place they cancel for one speed only, v = E/B with the fields that act there."
        )
    if now.coil_current:
        return _magnetic(bench)
    if now.plate_voltage:
        return (
            "The electric force points towards the positive plate, against the field, because "
            "the electron's charge is negative; it does not depend on the speed."
        )
    return "Without field across the beam no force acts across it, and the beam goes straight on."


def _magnetic(bench: Bench) -> str:
    if bench.coils is not None and bench.coils.kind == "long coil":
        return (
            "Only the velocity across the field feels a force: an electron that leaves the axis "
            "at an angle flies on a helix, and all that start together meet again after each turn."
        )
    return (
        "The magnetic force is always at right angles to the velocity: it bends the beam and "
        "leaves its speed as it is."
    )


def goal_words(bench: Bench, goal: Goal, check: Check) -> str:
    """Say what must be seen where a goal is reached, at the place that was planned.

    Empty where the settings show nothing of the kind, such as no turning point.

    Parameters
    ----------
    bench, goal
        The bench and what is shown on it.
    check
        The goal's check of the final settings.
    """
    figures = {figure.name: figure.value for figure in check.figures}
    if any(map(math.isnan, figures.values())):
        return ""
    if isinstance(goal, Deflection) and not bench.plane.is_spot:
        height = height_words(bench, figures["height"])
        return f"At {place_words(bench, goal.x)} the trace is {height}."
    if isinstance(goal, StraightBeam):
        return (
            f"The trace runs straight along the axis as far as {place_words(bench, goal.length)}. "
            f"Plates alone would bend it by {_mm(figures['deflection by the plates alone'])} there."
        )
    if isinstance(goal, TurnBack):
        at = place_words(bench, figures["x of the turning point"])
        return (
            f"The trace leaves the axis by {_mm(figures['depth'])}, turns at {at} and comes back "
            f"by {_mm(figures['comes back by'])}."
        )
    if isinstance(goal, FullCircle):
        return f"A closed circle, {_mm(figures['diameter'])} across from the gun to its far side."
    if isinstance(goal, HelixFocus):
        turns = f"{goal.turns:.0f} turn{'' if goal.turns == 1 else 's'}"
        return f"The smallest spot, {_mm(figures['spot'])} across, after {turns} of the helix."
    return ""


def _place(prepared: PreparedBench, picture: Picture, x: float) -> str:
    bench, trace = prepared.bench, picture.mean_trace
    if len(trace.u) == 0:
        return "No light on the screen."
    if bench.plane.is_spot:
        size = _mm(2.0 * float(trace.width_v[0]))
        sideways = _off_axis(float(trace.u[0]), "towards the audience", "the other way")
        height = _off_axis(float(trace.v[0]), "above the axis", "below the axis")
        where = " and ".join(words for words in (height, sideways) if words) or "on the axis"
        return f"A spot {where}, {size} high."
    found = prepared.line_height(picture.settings, x, model=picture.model)
    if math.isnan(found) or trace.at(picture.plane.u_of(x)) is None:
        return _reach(bench, picture)
    height = "at the height of the axis"
    if abs(found) >= _NOTICEABLE:
        height = height_words(bench, found)
    return f"At {place_words(bench, x)} the trace is {height}."


def _reach(bench: Bench, picture: Picture) -> str:
    """Say how far a trace comes that does not come as far as one looks."""
    u, v = picture.mean_trace.u, picture.mean_trace.v
    farthest = f"The trace comes as far as x = {_mm(picture.plane.x_of(float(u.max())))}"
    height = float(v[abs(v).argmax()])
    if abs(height) < _NOTICEABLE:
        return f"{farthest}, along the axis."
    return f"{farthest} and {height_words(bench, height)} at most."


def _off_axis(distance: float, positive: str, negative: str) -> str:
    """Say on which side of the axis something is; nothing where it is on it."""
    if abs(distance) < _NOTICEABLE:
        return ""
    return f"{_mm(abs(distance))} {positive if distance > 0 else negative}"


def _ends(picture: Picture) -> Iterator[str]:
    total = sum(picture.ends.values())
    for end, count in sorted(picture.ends.items(), key=lambda each: -each[1]):
        share = count / total
        is_usual = end == "screen" or (picture.plane.glows and end not in _PLATES)
        if is_usual or share < _TOLD:
            continue
        where = {"anode": "come back to the anode", "still flying": "fly on and on"}
        yield f"{100 * share:.0f} % of the beam {where.get(end, 'goes to the ' + end)}."
        if end in _PLATES and share >= _MUCH:
            yield "Current flows to the plate and warms it: do not linger."


def _mm(length: float) -> str:
    return format_quantity(length, "mm", 2)
