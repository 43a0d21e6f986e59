"""Questions on the plates: field, force, deflection."""

from __future__ import annotations

from dataclasses import replace

from glowtrace.bench.model import Plates
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELECTRON_MASS, ELEMENTARY_CHARGE
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.parabola import height_beyond_plates
from glowtrace.report.worksheets import school
from glowtrace.report.worksheets.content import Question
from glowtrace.report.worksheets.numbers import Deflection
from glowtrace.report.worksheets.tube import Asked, height_at
from glowtrace.report.worksheets.words import PARTS, differs, printed, quantity, result
from glowtrace.units import significant

_FREE_FALL = 9.81  # m/s²


def field_and_force(asked: Asked) -> Question | None:
    """Ask for the field between the plates, and the force in it beside the electron's weight."""
    found = _set(asked)
    if found is None:
        return None
    plates, given = found
    field = school.plate_field(given.plate, plates.gap)
    force, weight = school.force(field), ELECTRON_MASS * _FREE_FALL
    return Question(
        topic="Field and force",
        text=(
            f"The plates are d = {quantity(plates.gap, 'm', 2)} apart, with "
            f"Vₚ = {quantity(given.plate, 'V', 2)} between them. How strong is the field between "
            "them (E = Vₚ/d), and with what force does it pull an electron (F = e·E)? How many "
            "times its weight (9.81 m/s² × its mass) is that?",
        ),
        room=3,
        steps=(
            f"E = {given.plate:.0f} V / {significant(plates.gap)} m",
            f"F = {quantity(ELEMENTARY_CHARGE, 'C', 4)} × {quantity(field, 'V/m')}",
            f"weight = {quantity(ELECTRON_MASS, 'kg', 4)} × 9.81 m/s² = {quantity(weight, 'N')}",
        ),
        results=(
            result("E", field, "V/m"),
            result("F", force, "N"),
            result("F/weight", force / weight, "1", 2),
        ),
        remark="Gravity plays no part: that is why the beam does not sag.",
    )


def deflection_by_proportion(asked: Asked) -> Question | None:
    """Ask for a deflection from another one: it is proportional to the plate voltage."""
    found = _set(asked)
    if found is None:
        return None
    plates, given = found
    ratio = asked.numbers.ratio
    high = printed(_school_height(plates, given, given.plate))
    part = replace(given, plate=given.plate / ratio)
    return Question(
        topic="Proportion",
        text=(
            f"By the textbook the line is {quantity(high, 'm')} off the axis at "
            f"x = {quantity(given.x, 'm', 2)}, with {quantity(given.plate, 'V', 2)} on the plates. "
            "This deflection is proportional to the plate voltage. Where is the line with "
            f"{PARTS[ratio]} of that voltage? And, with the first voltage, after the accelerating "
            "voltage has been doubled? (The deflection is inversely proportional to it.)",
        ),
        room=3,
        steps=(
            f"{PARTS[ratio]} of the plate voltage: {PARTS[ratio]} of {quantity(high, 'm')}",
            f"twice the accelerating voltage: half of {quantity(high, 'm')}",
        ),
        results=(
            result(f"y with {PARTS[ratio]}", high / ratio, "m"),
            result("y at 2·Vₐ", high / 2, "m"),
        ),
        remark=f"With {PARTS[ratio]} of the plate voltage: "
        + _in_this_tube(asked, part, high / ratio),
    )


def deflection(asked: Asked) -> Question | None:
    """Ask for the height where the plates end, and on the screen beyond."""
    found = _set(asked)
    if found is None:
        return None
    plates, given = found
    flown = min(given.x - plates.start, plates.length)
    field = school.plate_field(given.plate, plates.gap)
    speed, acceleration = school.speed(given.accelerating), school.acceleration(field)
    time = flown / speed
    there = _school_height(plates, given, given.plate)
    beyond = given.x - plates.start - plates.length
    at_end = school.height(flown, plates.length, plates.gap, given.plate, given.accelerating)
    slope = acceleration * time / speed
    steps = [
        "across the plates: E = Vₚ/d, a = e·E/m; along them: t = L/v; y = ½·a·t²",
        f"v = √(2·(e/m)·Vₐ) = {quantity(speed, 'm/s')}, E = {quantity(field, 'V/m')}",
        f"a = {quantity(acceleration, 'm/s²')}, t = {quantity(time, 's')}",
        f"y at the end of the plates = {quantity(at_end, 'm')} (= Vₚ·L²/(4·d·Vₐ): e and m cancel)",
    ]
    if beyond > 0.0:
        steps.append(
            f"then straight on: slope a·t/v = {significant(slope)}, "
            f"y = {quantity(at_end, 'm')} + {significant(slope)} × {quantity(beyond, 'm', 2)}"
        )
    return Question(
        topic="Deflection",
        text=(
            f"Electrons accelerated by Vₐ = {quantity(given.accelerating, 'V', 2)} enter between "
            f"the plates (L = {quantity(plates.length, 'm', 2)}, d = {quantity(plates.gap, 'm', 2)}"
            f", Vₚ = {quantity(given.plate, 'V', 2)}) in the middle, along the axis. How far off "
            f"the axis are they at x = {quantity(given.x, 'm', 2)} from the aperture? The plates "
            f"begin at {quantity(plates.start, 'm', 2)}; take the field as uniform between them "
            "and zero outside.",
        ),
        room=5,
        steps=tuple(steps),
        results=(
            result("t", time, "s"),
            result("a", acceleration, "m/s²"),
            result("y", there, "m"),
        ),
        remark=_capital(_in_this_tube(asked, given, there)),
    )


def settings_of(asked: Asked, given: Deflection) -> Settings:
    """Give the settings of a question on the plates."""
    return asked.settings(given.accelerating, plate=given.plate, plate_reversed=given.is_reversed)


def _set(asked: Asked) -> tuple[Plates, Deflection] | None:
    plates, given = asked.bench.plates, asked.numbers.deflection
    return None if plates is None or given is None else (plates, given)


def _school_height(plates: Plates, given: Deflection, plate: float) -> float:
    return school.height(
        given.x - plates.start, plates.length, plates.gap, plate, given.accelerating
    )


def _in_this_tube(asked: Asked, given: Deflection, by_school: float) -> str:
    """Tell the exact formula's height and that of the real tube."""
    plates = asked.bench.plates
    real = height_at(asked.prepared, settings_of(asked, given), given.x)
    if plates is None or real is None:
        return "in this tube the line does not come as far: it ends before."
    exact = height_beyond_plates(
        given.x - plates.start, plates.length, float(speed_from_voltage(given.accelerating)),
        -given.plate / plates.gap,
    )  # fmt: skip
    change = differs(by_school, abs(real), 0.002) or "the same"
    way = "down" if given.is_reversed else "up"
    relativity = differs(by_school, float(exact))
    told = f"in this tube, with its real plates: {quantity(abs(real), 'm')} {way} ({change})"
    reason = (
        ", because the field of plates of this size is weaker towards their ends and reaches "
        "beyond them"
    )
    told += f"{reason}. " if change != "the same" else ". "
    return told + (f"Relativity alone: {relativity}." if relativity else "")


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
