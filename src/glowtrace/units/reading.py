"""Text to quantities: a small table for the units of a bench, pint for every other.

Powers of ten are applied to the text and not to the float, so "49 mm" is the same float as 0.049.
"""

from __future__ import annotations

import difflib
import math
import re
from decimal import Decimal
from functools import cache
from typing import Any, Final, NamedTuple

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units.dimensions import DIMENSIONS, known_scales


class QuantityError(GlowtraceError):
    """Quantity text that cannot be read: what was given, and what is allowed."""

    def __init__(self, given: str, allowed: str) -> None:
        super().__init__()
        self.given, self.allowed = given, allowed
        self.args = (given, allowed)  # from which a copy in another process is made

    def __str__(self) -> str:
        return f"{self.given} is not allowed; {self.allowed}"

    def within(self, place: str) -> GlowtraceError:
        """Give the same error, told of a field."""
        return GlowtraceError(Problem(place, self.given, self.allowed))


class Measurement(NamedTuple):
    """A value with its standard uncertainty, both in the same SI unit."""

    value: float
    uncertainty: float


# Digits are written out as [0-9] so that those of other scripts and "1_000" are refused.
_NUMBER: Final = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_TEXT: Final = re.compile(
    rf"(?P<figures>{_NUMBER})"
    r"(?:\((?P<last>[0-9]+\.?[0-9]*)\)|\s*(?:±|\+/-)\s*(?P<plus>[0-9]*\.?[0-9]+))?"
    r"(?:[eE](?P<exponent>[+-]?[0-9]{1,4}))?"
    r"\s*(?P<unit>[^\s0-9.,+\-(][^,()]{0,39})?"
)
_LONGEST_TEXT: Final = 80
_RANGE: Final = re.compile(r"(?P<low>.*[0-9].*?)\s+to\s+(?P<high>.*[0-9].*)")
_BESIDE: Final = re.compile(r"(?P<value>[^±]*?[^0-9.\s±(+/-])\s*(?:±|\+/-)\s*(?P<around>[^±]+)")


@cache
def _registry() -> Any:
    """Load pint once, and only when a unit outside the table turns up."""
    import pint

    return pint.UnitRegistry()


def parse_quantity(text: str, unit: str) -> float:
    """Read quantity text as a float in an SI unit.

    An uncertainty in the text ("0.45(2) A") is read and left out, and of a range ("50 mm to 54 mm")
    the middle is given; `parse_measurement` keeps both.

    Parameters
    ----------
    text
        A number and a unit of the same dimension as `unit`, such as "3.2 kV".
    unit
        SI unit of the result, one of `DIMENSIONS` ("1" for plain numbers).

    Returns
    -------
    float
        The value in `unit`, finite. Decimal text gives the float nearest to what was written.

    Raises
    ------
    QuantityError
        For text that is no number, NaN or infinite, a unit that is missing, unknown or of another
        dimension. The text of the error says which dimension is wanted and gives an example.

    Examples
    --------
    >>> parse_quantity("3.2 kV", "V")
    3200.0
    """
    return parse_measurement(text, unit).value


def parse_measurement(text: str, unit: str) -> Measurement:
    """Read quantity text with its standard uncertainty.

    It may be written as "52(1) mm", "52 ± 1 mm", "52 mm ± 1 mm", "3 kV ± 2 %" (of the value), with
    "+/-" for "±", or as a range, "50 mm to 54 mm". What stands behind ± is the standard
    uncertainty. A range says that the value lies within it and that no part of it is likelier than
    another: it gives the middle, and half the width / sqrt(3).

    Parameters and errors as for `parse_quantity`. Text without an uncertainty gives one of zero.

    Returns
    -------
    Measurement
        Value and standard uncertainty in `unit`.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7: rectangular distribution.
    """
    plain = _plain(text)
    if len(plain) > _LONGEST_TEXT:
        raise _refusal(text, unit)
    if between := _RANGE.fullmatch(plain):
        return _within(text, unit, between["low"], between["high"])
    if beside := _BESIDE.fullmatch(plain):
        return _about(text, unit, beside["value"], beside["around"])
    match = _match(text, unit)
    value = _scaled(text, unit, match, match["figures"])
    return Measurement(value, _uncertainty(text, unit, match))


def carries_uncertainty(text: str) -> bool:
    """Say whether quantity text states an uncertainty."""
    plain = _plain(text)
    if _RANGE.fullmatch(plain) or _BESIDE.fullmatch(plain):
        return True
    match = _TEXT.fullmatch(plain)
    return match is not None and (match["last"] or match["plus"]) is not None


def _within(text: str, unit: str, low_text: str, high_text: str) -> Measurement:
    """Read a range; the lower end may leave its unit to the upper one."""
    high = _match(high_text, unit)
    low = _match(low_text, unit)
    if not low["unit"]:
        low = _match(f"{low_text} {high['unit'] or ''}", unit)
    ends = [_exact(text, unit, each) for each in (low, high)]
    if ends[0] > ends[1]:
        raise QuantityError(f'"{text}"', "the range must go from its lower end to its upper one")
    middle = float(f"{(ends[0] + ends[1]) / 2:.15g}")  # without the last bit of the sum
    return Measurement(middle, (ends[1] - ends[0]) / 2 / math.sqrt(3.0))


