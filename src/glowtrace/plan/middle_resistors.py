"""Two equal resistors that make the middle of a plate supply which has no terminal for it.

They stand in a row across the supply's output, and where they meet is joined to the anode. They
must be large enough not to load the supply, and small enough that the current which the plates
collect from the beam hardly moves the middle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.plan.leads import plates_are_fed
from glowtrace.units import format_quantity

_LOAD: Final = 0.2
"""Part of the supply's rated current that the resistors may take; common practice, no source."""
_MOVE: Final = 0.01
"""Part of the highest plate voltage by which the middle may move; own choice."""
_PIECE_VOLTAGE: Final = 250.0
"""What an ordinary small resistor stands, V; common practice, no source."""
_POWER_MARGIN: Final = 2.0
"""Rated power against that taken; common practice, no source."""
_E12: Final = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""Values that resistors are made in (IEC 60063, series E12, from memory)."""


@dataclass(frozen=True)
class MiddleResistors:
    """Both resistors, each a row of equal pieces; SI units.

    Attributes
    ----------
    voltage
        The most that the supply gives, which they must stand, V.
    pieces
        Pieces in each of the two.
    piece
        Resistance of one piece, ohm.
    load
        Current that they take at the highest voltage, A.
    collected
        The beam current that usually leaves the gun's opening, A; a guess.
    move
        How far the middle moves if one plate collects all of that, V.
    is_stiff
        Whether that is no more than 1 % of the highest voltage that the plates may have.
    time_constant
        In which they discharge the supply, s; None where its capacitance is unknown.
    """

    voltage: float
    pieces: int
    piece: float
    load: float
    collected: float
    move: float
    is_stiff: bool
    time_constant: float | None

    @property
    def resistance(self) -> float:
        """Each of the two, ohm."""
        return self.pieces * self.piece

    @property
    def piece_voltage(self) -> float:
        """What stands across a piece at the highest voltage, V."""
        return self.voltage / (2 * self.pieces)

    @property
    def rated_power(self) -> float:
        """Least rated power of a piece, W: twice what it takes at the highest voltage."""
        return _POWER_MARGIN * self.piece_voltage**2 / self.piece


def middle_resistors(bench: Bench, settings: Settings) -> MiddleResistors | None:
    """Choose the resistors of a plate supply without a middle terminal.

    With the middle of two resistors R at the anode, a current I that one plate collects moves both
    plates by I R / 2 (Kirchhoff's current law at the middle). Where no value keeps the supply's
    load and the move small, the load decides, and `is_stiff` is false.

    Returns
    -------
    MiddleResistors or None
        None where no supply of their own feeds the plates evenly about the anode.
    """
    supply = bench.supplies.plates
    is_own = settings.plate_source == "own supply" and settings.plate_tie == "symmetric"
    if supply is None or not is_own or not plates_are_fed(bench, settings):
        return None
    voltage, most_move = supply.max_voltage, _MOVE * knob_ranges(bench)["plate_voltage"].high
    collected = bench.gun.usual_beam_share * bench.gun.beam_current
    pieces = max(1, math.ceil(voltage / 2 / _PIECE_VOLTAGE))
    least = voltage / (2 * _LOAD * supply.max_current)
    piece = _made_value(least / pieces, 2 * most_move / collected / pieces)
    resistance = pieces * piece
    move = collected * resistance / 2
    capacitance = supply.output_capacitance
    return MiddleResistors(
        voltage=voltage,
        pieces=pieces,
        piece=piece,
        load=voltage / (2 * resistance),
        collected=collected,
        move=move,
        is_stiff=move <= most_move,
        time_constant=None if capacitance is None else 2 * resistance * capacitance,
    )


def middle_notes(made: MiddleResistors) -> Iterator[str]:
    """Say what to take, what it does, and what to beware of."""
    piece = format_quantity(made.piece, "ohm", digits=2)
    many = made.pieces > 1
    row = f"{made.pieces} pieces of {piece} in a row" if many else piece
    yield (
        "A plate supply without a middle terminal takes two equal resistors, the anode where they "
        f"meet: each {row} (1 %){', every piece' if many else ''} made for at least "
        f"{_at_least(made.piece_voltage, 'V')} and {_at_least(made.rated_power, 'W')}. Live and "
        "warm: nothing bare."
    )
    load, move = (
        format_quantity(value, unit, digits=2)
        for value, unit in ((made.load, "A"), (made.move, "V"))
    )
    time = made.time_constant
    constant = "" if time is None else f"time constant {format_quantity(time, 's', digits=2)}; "
    stiff = (
        " That is more than 1 % of the highest plate voltage: tie one plate to the anode instead."
    )
    yield (
        f"They take {load} at {format_quantity(made.voltage, 'V')} and discharge the supply "
        f"({constant}one may be open, so measure). The whole beam on one plate, about "
        f"{format_quantity(made.collected, 'A', digits=2)} (a guess), moves the middle by {move}."
        f"{'' if made.is_stiff else stiff} Their tolerance moves it by up to 0.5 % of the plate "
        "voltage; if one opens, the plate at the other one stands at the anode's potential."
    )


def _at_least(value: float, unit: str) -> str:
    """Write a rating with two digits, never below the value."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return format_quantity(math.ceil(value / step) * step, unit, digits=2)


def _made_value(low: float, high: float) -> float:
    """Give the value of the series nearest to the middle of a range, else the first above `low`."""
    decade = math.floor(math.log10(low))
    values = [
        float(f"{step}e{power}")
        for power in range(decade, max(decade, math.floor(math.log10(high))) + 2)
        for step in _E12
    ]
    above = [value for value in values if value >= low]
    within = [value for value in above if value <= high]
    centre = math.sqrt(low * high)
    return min(within, key=lambda value: abs(math.log(value / centre))) if within else above[0]
