"""Questions on a coil pair: flux density, circle, time of a turn, e/m."""

from __future__ import annotations

from glowtrace.bench.model import CoilPair
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE, VACUUM_PERMEABILITY
from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.report.worksheets import school
from glowtrace.report.worksheets.charge import charge_over_mass_question
from glowtrace.report.worksheets.content import Question
from glowtrace.report.worksheets.numbers import Circle
from glowtrace.report.worksheets.tube import Asked, circle_radius
from glowtrace.report.worksheets.words import PARTS, differs, printed, quantity, result
from glowtrace.units import significant

_ROUNDING = 0.0005  # m: to what a diameter is read


def flux_by_proportion(asked: Asked) -> Question | None:
    """Ask for the flux density from that of one ampere."""
    given = asked.numbers.circle
    if given is None:
        return None
    flux = asked.per_ampere * given.current
    return Question(
        topic="Proportion",
        text=(
            f"The coils’ flux density is proportional to the current: "
            f"{quantity(asked.per_ampere, 'T', 4)} at 1 A. How large is it at "
            f"{quantity(given.current, 'A', 2)}? Which current gives half of that?",
        ),
        room=2,
        steps=(f"B = {quantity(asked.per_ampere, 'T', 4)} × {significant(given.current, 2)}",),
        results=(result("B", flux, "T"), result("I", given.current / 2, "A")),
    )


def flux_of_pair(asked: Asked) -> Question | None:
    """Ask for the flux density of the coil pair from its data."""
    coils, given = asked.bench.coils, asked.numbers.circle
    if given is None or not isinstance(coils, CoilPair):
        return None
    if coils.sense == "opposing" or abs(coils.spacing / coils.mean_radius - 1.0) > 1e-6:
        return None
    flux = 0.8**1.5 * VACUUM_PERMEABILITY * coils.turns * given.current / coils.mean_radius
    return Question(
        topic="Flux density",
        text=(
            f"Each of the two coils has n = {coils.turns} turns of radius "
            f"R = {quantity(coils.mean_radius, 'm', 3)}, and they stand one radius apart. In the "
            "middle between them B = (4/5)^(3/2) · μ₀·n·I/R. How large is it at "
            f"I = {quantity(given.current, 'A', 2)}?",
        ),
        room=2,
        steps=(
            f"(4/5)^(3/2) = √0.8 × 0.8 = {significant(0.8**1.5, 4)}",
            f"B = {significant(0.8**1.5, 4)} × {quantity(VACUUM_PERMEABILITY, 'N/A²', 4)} × "
            f"{coils.turns} × {significant(given.current, 2)} A / "
            f"{significant(coils.mean_radius)} m",
        ),
        results=(result("B", flux, "T"),),
    )


def radius_by_proportion(asked: Asked) -> Question | None:
    """Ask how the radius of the path changes with current and voltage."""
    given = asked.numbers.circle
    if given is None or not isinstance(asked.bench.coils, CoilPair):
        return None
    ratio = asked.numbers.ratio
    radius = printed(school.radius(given.accelerating, asked.per_ampere * given.current))
    return Question(
        topic="Circle",
        text=(
            f"At {quantity(given.accelerating, 'V', 2)} and {quantity(given.current, 'A', 2)} the "
            f"electrons fly on a circle of radius {quantity(radius, 'm')}. The radius is "
            "proportional to the electrons’ speed and inversely proportional to the flux density. "
            f"How large is it with {PARTS[ratio]} of the current? And with {PARTS[ratio**2]} of "
            "the accelerating voltage, at the first current?",
        ),
        room=3,
        steps=(
            f"{PARTS[ratio]} of the current: {PARTS[ratio]} of the flux density, {ratio} times the "
            "radius",
            f"{PARTS[ratio**2]} of the voltage: {PARTS[ratio]} of the speed, {PARTS[ratio]} of the "
            "radius",
        ),
        results=(
            result(f"r with {PARTS[ratio]} of the current", radius * ratio, "m"),
            result(f"r with {PARTS[ratio**2]} of the voltage", radius / ratio, "m"),
        ),
    )


