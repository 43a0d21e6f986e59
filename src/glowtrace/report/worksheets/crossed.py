"""Questions on both forces: which way they push, where they cancel, how a beam turns back."""

from __future__ import annotations

from glowtrace.bench.model import CoilPair, LongCoil, Plates
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.trochoid import trochoid
from glowtrace.report.worksheets import school
from glowtrace.report.worksheets.content import Question
from glowtrace.report.worksheets.numbers import TurnBack
from glowtrace.report.worksheets.tube import Asked, farthest_height, null_current
from glowtrace.report.worksheets.words import differs, quantity, result
from glowtrace.units import significant


def direction_of_plates(asked: Asked) -> Question | None:
    """Ask which way the plates push the beam."""
    given = asked.numbers.deflection
    if given is None:
        return None
    plus, way = ("lower", "down") if given.is_reversed else ("upper", "up")
    field = "up" if given.is_reversed else "down"
    return Question(
        topic="Direction",
        text=(
            f"The {plus} plate is connected to the positive terminal. Which way does the field "
            "between the plates point, and which way is the beam deflected? Give the reason.",
        ),
        room=2,
        steps=(
            f"The field points from plus to minus: {field}. The electron’s charge is negative, so "
            f"the force is against the field: the beam is deflected {way}, to the positive plate.",
        ),
    )


def direction_of_coils(asked: Asked) -> Question | None:
    """Ask which way the coil field pushes the beam, by the rule for a negative charge."""
    given = asked.numbers.circle
    if given is None or not isinstance(asked.bench.coils, CoilPair):
        return None
    points = "away from the audience" if given.is_reversed else "towards the audience"
    way, sign = ("down", "−") if given.is_reversed else ("up", "+")
    steps = [
        f"F = −e·v × B. With v along +x and B along {sign}z, v × B points along "
        f"{'+' if given.is_reversed else '−'}y, and the minus sign of the charge turns it round: "
        f"the force points {way}."
    ]
    if asked.level == "proportion":
        steps = [
            "Rule of the right hand for a positive charge: thumb along the motion, fingers along "
            "the field, the palm pushes. For the electron’s negative charge the force is the other "
            f"way: {way}."
        ]
    return Question(
        topic="Direction",
        text=(
            f"Seen from the audience the electrons fly to the right, and the coils’ field points "
            f"{points}. Which way is the beam bent? Give the reason.",
        ),
        room=2,
        steps=tuple(steps),
    )


def null(asked: Asked) -> Question | None:
    """Ask for the condition and the current at which both forces cancel."""
    plates, given = asked.bench.plates, asked.numbers.deflection
    if plates is None or given is None or not given.has_null:
        return None
    field = school.plate_field(given.plate, plates.gap)
    flux = school.null_flux_density(given.accelerating, field)
    current = flux / asked.per_ampere
    settings = asked.settings(
        given.accelerating, plate=given.plate, plate_reversed=given.is_reversed,
        current_reversed=not given.is_reversed,
    )  # fmt: skip
    real = null_current(asked.prepared, settings, given.x)
    return Question(
        topic="Null",
        text=(
            f"Now the coils’ field is to push the beam back to the axis: Vₐ = "
            f"{quantity(given.accelerating, 'V', 2)}, Vₚ = {quantity(given.plate, 'V', 2)}, "
            f"d = {quantity(plates.gap, 'm', 2)}. Find the condition for both forces to cancel, "
            "and the flux density B that it needs. The coils give "
            f"{quantity(asked.per_ampere, 'T', 4)} at 1 A: which current is that?",
        ),
        room=4,
        steps=(
            "e·E = e·v·B, so B = E/v, whatever charge and mass",
            f"E = Vₚ/d = {quantity(field, 'V/m')}, "
            f"v = {quantity(school.speed(given.accelerating), 'm/s')}",
            f"I = B / {quantity(asked.per_ampere, 'T', 4)} per ampere",
        ),
        results=(result("B", flux, "T"), result("I", current, "A")),
        remark=_null_here(given.x, current, real),
    )


def _null_here(x: float, current: float, real: float | None) -> str:
    if real is None:
        return "In this tube no current brings the line back to the axis exactly."
    change = differs(current, real, 0.002) or "the same"
    return (
        f"In this tube the line is back on the axis at x = {quantity(x, 'm', 2)} with "
        f"{quantity(real, 'A')} ({change}): the plates’ field is weaker than Vₚ/d and ends with "
        "them, while the coils’ field acts before and behind them as well. The forces cancel on "
        "the whole, not at every point."
    )


