"""The ways to measure on the bench, and the columns that a table of readings has for each.

Signs are those of the bench: V_p = V(upper) - V(lower), the coil current is positive where the
field points along +z (a pair) or +x (a long coil), heights count upwards from the axis.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from glowtrace.errors import GlowtraceError, Problem

Method = Literal["plates only", "coils only", "null", "circle", "axial focus", "turn-back"]
"""How e/m, or a constant of the tube, is got from what can be read."""


@dataclass(frozen=True)
class Column:
    """One column of a table of readings."""

    name: str
    """Key in programs and files."""
    symbol: str
    """At the head of the column."""
    si_unit: str
    unit: str
    """In which people read it."""
    low: float
    high: float
    """Within these limits (SI) a value is possible; both are allowed."""
    meter: str | None = None
    """The instrument that all readings of this quantity share; its own name when left out."""
    is_needed: bool = True
    """Whether a row without it cannot be used."""
    default: float | None = None
    """What holds in SI where nothing is written, if that goes without saying."""

    @property
    def head(self) -> str:
        """Symbol and unit, as in "V_a (V)"."""
        return f"{self.symbol} ({self.unit})" if self.si_unit != "1" else self.symbol


_X = Column("x", "x", "m", "mm", -2.0, 2.0, "ruler")
_Y = Column("y", "y", "m", "mm", -2.0, 2.0, "ruler")
_ACCELERATING = Column("accelerating_voltage", "V_a", "V", "V", 1.0, 60e3)
_PLATES = Column("plate_voltage", "V_p", "V", "V", -60e3, 60e3)
_CURRENT = Column("coil_current", "I", "A", "A", -100.0, 100.0)

COLUMNS: Final[Mapping[Method, tuple[Column, ...]]] = MappingProxyType(
    {
        "plates only": (_X, _Y, _ACCELERATING, _PLATES),
        "coils only": (_X, _Y, _ACCELERATING, _CURRENT),
        "null": (
            _PLATES,
            _CURRENT,
            _ACCELERATING,
            Column("x", "x", "m", "mm", 1e-3, 2.0, "ruler", is_needed=False),
            Column("y", "y", "m", "mm", -2.0, 2.0, "ruler", is_needed=False, default=0.0),
        ),
        "circle": (
            Column("diameter", "D", "m", "mm", 1e-3, 2.0, "ruler"),
            _ACCELERATING,
            _CURRENT,
        ),
        "axial focus": (
            Column("length", "L", "m", "mm", 1e-3, 2.0, "ruler"),
            _ACCELERATING,
            _CURRENT,
            Column("turns", "n", "1", "1", 1.0, 50.0, is_needed=False, default=1.0),
        ),
        "turn-back": (
            Column("depth", "depth", "m", "mm", -2.0, 2.0, "ruler"),
            Column("pitch", "pitch", "m", "mm", -2.0, 2.0, "ruler", is_needed=False),
            _ACCELERATING,
            _PLATES,
            _CURRENT,
        ),
    }
)
"""The columns of each method, in the order in which they are read.

"plates only" and "coils only" have points (x, y) of the trace, as read on the screen's grid (on an
end face x is the distance of the face); a null is judged by how high the trace passes over the line
without deflection (y, by default not at all) at x, by default at the far edge of the plates, and so
does not depend on how the grid lies; a circle has its diameter; an axial focus the length from the
aperture to the focus after n turns; a turn-back the height of the far point (negative for a dip)
and the way along x back to the height of entry.
"""


READ_OFF: Final[Mapping[Method, str]] = {
    "plates only": "y",
    "coils only": "y",
    "null": "plate_voltage",
    "circle": "diameter",
    "axial focus": "coil_current",
    "turn-back": "depth",
}
"""The reading that the others decide, by method: what a chart has upright."""


def columns_of(method: str) -> tuple[Column, ...]:
    """Give the columns of a method.

    Raises
    ------
    GlowtraceError
        If there is no such method; the text lists those that there are.
    """
    for name, columns in COLUMNS.items():
        if name == method:
            return columns
    allowed = "choose " + " or ".join(f'"{name}"' for name in COLUMNS)
    raise GlowtraceError(Problem("method", f'"{method}"', allowed))


def column_of(method: str, name: str) -> Column:
    """Give one column of a method by its name.

    Raises
    ------
    GlowtraceError
        If the method has no such column.
    """
    for column in columns_of(method):
        if column.name == name:
            return column
    names = ", ".join(column.name for column in columns_of(method))
    raise GlowtraceError(Problem("column", f'"{name}"', f'"{method}" has {names}'))
