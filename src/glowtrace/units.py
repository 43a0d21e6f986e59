"""Quantity text at the edges: "52 mm", "3.2 kV", "250 mA", "0.45(2) A", "6 deg", "320".

Inside, Glowtrace knows SI floats only. A small table holds the units that stand on a bench, so
that a file of a hundred quantities is read in a millisecond and nothing heavy is loaded; every
other unit ("2.5 inch", "300 gauss") is pint's to judge. Powers of ten are applied to the text and
not to the float, so "52 mm" is the same float as 0.052 and text written here reads back exactly.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any, Final, NamedTuple

from glowtrace.errors import GlowtraceError


class QuantityError(GlowtraceError):
    """Quantity text that cannot be read: what was given, and what is allowed."""

    def __init__(self, given: str, allowed: str) -> None:
        self.given = given
        self.allowed = allowed
        super().__init__(f"{given} is not allowed; {allowed}")


class Measurement(NamedTuple):
    """A value with its standard uncertainty, both in the same SI unit."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class Dimension:
    """What an SI unit measures, in words, with an example to show in errors."""

    name: str
    example: str
    prefixes: str = ""
    """SI prefixes that the trade uses with the unit, smallest first; "_" is none."""


DIMENSIONS: Final = {
    "m": Dimension("a length", "52 mm", "nµm_k"),
    "V": Dimension("a voltage", "3.2 kV", "µm_k"),
    "A": Dimension("a current", "250 mA", "nµm_"),
    "rad": Dimension("an angle", "6 deg"),
    "1": Dimension("a plain number", "320"),
    "s": Dimension("a time", "40 ms", "pnµm_"),
    "Hz": Dimension("a frequency", "50 Hz", "m_kMG"),
    "K": Dimension("a temperature", "1100 K"),
    "ohm": Dimension("a resistance", "4.2 ohm", "m_kM"),
    "T": Dimension("a flux density", "1.2 mT", "nµm_"),
    "V/m": Dimension("a field strength", "19 kV/m", "m_kM"),
    "m/s": Dimension("a speed", "3.2e7 m/s"),
    "C/kg": Dimension("a specific charge", "1.76e11 C/kg"),
    "J": Dimension("an energy", "350 mJ", "µm_k"),
    "W": Dimension("a power", "4 W", "µm_k"),
    "C": Dimension("a charge", "45 µC", "nµm_"),
    "F": Dimension("a capacitance", "2 nF", "pnµm_"),
}
"""The SI units used inside, and what each measures."""

_PREFIX_POWER: Final = {
    "p": -12, "n": -9, "µ": -6, "u": -6, "μ": -6, "m": -3, "c": -2, "_": 0, "k": 3, "M": 6, "G": 9,
}  # fmt: skip

# An unsigned figure group is written out so that Unicode digits and "1_000" are refused.
_NUMBER: Final = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_TEXT: Final = re.compile(
    rf"(?P<figures>{_NUMBER})"
    r"(?:\((?P<last>[0-9]+\.?[0-9]*)\)|\s*(?:±|\+/-)\s*(?P<plus>[0-9]*\.?[0-9]+))?"
    r"(?:[eE](?P<exponent>[+-]?[0-9]{1,4}))?"
    r"\s*(?P<unit>[^\s0-9.,+\-(][^,()]{0,39})?"
)
_LONGEST_TEXT: Final = 80


@dataclass(frozen=True)
class _Scale:
    """A unit of the table: its SI unit, a power of ten, and a factor for those that need one."""

    si_unit: str
    power: int = 0
    factor: float = 1.0


@cache
def _scales() -> dict[str, _Scale]:
    """Give every unit that needs no pint, by its symbol."""
    scales = {
        (prefix if prefix != "_" else "") + unit: _Scale(unit, power)
        for unit, dimension in DIMENSIONS.items()
        if unit not in ("1", "rad", "K", "C/kg")
        for prefix, power in _PREFIX_POWER.items()
        if prefix in "_c" or prefix.replace("u", "µ").replace("μ", "µ") in dimension.prefixes
        if prefix != "c" or unit == "m"
    }
    scales |= {unit.replace("ohm", sign): s for unit, s in scales.items() for sign in ("Ω", "Ω")}
    degree = math.pi / 180
    return scales | {
        "": _Scale("1"),
        "%": _Scale("1", -2),
        "rad": _Scale("rad"),
        "mrad": _Scale("rad", -3),
        "deg": _Scale("rad", 0, degree),
        "°": _Scale("rad", 0, degree),
        "K": _Scale("K"),
        # Outside the SI, and to pint no measure of the same thing.
        "gauss": _Scale("T", -4),
        "G": _Scale("T", -4),
        "C/kg": _Scale("C/kg"),
    }


@cache
def _registry() -> Any:
    """Load pint once, and only when a unit outside the table turns up."""
    import pint

    return pint.UnitRegistry()