def why_only_one_speed(asked: Asked) -> Question | None:
    """Ask why faster electrons do not pass straight."""
    if asked.numbers.deflection is None or not asked.numbers.deflection.has_null:
        return None
    return Question(
        topic="Explain",
        text=(
            "Electric and magnetic force cancel, and the beam runs straight. Now the accelerating "
            "voltage is turned up, nothing else. To which side does the beam go, that of the "
            "electric or that of the magnetic force? Explain.",
        ),
        room=3,
        steps=(
            "Faster electrons feel a larger magnetic force (it grows with the speed) and the same "
            "electric force (it does not depend on the speed).",
            "So the magnetic force wins: the beam goes to its side. Only electrons of the one "
            "speed v = E/B pass straight.",
        ),
    )


def turn_back(asked: Asked) -> Question | None:
    """Ask for drift, depth and pitch of a beam that dips and turns back, and about its speed."""
    plates, given = asked.bench.plates, asked.numbers.turn_back
    if plates is None or given is None:
        return None
    field = school.plate_field(given.plate, plates.gap)
    flux = asked.per_ampere * given.current
    entry, drift = school.speed(given.accelerating), field / flux
    depth, pitch = school.depth(entry, drift, flux), school.pitch(drift, flux)
    return Question(
        topic="Turn-back",
        text=(
            f"With Vₐ = {quantity(given.accelerating, 'V', 2)}, "
            f"Vₚ = {quantity(given.plate, 'V', 2)} and {quantity(given.current, 'A', 2)} in the "
            f"coils (B = {quantity(flux, 'T', 4)}) the magnetic force is the larger one: the beam "
            "dips, turns and comes back. Seen by somebody who moves along with u = E/B it is a "
            "circle. Work out u, the depth 2·m·(v − u)/(e·B) of the dip, the distance "
            "2π·m·u/(e·B) from one dip to the next, and the speed 2·u − v at the lowest point. "
            "Do the electrons stop there?",
        ),
        room=5,
        steps=(
            f"v = {quantity(entry, 'm/s')}, E = Vₚ/d = {quantity(field, 'V/m')}",
            f"u = {quantity(field, 'V/m')} / {quantity(flux, 'T', 4)} = "
            f"{significant(drift / entry)}·v",
            f"e·B/m = {quantity(SPECIFIC_CHARGE * flux, '1/s')}",
            "They do not stop: only the velocity up or down is zero there. Along the beam they "
            "still have 2·u − v, and so a magnetic force acts on them as well.",
        ),
        results=(
            result("u", drift, "m/s"),
            result("depth", depth, "m"),
            result("distance", pitch, "m"),
            result("speed at the lowest point", 2 * drift - entry, "m/s", 2),
        ),
        remark=_turn_back_here(asked, plates, given, depth),
    )


def _turn_back_here(asked: Asked, plates: Plates, given: TurnBack, by_school: float) -> str:
    exact = trochoid(
        float(speed_from_voltage(given.accelerating)),
        -given.plate / plates.gap, -asked.per_ampere * given.current,
    )  # fmt: skip
    settings = asked.settings(
        given.accelerating, plate=given.plate, current=given.current, current_reversed=True
    )  # fmt: skip
    real = farthest_height(asked.prepared, settings)
    relativity = differs(by_school, abs(exact.depth))
    told = f"Depth with relativity: {quantity(abs(exact.depth), 'm')}. " if relativity else ""
    if real is None or abs(real) > plates.gap / 2:
        return told + (
            "In this tube the line hits a plate before it turns: the plates’ field is weaker at "
            "their ends."
        )
    return told + (
        f"In this tube the first dip is {quantity(abs(real), 'm')} deep: the beam enters where the "
        "plates’ field is still weak and the coils’ field acts already."
    )


def no_work(asked: Asked) -> Question | None:
    """Ask why the magnetic force changes no speed."""
    if asked.numbers.circle is None:
        return None
    along = isinstance(asked.bench.coils, LongCoil)
    first = (
        "On their helix the electrons are pushed by the magnetic force all the time."
        if along
        else "On its arc the beam is pushed by the magnetic force all the time."
    )
    return Question(
        topic="Explain",
        text=(f"{first} Why do the electrons not become faster by that? Explain.",),
        room=2,
        steps=(
            "The magnetic force is at right angles to the velocity at every instant. It does no "
            "work, so the kinetic energy and the speed stay the same; only the direction changes.",
        ),
    )
