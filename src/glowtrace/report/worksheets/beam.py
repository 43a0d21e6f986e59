"""Questions on the beam itself: units, energy, speed."""

from __future__ import annotations

from glowtrace.constants import ELEMENTARY_CHARGE, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.report.worksheets import school
from glowtrace.report.worksheets.content import Question, Result
from glowtrace.report.worksheets.tube import Asked
from glowtrace.report.worksheets.words import PARTS, differs, printed, quantity, result
from glowtrace.units import scientific


def units(asked: Asked) -> Question:
    """Ask to write quantities of the bench in base units."""
    bench, numbers = asked.bench, asked.numbers
    kilovolts = f"{numbers.accelerating / 1e3:g} kV"
    given = [("accelerating voltage", numbers.accelerating, "V", kilovolts)]
    if numbers.circle is not None:
        current = numbers.circle.current
        given.append(("coil current", current, "A", f"{1e3 * current:g} mA"))
    is_gap = bench.plates is not None
    length = bench.plates.gap if bench.plates is not None else bench.screen.grid_pitch
    name = "gap between the plates" if is_gap else "distance of the screen’s grid lines"
    given.append((name, length, "m", f"{1e3 * length:g} mm"))
    listed = ", ".join(f"{name} {text}" for name, _, _, text in given)
    return Question(
        topic="Units",
        text=(f"Write in base units, as a × 10ⁿ with 1 ≤ a < 10: {listed}.",),
        room=2,
        steps=("kilo (k) means 10³, milli (m) means 10⁻³.",),
        results=tuple(
            Result(name, f"{name}: {scientific(value, unit)}", value, unit)
            for name, value, unit, _ in given
        ),
    )


def energy(asked: Asked) -> Question:
    """Ask for the energy that an electron gets."""
    voltage = asked.numbers.accelerating
    return Question(
        topic="Energy",
        text=(
            f"A voltage of {quantity(voltage, 'V', 2)} accelerates the electrons. "
            "How much energy does each of them get, in electronvolts and in joules?",
        ),
        room=2,
        steps=(
            f"One electron through one volt gets 1 eV, so it is {voltage:.0f} eV.",
            f"W = e·Vₐ = {quantity(ELEMENTARY_CHARGE, 'C', 4)} × {voltage:.0f} V",
        ),
        results=(
            Result("W", f"W = {voltage:.0f} eV", ELEMENTARY_CHARGE * voltage, "J"),
            result("W", ELEMENTARY_CHARGE * voltage, "J"),
        ),
    )


def speed_by_proportion(asked: Asked) -> Question:
    """Ask for a speed from another one: a quarter of the energy, half the speed."""
    voltage, ratio = asked.numbers.accelerating, asked.numbers.ratio
    fast = printed(school.speed(voltage))
    return Question(
        topic="Speed",
        text=(
            f"Electrons accelerated by {quantity(voltage, 'V', 2)} fly at {quantity(fast, 'm/s')}. "
            "The energy is proportional to the square of the speed. How fast are they with "
            f"{PARTS[ratio**2]} of that voltage?",
        ),
        room=2,
        steps=(
            f"{PARTS[ratio**2]} of the voltage: {PARTS[ratio**2]} of the energy",
            f"{ratio} × {ratio} = {ratio**2}, so {PARTS[ratio]} of the speed",
        ),
        results=(result("v", fast / ratio, "m/s"),),
        remark=_relativity(voltage),
    )


def speed(asked: Asked) -> Question:
    """Ask for the speed from the voltage."""
    voltage = asked.numbers.accelerating
    return Question(
        topic="Speed",
        text=(
            f"A voltage Vₐ = {quantity(voltage, 'V', 2)} accelerates the electrons from rest. "
            "Write down what becomes of the electrical work e·Vₐ, solve for the speed v, and "
            "work it out. What share of the speed of light is that?",
        ),
        room=3,
        steps=(
            "e·Vₐ = ½·m·v², so v = √(2·e·Vₐ / m) = √(2·(e/m)·Vₐ)",
            f"v = √(2 × {quantity(SPECIFIC_CHARGE, 'C/kg', 4)} × {voltage:.0f} V)",
        ),
        results=(
            result("v", school.speed(voltage), "m/s"),
            Result(
                "v/c", f"v/c = {100 * school.speed(voltage) / SPEED_OF_LIGHT:.3g} %",
                school.speed(voltage) / SPEED_OF_LIGHT, "1",
            ),
        ),
        remark=_relativity(voltage),
    )  # fmt: skip


def _relativity(voltage: float) -> str:
    """Tell how far off the textbook's speed is, where it can be seen in three figures."""
    exact = float(speed_from_voltage(voltage))
    change = differs(school.speed(voltage), exact)
    if not change:
        return ""
    return (
        f"With relativity (the mass that counts grows) {quantity(exact, 'm/s')} at "
        f"{quantity(voltage, 'V', 2)}: {change}."
    )