def parse_quantity(text: str, unit: str) -> float:
    """Read quantity text as a float in an SI unit.

    An uncertainty in the text ("0.45(2) A") is read and left out; `parse_measurement` keeps it.

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
    match = _match(text, unit)
    return _scaled(text, unit, match, match["figures"])


def parse_measurement(text: str, unit: str) -> Measurement:
    """Read quantity text with its standard uncertainty, as "0.45(2) A" or "0.45 ± 0.02 A".

    Parameters and errors as for `parse_quantity`. Text without an uncertainty gives one of zero.

    Returns
    -------
    Measurement
        Value and standard uncertainty in `unit`.
    """
    match = _match(text, unit)
    value = _scaled(text, unit, match, match["figures"])
    return Measurement(value, _uncertainty(text, unit, match))


def carries_uncertainty(text: str) -> bool:
    """Say whether quantity text states an uncertainty."""
    match = _TEXT.fullmatch(_plain(text))
    return match is not None and (match["last"] or match["plus"]) is not None


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
    match = _TEXT.fullmatch(plain) if len(plain) <= _LONGEST_TEXT else None
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
    scale = _scales().get(symbol)
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
    folded = {known.casefold(): known for known in reversed(_scales()) if len(known) > 1}
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


def format_quantity(value_si: float, unit: str, digits: int = 3) -> str:
    """Write a value for people, with the prefix of the trade: "3.20 kV", "250 mA", "6.00 deg".

    Parameters
    ----------
    value_si
        The value in the SI unit.
    unit
        SI unit, one of `DIMENSIONS`, to have the prefix chosen (angles in degrees); or a prefixed
        unit such as "mm" to have that one.
    digits
        Significant figures.

    Returns
    -------
    str
        Number, blank and unit; NaN and infinity are written as "nan" and "inf".
    """
    if not math.isfinite(value_si):
        return f"{value_si} {unit}" if unit != "1" else f"{value_si}"
    if unit == "rad":
        return f"{_figures(Decimal(math.degrees(value_si)), digits)} deg"
    symbol, power = _prefixed(Decimal(f"{value_si:.{digits - 1}e}"), unit)
    number = _figures(Decimal(value_si).scaleb(-power), digits)
    return f"{number} {symbol}".strip()


def format_measurement(value_si: float, uncertainty_si: float, unit: str) -> str:
    """Write a value with its standard uncertainty, as in "250.0(15) mA".

    Two figures of the uncertainty are kept when it starts with 1 or 2, else one (the rounding
    rule of the Particle Data Group, which the `uncertainties` package follows).

    Parameters
    ----------
    value_si, uncertainty_si
        Value and standard uncertainty in the SI unit; the latter above zero.
    unit
        As for `format_quantity`.
    """
    from uncertainties import ufloat  # type: ignore[import-untyped]

    if unit == "rad":
        return f"{ufloat(math.degrees(value_si), math.degrees(uncertainty_si)):S} deg"
    symbol, power = _prefixed(Decimal(f"{value_si:.2e}"), unit)
    scale = 10.0**-power
    return f"{ufloat(value_si * scale, uncertainty_si * scale):S} {symbol}".strip()


def exact_text(value_si: float, unit: str) -> str:
    """Write a finite value so that `parse_quantity` gives back the identical float.

    Parameters
    ----------
    value_si
        The value in the SI unit, finite.
    unit
        As for `format_quantity`.

    Examples
    --------
    >>> exact_text(0.052, "mm"), exact_text(3200.0, "V")
    ('52 mm', '3.2 kV')
    """
    if unit == "rad":
        return _exact_angle(value_si)
    written = Decimal(repr(value_si))
    symbol, power = _prefixed(written, unit)
    return f"{_all_figures(written.scaleb(-power))} {symbol}".strip()


def _exact_angle(angle: float) -> str:
    """Write an angle in degrees where short degrees give the identical float, else in radians."""
    degrees = float(f"{math.degrees(angle):.12g}")
    if math.isfinite(degrees):
        text = f"{_all_figures(Decimal(repr(degrees)))} deg"
        if parse_quantity(text, "rad") == angle:
            return text
    return f"{_all_figures(Decimal(repr(angle)))} rad"


def _prefixed(value: Decimal, unit: str) -> tuple[str, int]:
    """Choose the prefixed unit and its power of ten so that 1 <= number < 1000 where it can be."""
    if unit not in DIMENSIONS:
        return unit, _scales()[unit].power
    prefixes = DIMENSIONS[unit].prefixes or "_"
    if not value:
        return ("" if unit == "1" else unit), 0
    fitting = [p for p in prefixes if _PREFIX_POWER[p] <= value.adjusted()] or [prefixes[0]]
    symbol = fitting[-1].replace("_", "") + unit
    return ("" if unit == "1" else symbol), _PREFIX_POWER[fitting[-1]]


def _figures(value: Decimal, digits: int) -> str:
    """Write significant figures, without an exponent where the number is of handy size."""
    rounded = Decimal(f"{value:.{digits - 1}e}")
    if not rounded:
        return "0"
    if -4 <= rounded.adjusted() < 7:
        return f"{rounded:.{max(digits - 1 - rounded.adjusted(), 0)}f}"
    return f"{rounded:.{digits - 1}e}"


def _all_figures(value: Decimal) -> str:
    """Write every figure, without an exponent where the number is of handy size."""
    if not -7 <= value.adjusted() < 16:
        return str(value)
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
