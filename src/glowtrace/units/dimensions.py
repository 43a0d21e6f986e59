"""The units that stand on a bench: what each measures, its prefixes, and its size in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final


@dataclass(frozen=True)
class Dimension:
    """What an SI unit measures, in words, with an example to show in errors."""

    name: str
    example: str
    prefixes: str = ""
    """SI prefixes that the trade uses with the unit, smallest first; "_" is none."""


DIMENSIONS: Final = {
    "m": Dimension("a length", "49 mm", "nµm_k"),
    "V": Dimension("a voltage", "3.2 kV", "µm_k"),
    "A": Dimension("a current", "250 mA", "nµm_"),
    "rad": Dimension("an angle", "6 deg"),
    "1": Dimension("a plain number", "343"),
    "s": Dimension("a time", "40 ms", "pnµm_"),
    "Hz": Dimension("a frequency", "50 Hz", "m_kMG"),
    "K": Dimension("a temperature", "1100 K"),
    "ohm": Dimension("a resistance", "4.2 ohm", "m_kM"),
    "T": Dimension("a flux density", "1.2 mT", "nµm_"),
    "T/A": Dimension("a flux density per current", "4.2 mT/A", "nµm_"),
    "V/m": Dimension("a field strength", "19 kV/m", "m_kM"),
    "m/s": Dimension("a speed", "3.2e7 m/s"),
    "C/kg": Dimension("a specific charge", "1.76e11 C/kg"),
    "J": Dimension("an energy", "350 mJ", "µm_k"),
    "W": Dimension("a power", "4 W", "µm_k"),
    "C": Dimension("a charge", "45 µC", "nµm_"),
    "F": Dimension("a capacitance", "2 nF", "pnµm_"),
    "lx": Dimension("an illuminance", "50 lx", "_k"),
    "cd/m²": Dimension("a luminance", "20 cd/m²", "_k"),
    "W/m²": Dimension("a power per area", "5 kW/m²", "m_k"),
    "Pa": Dimension("a pressure", "1 Pa", "m_k"),
    "m²": Dimension("a cross-section", "2e-22 m²"),
}
"""The SI units used inside, and what each measures."""

PREFIX_POWER: Final = {
    "p": -12, "n": -9, "µ": -6, "u": -6, "μ": -6, "m": -3, "c": -2, "_": 0, "k": 3, "M": 6, "G": 9,
}  # fmt: skip
"""The power of ten of each prefix; "_" is none."""


@dataclass(frozen=True)
class Scale:
    """A unit of the table: its SI unit, a power of ten, and a factor for those that need one."""

    si_unit: str
    power: int = 0
    factor: float = 1.0


@cache
def known_scales() -> dict[str, Scale]:
    """Give every unit that needs no pint, by its symbol."""
    scales = {
        (prefix if prefix != "_" else "") + unit: Scale(unit, power)
        for unit, dimension in DIMENSIONS.items()
        if unit not in ("1", "rad", "K", "C/kg")
        for prefix, power in PREFIX_POWER.items()
        if prefix in "_c" or prefix.replace("u", "µ").replace("μ", "µ") in dimension.prefixes
        if prefix != "c" or unit == "m"
    }
    scales |= {unit.replace("ohm", sign): s for unit, s in scales.items() for sign in ("Ω", "Ω")}
    degree = math.pi / 180
    return scales | {
        "": Scale("1"),
        "%": Scale("1", -2),
        "rad": Scale("rad"),
        "mrad": Scale("rad", -3),
        "deg": Scale("rad", 0, degree),
        "°": Scale("rad", 0, degree),
        "K": Scale("K"),
        # Outside the SI, and to pint no measure of the same thing.
        "gauss": Scale("T", -4),
        "G": Scale("T", -4),
        "C/kg": Scale("C/kg"),
    }
