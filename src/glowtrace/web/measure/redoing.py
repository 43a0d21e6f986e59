"""A measurement that was saved as JSON, on its way back into the page."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from glowtrace.bench.identity import bench_hash
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known
from glowtrace.measure.export import read_measurement
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tube import TUBE_PARAMETERS
from glowtrace.web.measure.constants_form import FOUND


@dataclass(frozen=True)
class Redone:
    """Readings and choices as they were when a measurement was saved."""

    readings: Table
    model: Model
    robust: Robust
    wants_constants: bool
    constants: Mapping[str, str]
    """What was known of them, as a person writes it."""


def redone(text: str, bench: Bench) -> Redone:
    """Read a saved measurement for the bench that it was made on.

    Raises
    ------
    GlowtraceError
        It cannot be read, was made on another bench, or has several tables.
    """
    told = read_measurement(text)
    if bench_hash(told.bench) != bench_hash(bench):
        same = "a changed description of" if told.bench.name == bench.name else "the bench"
        raise GlowtraceError(
            f'The measurement was made on {same} "{told.bench.name}", not on the one chosen above: '
            "choose that one and open the file again, or use the command glowtrace redo, which "
            "takes the bench from the file."
        )
    if len(told.tables) != 1:
        raise GlowtraceError(
            f"The measurement has {len(told.tables)} tables; this page takes one. The command "
            "glowtrace redo fits them together."
        )
    wants_constants = "specific_charge" in told.known
    constants = {
        name: _known_text(name, each)
        for name, each in told.known.items()
        if name in TUBE_PARAMETERS
        and name != "specific_charge"
        and not (wants_constants and name in FOUND)
    }
    return Redone(told.tables[0], told.model, told.robust, wants_constants, constants)


def _known_text(name: str, known: Known) -> str:
    """Write what is known of a constant so that it reads back."""
    unit = TUBE_PARAMETERS[name][1].removesuffix("1")
    if math.isinf(known.uncertainty):
        return "free"
    if known.value is None:
        return f"± {known.uncertainty:.12g} {unit}".strip()
    if known.uncertainty == 0:
        return f"{known.value:.12g} {unit}".strip()
    # Without exponents: one behind would count for both numbers when it is read back.
    both = (f"{Decimal(repr(each)):f}" for each in (known.value, known.uncertainty))
    return f"{' ± '.join(both)} {unit}".strip()
