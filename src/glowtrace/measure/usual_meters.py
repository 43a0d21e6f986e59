"""Usual instruments and knowledge, until somebody says what is on theirs.

Common practice, no source, where none is named.
"""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from dataclasses import replace
from typing import Final

from glowtrace.bench.model import Bench, GasGlow
from glowtrace.bench.picture import Model
from glowtrace.measure.experiment import Known
from glowtrace.measure.known_bench import known_by_bench
from glowtrace.measure.methods import Method, columns_of
from glowtrace.measure.shared_errors import READS_POINTS
from glowtrace.measure.tables.instrument import Instrument, meter
from glowtrace.measure.tables.readings import Table
from glowtrace.units import parse_quantity

_USUAL: Final[Mapping[str, tuple[str, str, str, str]]] = {
    "ruler": ("Ruler or grid", "0.2 %", "1 mm", "0.3 mm"),
    "accelerating_voltage": ("Accelerating voltmeter", "0.5 % + 2 digits", "1 V", ""),
    "plate_voltage": ("Plate voltmeter", "0.5 % + 2 digits", "1 V", ""),
    "coil_current": ("Ammeter", "1 % + 2 digits", "1 mA", ""),
}
"""Title, specification, step and judging."""
_JUDGED: Final[Mapping[Method, str]] = {"circle": "2 mm", "axial focus": "1 mm"}
"""Judging of a length where the trace does not lie on the scale: a circle in a bulb without mirror
behind it. Diameters that learners published scatter by 2 to 6 mm."""
GAS_OFFSET: Final = 5.0
"""Standard uncertainty in V of the accelerating voltage that acts in a gas bulb, beside that of the
meter (own estimate): contact potentials are 1 to 3 V, and the gas takes some. Published readings,
fitted with it free, ask for 30 to 75 V less; that is told as a contradiction, not taken for granted
beforehand, because such a fit moves e/m by a quarter."""


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


def stepped(readings: Table, instruments: Mapping[str, Instrument]) -> dict[str, Instrument]:
    """Give instruments whose steps are those to which the readings were written, "1.40" to 0.01.

    The digits of a specification keep their number. Left as they are: the ruler, and instruments
    of which fewer than two readings were written.
    """
    found = dict(instruments)
    for column in readings.columns:
        name = column.meter or column.name
        made = found.get(name)
        decimals = [
            len(cell.written.replace(",", ".").partition(".")[2])
            for cell in (row[column.name] for row in readings.rows)
            if re.fullmatch(r"[+\-−]?[0-9]+(?:[.,][0-9]+)?", cell.written)
        ]
        if made is None or not made.resolution or name == "ruler" or len(decimals) < 2:
            continue
        step = parse_quantity(f"{10.0 ** -max(decimals)} {column.unit}", column.si_unit)
        digits = made.zero_limit / made.resolution
        found[name] = replace(made, resolution=step, zero_limit=digits * step)
    return found


AXIS_HEIGHT: Final = 0.3e-3
"""Standard uncertainty in m of the height of the axis on a printed grid (own estimate): points of a
photograph are known better than the place of the grid in the tube."""


def usual_knowledge(
    bench: Bench,
    readings: Table | None = None,
    *,
    method: Method | None = None,
    model: Model | None = None,
) -> dict[str, Known]:
    """Give what is known of the constants of a bench where nobody says more.

    Parameters
    ----------
    bench
        Its own uncertainties count for the constants, where it tells any.
    readings
        Points from a photograph make the height of the axis on the grid matter.
    method, model
        What the constants are for; without a model the bench's uncertainties stay out, as they
        must where the constants themselves are sought.
    """
    method = method or (None if readings is None else readings.method)
    known = known_by_bench(bench, method, model) if method and model else {}
    if isinstance(bench.screen, GasGlow):
        known["contact_offset"] = Known(None, GAS_OFFSET)
    if readings is not None and readings.method in READS_POINTS and readings.instrument("y").sway:
        known["grid_shift"] = Known(None, AXIS_HEIGHT)
    return known


def usual_meter(name: str, method: Method) -> Instrument:
    """Give a usual instrument of a name that `meter_names` gives, as it is read in a method."""
    _, specification, resolution, judgement = _USUAL[name]
    judgement = _JUDGED.get(method, judgement) if name == "ruler" else judgement
    return meter(specification, resolution, meter_unit(name), judgement=judgement)
