"""What a reading is worth: resolution, a meter's specification, and the scatter of repeats.

A meter's specification, such as 0.5 % of reading + 2 digits, limits an error that hardly changes
from one reading to the next: it belongs to the meter. Averaging over readings does not reduce it,
so it is kept apart from what is new with every reading (rounding to the resolution, scatter).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units import parse_quantity

_SPECIFICATION = re.compile(
    r"\s*(?:±\s*)?\(?\s*"
    r"(?:(?P<percent>[0-9]*\.?[0-9]+)\s*%(?:\s*(?:of\s+)?(?:rdg|reading))?)?"
    r"\s*\+?\s*(?:(?P<digits>[0-9]*\.?[0-9]+)\s*(?:digits?|dgts?|counts?))?\s*\)?\s*"
)


@dataclass(frozen=True)
class Instrument:
    """A meter or ruler, with the limits within which its maker or user vouches for it.

    All zero means exact.
    """

    resolution: float = 0.0
    """The smallest step in the SI unit of the column: a reading is known to half of it."""
    gain_limit: float = 0.0
    """Largest error as a fraction of the reading: 0.005 for "0.5 % of reading"."""
    zero_limit: float = 0.0
    """Largest error that does not depend on the reading, in the SI unit: digits x resolution."""
    judgement: float = 0.0
    """Standard uncertainty in the SI unit of judging one reading: the middle of a trace, a null."""
    name: str = ""
    sway: tuple[tuple[float, ...], ...] = ()
    """Of a photograph as the ruler for x and y: independent errors of its map, each of size one.
    Each is a polynomial of the place (`glowtrace.photographs.sway`), the same for x and y."""

    def __post_init__(self) -> None:
        for field in ("resolution", "gain_limit", "zero_limit", "judgement"):
            given = getattr(self, field)
            if not (0 <= given < math.inf):
                raise GlowtraceError(Problem(field, str(given), "give 0 or more"))
        if self.gain_limit >= 1:
            limit = f"{100 * self.gain_limit:g} %"
            raise GlowtraceError(Problem("limit of error", limit, "give less than 100 %"))

    @property
    def rounding_uncertainty(self) -> float:
        """Standard uncertainty of rounding to the resolution q: q / sqrt(12) (rectangular)."""
        return self.resolution / math.sqrt(12.0)

    @property
    def gain_uncertainty(self) -> float:
        """Standard uncertainty of the common factor on all readings (rectangular limits)."""
        return self.gain_limit / math.sqrt(3.0)

    @property
    def zero_uncertainty(self) -> float:
        """Standard uncertainty of the common shift of all readings (rectangular limits)."""
        return self.zero_limit / math.sqrt(3.0)


def meter(
    specification: str, resolution: str, unit: str, *, judgement: str = "", name: str = ""
) -> Instrument:
    """Give the instrument that a specification describes.

    Parameters
    ----------
    specification
        Limits of error as meters have them: "0.5 % + 2 digits", "0.1 %", "3 digits". An empty
        text is a meter without error.
    resolution
        Smallest step with its unit, "0.1 V"; one digit of the specification is one of it.
    unit
        SI unit of the quantity.
    judgement
        Standard uncertainty of judging one reading, with its unit; none when left out.
    name
        What is written on it.

    Raises
    ------
    GlowtraceError
        If the specification or a quantity cannot be read.

    Examples
    --------
    >>> voltmeter = meter("0.5 % + 2 digits", "1 V", "V")
    >>> f"{voltmeter.gain_uncertainty:.5f}, {voltmeter.zero_uncertainty:.3f} V"
    '0.00289, 1.155 V'
    """
    match = _SPECIFICATION.fullmatch(specification)
    if match is None:
        allowed = 'write it as in "0.5 % + 2 digits", "0.5 %" or "2 digits"'
        raise GlowtraceError(Problem("specification", f'"{specification}"', allowed))
    step = parse_quantity(resolution, unit)
    return Instrument(
        resolution=step,
        gain_limit=float(match["percent"] or 0.0) / 100.0,
        zero_limit=float(match["digits"] or 0.0) * step,
        judgement=parse_quantity(judgement, unit) if judgement else 0.0,
        name=name,
    )
