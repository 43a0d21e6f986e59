"""The question for e/m, whatever it is measured by, and its answer."""

from __future__ import annotations

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.report.worksheets.content import Question, Result
from glowtrace.report.worksheets.words import quantity, result
from glowtrace.units import fixed


def charge_over_mass_question(
    reading: str, steps: tuple[str, ...], measured: float, remark: str
) -> Question:
    """Ask for e/m from a reading, and how far it is off.

    Parameters
    ----------
    reading
        What was read, and what value of e/m follows from what.
    steps
        From the reading to e/m.
    measured
        What it comes to, C/kg.
    remark
        Why it is off.
    """
    off = 100 * (measured / SPECIFIC_CHARGE - 1)
    return Question(
        topic="Charge over mass",
        text=(f"{reading} How many per cent is it off the accepted one?",),
        room=4,
        steps=steps,
        results=(
            result("e/m", measured, "C/kg"),
            Result("off by", f"off by = {fixed(off, 1)} %", off, "%"),
        ),
        remark=f"Accepted: {quantity(SPECIFIC_CHARGE, 'C/kg', 4)}. {remark}",
    )
