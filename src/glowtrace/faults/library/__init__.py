"""The library of faults, and which of them a bench can have."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.fault import Fault
from glowtrace.faults.library.coils import COIL_FAULTS
from glowtrace.faults.library.nothing import IN_ORDER, SOMETHING_ELSE
from glowtrace.faults.library.plates import PLATE_FAULTS
from glowtrace.faults.library.supplies import SUPPLY_FAULTS
from glowtrace.faults.library.surroundings import SURROUNDING_FAULTS

FAULTS: Final = (
    IN_ORDER,
    *COIL_FAULTS,
    *PLATE_FAULTS,
    *SUPPLY_FAULTS,
    *SURROUNDING_FAULTS,
    SOMETHING_ELSE,
)
"""Every fault there is, "nothing wrong" first and "something else" last."""


def faults_for(bench: Bench, settings: Settings) -> tuple[Fault, ...]:
    """Give the faults that a bench at these settings can have, in the order of the library."""
    return tuple(fault for fault in FAULTS if fault.applies(bench, settings))