def _about(text: str, unit: str, value_text: str, around_text: str) -> Measurement:
    """Read a value and, with a unit of its own, what it may be off by."""
    if around_text.startswith("-"):
        raise QuantityError(f'"{text}"', "an uncertainty cannot be negative")
    match = _match(value_text, unit)
    around = _match(around_text, "1" if "%" in around_text else unit)
    value = _exact(text, unit, match)
    if around["unit"] == "%" and match["unit"] != "%":
        return Measurement(value, abs(value) * _exact(text, "1", around))
    # The difference to zero leaves an offset (degrees Celsius) out.
    return Measurement(value, _exact(text, unit, around) - _scaled(text, unit, around, "0"))


def _exact(text: str, unit: str, match: re.Match[str]) -> float:
    """Give a value that must not have an uncertainty of its own."""
    if match["last"] is not None or match["plus"] is not None:
        raise QuantityError(f'"{text}"', "tell the uncertainty once")
    return _scaled(text, unit, match, match["figures"])


def _uncertainty(text: str, unit: str, match: re.Match[str]) -> float:
    """Give the standard uncertainty written in the text, in the SI unit."""
    if match["plus"] is not None:
        figures = match["plus"]
    elif match["last"] is not None:
        # "0.45(2)" counts in units of the last figure unless the bracket has its own point.
        places = len(match["figures"].partition(".")[2])
        shift = 0 if "." in match["last"] else -places
        figures = f"{Decimal(match['last']).scaleb(shift):f}"
    else:
        return 0.0
    # The difference to zero leaves an offset (degrees Celsius) out.
    return _scaled(text, unit, match, figures) - _scaled(text, unit, match, "0")


def _plain(text: str) -> str:
    """Give the text with typographic minus and surrounding blanks made plain."""
    return text.strip().replace("−", "-")


def _match(text: str, unit: str) -> re.Match[str]:
    """Split quantity text into figures, uncertainty, exponent and unit."""
    plain = _plain(text)
    if len(plain) > _LONGEST_TEXT:
        raise _refusal(text, unit)
    match = _TEXT.fullmatch(plain)
    if match is not None:
        return match
    if re.match(rf"{_NUMBER},[0-9]", plain):
        hint = "write the decimals with a point, and no comma between thousands: "
        raise _refusal(text, unit, hint)
    raise _refusal(text, unit)


def _scaled(text: str, unit: str, match: re.Match[str], figures: str) -> float:
    """Give figures of the text in the SI unit, rounded once."""
    symbol = (match["unit"] or "").strip()
    exponent = int(match["exponent"] or 0)
    if not symbol and unit != "1":
        raise _refusal(text, unit, "the unit is missing: ")
    scale = known_scales().get(symbol)
    if scale is None:
        value = _scaled_by_pint(text, unit, float(f"{figures}e{exponent}"), symbol)
    elif scale.si_unit == unit:
        value = float(f"{figures}e{exponent + scale.power}") * scale.factor
    else:
        raise _refusal(text, unit, f"this is {DIMENSIONS[scale.si_unit].name}: ")
    if not math.isfinite(value):
        raise _refusal(text, unit, "the number is too large: ")
    return value


def _scaled_by_pint(text: str, unit: str, number: float, symbol: str) -> float:
    """Convert with pint, for units that the table lacks."""
    unknown = f'"{symbol}" is not a known unit{_nearest(symbol)}: '
    # Digits of an exponent beyond two figures only serve to make the parser labour.
    if not re.fullmatch(r"(?:°|[^\W\d_])[\w°%/*^·. \-]*", symbol) or re.search(r"\d{3}", symbol):
        raise _refusal(text, unit, unknown)
    registry = _registry()
    try:
        given = registry.parse_units(symbol)
        # Root units tell radians from plain numbers, which the dimension does not.
        same = registry.get_root_units(given)[1] == registry.get_root_units(unit)[1]
        value = float(registry.Quantity(number, given).to(unit).magnitude) if same else math.nan
    except Exception as error:  # pint's parser raises a dozen unrelated kinds
        raise _refusal(text, unit, unknown) from error
    if not same:
        raise _refusal(text, unit, f"this is in {given:P}, which does not measure it: ")
    return value


def _nearest(symbol: str) -> str:
    """Give a hint at the unit that differs in case only, or else by a letter."""
    folded = {known.casefold(): known for known in reversed(known_scales()) if len(known) > 1}
    if symbol.casefold() in folded:
        return f" (did you mean {folded[symbol.casefold()]}?)"
    close = difflib.get_close_matches(symbol, list(folded.values()), n=1, cutoff=0.75)
    return f" (did you mean {close[0]}?)" if close else ""


def _refusal(text: str, unit: str, hint: str = "") -> QuantityError:
    shown = text if len(text) <= _LONGEST_TEXT else text[:_LONGEST_TEXT] + "…"
    dimension = DIMENSIONS[unit]
    return QuantityError(
        f'"{shown}"', f'{hint}give {dimension.name}, for example "{dimension.example}"'
    )
