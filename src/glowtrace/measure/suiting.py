"""Which ways to measure suit a bench, and what each is called."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench, CoilPair, LongCoil
from glowtrace.measure.methods import COLUMNS, Method, columns_of

TITLES: Final[dict[Method, str]] = {
    "coils only": "Deflection in the coils’ field",
    "null": "Null: plates against coils",
    "circle": "Circle in gas",
    "axial focus": "Focus on the axis",
    "plates only": "Deflection by the plates",
    "turn-back": "Turn-back in crossed fields",
}
"""In the order in which they are offered."""

SAYS: Final[dict[Method, str]] = {
    "coils only": "Points (x, y) of the curved trace, with the coil current, give e/m.",
    "null": "At each coil current, the plate voltage that makes the trace straight gives e/m.",
    "circle": "The diameter of the glowing circle gives e/m.",
    "axial focus": "The coil current that brings the beam together after whole turns gives e/m.",
    "plates only": "The accelerating voltage and e/m cancel: the trace gives how strongly the "
    "plates act. Measure e/m with the coils afterwards.",
    "turn-back": "How far the beam goes before it turns back gives e/m.",
}


def why_not(method: Method, bench: Bench) -> str | None:
    """Say why a method does not suit a bench; None where it does."""
    wanted = {column.name for column in columns_of(method)}
    coils = bench.coils
    if "plate_voltage" in wanted and bench.plates is None:
        return "the bench has no plates"
    if method == "axial focus":
        return None if isinstance(coils, LongCoil) else "the bench has no long coil"
    if "coil_current" in wanted and not (isinstance(coils, CoilPair) and coils.sense == "aiding"):
        return "the bench has no coil pair with both coils in one sense"
    if method == "circle" and not bench.plane.glows:
        return "the screen shows no whole circle"
    return None


def first_method(bench: Bench) -> Method:
    """Give the method that is offered first on a bench."""
    if bench.plane.glows and why_not("circle", bench) is None:
        return "circle"
    if bench.plane.is_spot and why_not("axial focus", bench) is None:
        return "axial focus"
    suited = [method for method in TITLES if why_not(method, bench) is None]
    return suited[0] if suited else next(iter(COLUMNS))
