"""Usual instruments, until somebody says what is on theirs (common practice, no source)."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Final

from glowtrace.measure.instrument import Instrument, meter
from glowtrace.measure.methods import Method, columns_of

_USUAL: Final[Mapping[str, tuple[str, str, str, str]]] = {
    "ruler": ("Ruler or grid", "0.2 %", "1 mm", "0.3 mm"),
    "accelerating_voltage": ("Accelerating voltmeter", "0.5 % + 2 digits", "1 V", ""),
    "plate_voltage": ("Plate voltmeter", "0.5 % + 2 digits", "1 V", ""),
    "coil_current": ("Ammeter", "1 % + 2 digits", "1 mA", ""),
}
"""Title, specification, step and judging."""


def meter_names(method: Method, own: Container[str] = ()) -> tuple[str, ...]:
    """Give the names of a method's instruments, each once; columns with their own need none."""
    named = (
        column.meter or column.name
        for column in columns_of(method)
        if column.si_unit != "1" and (column.meter is None or column.name not in own)
    )
    return tuple(dict.fromkeys(named))


def meter_title(name: str) -> str:
    """Give what an instrument is called."""
    return _USUAL[name][0]


def meter_unit(name: str) -> str:
    """Give the SI unit of what an instrument shows."""
    return {"ruler": "m", "coil_current": "A"}.get(name, "V")


def usual_meter(name: str) -> Instrument:
    """Give a usual instrument of a name that `meter_names` gives."""
    _, specification, resolution, judgement = _USUAL[name]
    return meter(specification, resolution, meter_unit(name), judgement=judgement)
