"""How a number varies in a study: about a value, between two, or among some.

A spread turns places between 0 and 1 into values, so that the same evenly spread places serve
every kind.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units import QuantityError, carries_uncertainty, parse_measurement, parse_quantity

Array = NDArray[np.float64]

_MOST: Final = 10_000
_RANGE: Final = re.compile(r"(.+?)\s+to\s+(.+)")
_WAYS: Final = (
    'give "49(1) mm" or "49 mm ± 1 mm", a range "46 mm to 52 mm", a list, '
    'or { range = "46 mm to 52 mm", points = 5 }'
)


@dataclass(frozen=True)
class Around:
    """Normally distributed about a value, with its standard uncertainty; both in SI."""

    value: float
    uncertainty: float

    def at(self, places: Array) -> Array:
        """Give the values below which these parts of all lie."""
        return np.asarray(self.value + self.uncertainty * ndtri(places))


@dataclass(frozen=True)
class Between:
    """Anywhere from ``low`` to ``high``, none likelier than another; both in SI."""

    low: float
    high: float

    def at(self, places: Array) -> Array:
        """Do as `Around.at`."""
        return np.asarray(self.low + places * (self.high - self.low))


@dataclass(frozen=True)
class Among:
    """One of some values in SI, none likelier than another."""

    values: tuple[float, ...]

    def at(self, places: Array) -> Array:
        """Do as `Around.at`."""
        chosen = np.minimum((places * len(self.values)).astype(int), len(self.values) - 1)
        return np.asarray(np.array(self.values)[chosen])


Spread = Around | Between | Among


def require_spread(name: str, spread: object) -> Spread:
    """Give a spread that can be drawn from, or refuse it in a GlowtraceError.

    Numbers in a row stand for `Among`.
    """
    if isinstance(spread, Sequence | np.ndarray) and not isinstance(spread, str):
        spread = Among(tuple(map(float, spread)))
    match spread:
        case Around(value, size) if not (math.isfinite(value) and 0.0 < size < math.inf):
            wanted = "give a finite value, and an uncertainty above 0"
        case Between(low, high) if not (-math.inf < low < high < math.inf):
            wanted = "give a lower end below the upper one"
        case Among(values) if not 0 < len(set(values)) == len(values) <= _MOST:
            wanted = f"give 1 to {_MOST} different values"
        case Among(values) if not all(map(math.isfinite, values)):
            wanted = "give finite values"
        case Around() | Between() | Among():
            return spread
        case _:
            wanted = "give Around, Between, Among or a row of numbers"
    raise GlowtraceError(Problem(f"vary: {name}", f"{spread}", wanted))


def read_spread(name: str, written: Any, unit: str, *, is_count: bool = False) -> Spread:
    """Read a spread as a study's file has it; ``unit`` is the SI unit that it must have.

    Raises
    ------
    GlowtraceError
        It cannot be read.
    """
    try:
        match written:
            case str() if found := _RANGE.fullmatch(written.strip()):
                return require_spread(name, Between(*_ends(found, unit)))
            case str() if carries_uncertainty(written):
                return require_spread(name, Around(*parse_measurement(written, unit)))
            case list():
                return require_spread(name, Among(tuple(_number(each, unit) for each in written)))
            case Mapping() if set(written) == {"range", "points"}:
                return require_spread(name, _points(name, written, unit, is_count=is_count))
    except QuantityError as error:
        raise error.within(f"vary: {name}") from None
    raise GlowtraceError(Problem(f"vary: {name}", f"{written!r}", _WAYS))


def _points(name: str, written: Mapping[str, Any], unit: str, *, is_count: bool) -> Among:
    found, points = _RANGE.fullmatch(str(written["range"]).strip()), written["points"]
    if found is None or not isinstance(points, int) or not 2 <= points <= _MOST:
        raise GlowtraceError(Problem(f"vary: {name}", f"{dict(written)!r}", _WAYS))
    places = np.linspace(*_ends(found, unit), points)
    values = np.unique(np.rint(places)) if is_count else places
    return Among(tuple(float(f"{value:.12g}") for value in values.tolist()))


def _ends(found: re.Match[str], unit: str) -> tuple[float, float]:
    low, high = (0.0 if end.strip() == "0" else parse_quantity(end, unit) for end in found.groups())
    return low, high


def _number(written: Any, unit: str) -> float:
    if isinstance(written, str):
        return parse_quantity(written, unit)
    if isinstance(written, bool) or not isinstance(written, int | float):
        raise QuantityError(f"{written!r}", "give a number")
    if unit != "1" and written != 0:
        raise QuantityError(
            f"the bare number {written}", f'give its unit, as in "{written} {unit}"'
        )
    return float(written)