def radius(asked: Asked) -> Question | None:
    """Ask for the radius from voltage and current."""
    given = asked.numbers.circle
    if given is None or not isinstance(asked.bench.coils, CoilPair):
        return None
    flux = printed(asked.per_ampere * given.current)
    by_school = school.radius(given.accelerating, flux)
    return Question(
        topic="Circle",
        text=(
            f"Electrons accelerated by Vₐ = {quantity(given.accelerating, 'V', 2)} fly across a "
            f"uniform field of {quantity(flux, 'T')}. The magnetic force e·v·B keeps them on a "
            "circle. Derive its radius r, and work it out.",
        ),
        room=4,
        steps=(
            "m·v²/r = e·v·B, so r = m·v/(e·B); with v = √(2·(e/m)·Vₐ)",
            f"v = {quantity(school.speed(given.accelerating), 'm/s')}",
            f"r = v / ((e/m)·B) = {quantity(school.speed(given.accelerating), 'm/s')} / "
            f"({quantity(SPECIFIC_CHARGE, 'C/kg', 4)} × {quantity(flux, 'T')})",
        ),
        results=(result("r", by_school, "m"),),
        remark=_circle_here(asked, given, by_school),
    )


def charge_over_mass(asked: Asked) -> Question | None:
    """Ask for e/m from the readings that the real circle gives."""
    given = asked.numbers.circle
    if given is None or not isinstance(asked.bench.coils, CoilPair):
        return None
    if not asked.bench.plane.glows:
        return None
    real = circle_radius(asked.prepared, _settings(asked, given))
    if real is None:
        return None
    diameter = printed(round(2 * real / _ROUNDING) * _ROUNDING)
    flux = asked.per_ampere * given.current
    measured = school.charge_over_mass(given.accelerating, flux, diameter / 2)
    return charge_over_mass_question(
        f"The computed circle of this tube at {quantity(given.accelerating, 'V', 2)} and "
        f"{quantity(given.current, 'A', 2)} is {quantity(diameter, 'm', 3)} across; the coils "
        f"give {quantity(asked.per_ampere, 'T', 4)} at 1 A. What value of e/m follows?",
        (
            "e·V = ½·m·v² and r = m·v/(e·B) give e/m = 2·V/(B·r)²",
            f"B = {quantity(flux, 'T')}, r = {quantity(diameter / 2, 'm')}",
        ),
        measured,
        "A diameter read to 1 mm makes e/m uncertain by "
        f"{significant(100 * 2 * 1e-3 / diameter, 2)} %; the coils’ field "
        "is a little weaker off their middle.",
    )


def time_of_turn(asked: Asked) -> Question | None:
    """Ask for the time of a turn, which is the same for every electron."""
    given = asked.numbers.circle
    if given is None:
        return None
    flux = printed(asked.per_ampere * given.current)
    time = school.time_of_turn(flux)
    way = school.speed(given.accelerating) * time
    return Question(
        topic="Time",
        text=(
            f"Show that an electron takes the time T = 2π·m/(e·B) for one turn across a field B, "
            f"whatever its speed. How long is that at {quantity(flux, 'T')}, and how far does an "
            f"electron of {quantity(given.accelerating, 'V', 2)} fly in that time?",
        ),
        room=4,
        steps=(
            "r = m·v/(e·B); T = 2π·r/v, and v cancels: T = 2π·m/(e·B)",
            f"v = √(2·(e/m)·Vₐ) = {quantity(school.speed(given.accelerating), 'm/s')}, s = v·T",
        ),
        results=(result("T", time, "s"), result("s", way, "m")),
    )


def _settings(asked: Asked, given: Circle) -> Settings:
    return asked.settings(
        given.accelerating, current=given.current, current_reversed=given.is_reversed
    )


def _circle_here(asked: Asked, given: Circle, by_school: float) -> str:
    """Tell the radius in the real tube, and relativity's part."""
    exact = float(
        gyration_radius(
            float(speed_from_voltage(given.accelerating)),
            printed(asked.per_ampere * given.current),
        )
    )
    told = ""
    real = circle_radius(asked.prepared, _settings(asked, given))
    if real is not None:
        change = differs(by_school, real, 0.002)
        told = f"In this tube: {quantity(real, 'm')}" + (
            f" ({change}: the coils’ field is not the same everywhere on the path). "
            if change
            else " (the same). "
        )
    relativity = differs(by_school, exact)
    return told + (f"Relativity alone: {relativity}." if relativity else "")
