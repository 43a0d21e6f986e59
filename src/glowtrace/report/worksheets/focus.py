"""Questions on a long coil: the focus, and e/m from it."""

from __future__ import annotations

from glowtrace.bench.model import LongCoil
from glowtrace.report.worksheets import school
from glowtrace.report.worksheets.charge import charge_over_mass_question
from glowtrace.report.worksheets.content import Question
from glowtrace.report.worksheets.tube import Asked, focus_current
from glowtrace.report.worksheets.words import differs, printed, quantity, result


def focus(asked: Asked) -> Question | None:
    """Ask for the current of a long coil that focuses a spreading beam on the end face."""
    coils, plane, given = asked.bench.coils, asked.bench.plane, asked.numbers.circle
    if given is None or not isinstance(coils, LongCoil) or not plane.is_spot:
        return None
    flux = school.focus_flux_density(given.accelerating, plane.x_to)
    current = flux / asked.per_ampere
    here = focus_current(asked.prepared, asked.settings(given.accelerating), current)
    return Question(
        topic="Focus",
        text=(
            "Electrons leave the aperture at small angles to the coil’s field and wind round it; "
            "each takes the time T = 2π·m/(e·B) for a turn, whatever its angle. At which flux "
            f"density do electrons of Vₐ = {quantity(given.accelerating, 'V', 2)} meet again just "
            f"on the end face, {quantity(plane.x_to, 'm', 3)} away, after one turn? The coil gives "
            f"{quantity(asked.per_ampere, 'T', 4)} at 1 A: which current is that?",
        ),
        room=5,
        steps=(
            "along the field they move on with v = √(2·(e/m)·Vₐ): L = v·T",
            f"B = 2π·v/((e/m)·L) with v = {quantity(school.speed(given.accelerating), 'm/s')}",
            f"I = B / {quantity(asked.per_ampere, 'T', 4)} per ampere",
        ),
        results=(result("B", flux, "T"), result("I", current, "A")),
        remark=_focus_here(current, here),
    )


def charge_over_mass_by_focus(asked: Asked) -> Question | None:
    """Ask for e/m from the current at which the real coil focuses the beam."""
    coils, plane, given = asked.bench.coils, asked.bench.plane, asked.numbers.circle
    if given is None or not isinstance(coils, LongCoil) or not plane.is_spot:
        return None
    flux = school.focus_flux_density(given.accelerating, plane.x_to)
    settings = asked.settings(given.accelerating)
    here = focus_current(asked.prepared, settings, flux / asked.per_ampere)
    if here is None:
        return None
    read = printed(here)
    measured = school.charge_over_mass_by_focus(
        given.accelerating, asked.per_ampere * read, plane.x_to
    )
    return charge_over_mass_question(
        f"On this tube the beam is focused at {quantity(read, 'A')}, with "
        f"{quantity(given.accelerating, 'V', 2)}. What value of e/m follows from one turn over "
        f"{quantity(plane.x_to, 'm', 3)}, with {quantity(asked.per_ampere, 'T', 4)} at 1 A?",
        (
            "B = 2π·v/((e/m)·L) and v² = 2·(e/m)·Vₐ give e/m = 8π²·Vₐ/(B·L)²",
            f"B = {quantity(asked.per_ampere * read, 'T', 4)}",
        ),
        measured,
        "The coil’s field is not as strong all along the beam as the formula says that it is in "
        "the middle, so another current focuses. It was computed for this tube.",
    )


def focus_by_proportion(asked: Asked) -> Question | None:
    """Ask how the focusing current goes with turns and voltage."""
    coils, plane, given = asked.bench.coils, asked.bench.plane, asked.numbers.circle
    if given is None or not isinstance(coils, LongCoil) or not plane.is_spot:
        return None
    current = printed(school.focus_flux_density(given.accelerating, plane.x_to) / asked.per_ampere)
    return Question(
        topic="Focus",
        text=(
            f"At {quantity(given.accelerating, 'V', 2)} a current of {quantity(current, 'A')} "
            "brings the spreading beam together on the end face, after one turn of each electron. "
            "The number of turns is proportional to the current. Which current gives two turns? "
            "The current for one turn is proportional to the speed: which one is it at a quarter "
            "of the accelerating voltage?",
        ),
        room=3,
        steps=("twice the turns: twice the current", "a quarter of the voltage: half the speed"),
        results=(result("I for two turns", 2 * current, "A"),
                 result("I at Vₐ/4", current / 2, "A")),
    )  # fmt: skip


def _focus_here(current: float, here: float | None) -> str:
    """Tell the current that focuses in the real tube."""
    change = differs(current, here, 0.002) if here is not None else ""
    if here is None or not change:
        return ""
    return (
        f"In this tube {quantity(here, 'A')} ({change}): the coil’s field is not as strong all "
        "along the beam as the formula says that it is in the middle."
    )
