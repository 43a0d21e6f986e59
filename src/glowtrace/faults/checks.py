"""Which checks suit a bench at its settings."""

from __future__ import annotations

from collections.abc import Collection

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.check import Check
from glowtrace.faults.inspections import (
    PLATE_CONTINUITY,
    PROBE,
    inspections,
    with_everything_off,
)
from glowtrace.faults.moves import move
from glowtrace.faults.variations import AS_SET, variations


def checks_for(
    bench: Bench, settings: Settings, keys: Collection[str] | None = None
) -> tuple[Check, ...]:
    """Give the checks that suit a bench at its settings, the safe ones first.

    Parameters
    ----------
    bench, settings
        What stands there, and what is set on it.
    keys
        The variations that have been computed; those of `variations` when left out.
    """
    states = {state.key: state for state in variations(bench, settings)}
    wanted = states.keys() if keys is None else states.keys() & set(keys)
    found = [*inspections(bench, settings), *with_everything_off(bench)]
    found += [move(bench, states[key]) for key in states if key in wanted - {AS_SET}]
    if bench.plates:
        found.append(PLATE_CONTINUITY)
    found.append(PROBE)
    return tuple(sorted(found, key=lambda check: check.safety))
