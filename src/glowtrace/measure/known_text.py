"""What is known beforehand about a constant of the tube, as people write it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import FREE, Known
from glowtrace.measure.tube import TUBE_PARAMETERS, nominal_tube
from glowtrace.units import parse_measurement, parse_quantity

FACTORS: Final[Mapping[str, str]] = {"plate_factor": "plate_gap", "coil_factor": "coil_constant"}
"""Factors of a calibration, and the constant that each is about."""
KNOWABLE: Final = (*FACTORS, *(name for name in TUBE_PARAMETERS if name != "specific_charge"))
"""The names of all that can be told."""
_PLUS_MINUS = re.compile(r"\s*(?:±|\+-|\+/-)\s*")


def known_from_text(name: str, text: str, bench: Bench, model: Model) -> Known:
    """Read what is known about a constant.

    Parameters
    ----------
    name
        One of `KNOWABLE`; of a factor, what is known about the constant behind it is given.
    text
        "49.0(3) mm" for a value with its standard uncertainty, "49 mm" for an exact one, "± 0.3 mm"
        for what the bench's drawing says, give or take that, "free" for nothing known.
    bench, model
        Say what a factor is the factor of.

    Raises
    ------
    GlowtraceError
        The text cannot be read, or is no such quantity.

    Examples
    --------
    >>> from glowtrace.bench.ready_made import ready_made
    >>> known_from_text("plate_gap", "49.0(3) mm", ready_made("deflection tube"), "ideal")
    Known(value=0.049, uncertainty=0.0003)
    """
    text = text.strip()
    if text == "free":
        return FREE
    if name in FACTORS:
        value, uncertainty = parse_measurement(text, "1")
        if not value > 0:
            raise GlowtraceError(Problem("factor", f'"{text}"', "give one above 0"))
        drawn = getattr(nominal_tube(bench, model), FACTORS[name])
        acting = drawn / value if name == "plate_factor" else drawn * value
        return Known(acting, abs(acting) * uncertainty / value)
    unit = TUBE_PARAMETERS[name][1]
    if sign := _PLUS_MINUS.match(text):
        return Known(None, abs(parse_quantity(text[sign.end() :], unit)))
    return Known(*parse_measurement(text, unit))
