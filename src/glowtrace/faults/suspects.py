"""The suspects: every fault that a bench can have, with the pictures that it would make.

For each fault its unknown size is drawn many times; for each draw the picture is computed as set
and for every variation of the knobs that a check would make. The table serves all sightings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.faults.appearance import Appearance
from glowtrace.faults.check import Check
from glowtrace.faults.checks import checks_for
from glowtrace.faults.condition import Condition, condition_in_order
from glowtrace.faults.fault import Change, Fault, Scene
from glowtrace.faults.library import faults_for
from glowtrace.faults.looks import Look, stacked
from glowtrace.faults.statement import Statement, differs
from glowtrace.faults.statements import statements_for
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.table_files import (
    Table,
    has_table,
    load_table,
    store_table,
    table_folder,
    table_key,
)
from glowtrace.faults.tube import FaultyTube, faulty_tube
from glowtrace.faults.variations import Variation, variations
from glowtrace.watching import Progress

Array = NDArray[np.float64]

USUAL_DRAWS = 32
"""Sizes that are drawn for a fault, times its own factor."""
_SHOWS = 0.25
"""Part of the draws of a fault below which it counts as hidden."""


@dataclass(frozen=True, eq=False)
class Suspects:
    """All that a bench at its settings can suffer from; made by `prepare_suspects`.

    Attributes
    ----------
    tube
        The forward model that they were computed with.
    settings
        What knobs and meters say.
    suspects
        One for each fault that has pictures, in the order of the library.
    faults
        All faults, "something else" included.
    variations
        The states of the knobs that were computed, by name.
    usual
        What would be seen in each of them if nothing were wrong, as one draw of each quantity.
    statements
        What can be said about the picture.
    checks
        What can be done next.
    extent
        (u0, u1, v0, v1) of the screen in m.
    """

    tube: FaultyTube
    settings: Settings
    suspects: tuple[Suspect, ...]
    faults: tuple[Fault, ...]
    variations: Mapping[str, Variation]
    usual: Mapping[str, Look]
    statements: tuple[Statement, ...]
    checks: tuple[Check, ...]
    extent: tuple[float, float, float, float]

    @property
    def bench(self) -> Bench:
        """What stands there."""
        return self.tube.bench

    @cached_property
    def hidden(self) -> tuple[Fault, ...]:
        """Faults that mostly do not show at these settings: turn other knobs up to see them."""
        shows = {
            one.fault.key: differs(self.statements, one.looks, self.usual).mean()
            for one in self.suspects
        }
        return tuple(
            one
            for one in self.faults
            if shows.get(one.key, 1.0) < _SHOWS and one.group != "nothing"
        )

    @cached_property
    def expected(self) -> Mapping[str, Appearance]:
        """What would be seen in each state if nothing were wrong."""
        return {key: look.one(0) for key, look in self.usual.items()}

    def suspect(self, key: str) -> Suspect:
        """Give a suspect by the name of its fault."""
        return next(one for one in self.suspects if one.fault.key == key)


def prepare_suspects(
    prepared: PreparedBench,
    settings: Settings,
    *,
    seed: int = 0,
    draws: int = USUAL_DRAWS,
    progress: Progress | None = None,
    threads: int | None = None,
    folder: Path | None = None,
) -> Suspects:
    """Compute the pictures of all faults, or load them where they were kept.

    Parameters
    ----------
    prepared, settings
        The bench, and what its knobs and meters say.
    seed
        Another seed draws other sizes of the faults.
    draws
        How many sizes of each fault, times the fault's own factor; at least 1.
    progress
        Called with the fraction done and a few words; what it raises ends the work.
    threads
        On how many cores; two when left out.
    folder
        Where they are kept; `table_folder` when left out.
    """
    report = progress or (lambda fraction, words: None)
    bench, folder = prepared.bench, folder or table_folder()
    key = table_key(bench, settings, seed, draws)
    table = load_table(folder, key)
    tube = faulty_tube(prepared, progress=lambda done, words: report(0.2 * done, words))
    states, faults = variations(bench, settings), faults_for(bench, settings)
    drawn = {
        fault.key: draw_changes(tube, settings, fault, max(1, round(draws * fault.draws)), seed)
        for fault in faults
        if fault.draw is not None
    }
    if table is None:
        table = _computed(tube, states, {each.key: each.title for each in faults}, drawn,
                          lambda done, words: report(0.2 + 0.8 * done, words), threads)  # fmt: skip
        store_table(folder, key, table)
    found = tuple(
        Suspect(
            fault,
            tuple(condition_in(tube, states[0], change) for change in drawn[fault.key]),
            table.faults[fault.key],
        )
        for fault in faults
        if fault.draw is not None
    )
    report(1.0, "all faults ready")
    u0, v0, u1, v1 = prepared.plane.rectangle
    keys = tuple(state.key for state in states)
    return Suspects(
        tube,
        settings,
        found,
        faults,
        {state.key: state for state in states},
        table.expected,
        statements_for(bench, settings),
        checks_for(bench, settings, keys),
        (u0, u1, v0, v1),
    )


def is_kept(
    prepared: PreparedBench, settings: Settings, *, seed: int = 0, draws: int = USUAL_DRAWS
) -> bool:
    """Say whether the pictures of all faults were computed before and are at hand."""
    return has_table(table_folder(), table_key(prepared.bench, settings, seed, draws))


def _computed(
    tube: FaultyTube,
    states: tuple[Variation, ...],
    titles: Mapping[str, str],
    drawn: Mapping[str, Sequence[Change]],
    report: Progress,
    threads: int | None,
) -> Table:
    """Compute the pictures of the bench in order and of each fault."""
    usual = _off_by(tube.errors.mean)
    expected = {state.key: stacked([appearance_in(tube, state, usual)]) for state in states}
    found = {}
    with ThreadPoolExecutor(threads or 2) as workers:
        for n, (key, changes) in enumerate(drawn.items()):
            report(n / len(drawn), titles[key])
            found[key] = looks_of(tube, states, changes, workers)
    return Table(expected, found)


def draw_changes(
    tube: FaultyTube, settings: Settings, fault: Fault, count: int, seed: int
) -> list[Change]:
    """Draw sizes of a fault, each together with the small errors that every bench has."""
    if fault.draw is None:
        return []
    scene = Scene(tube.bench, settings, tube.induced)
    rng = np.random.default_rng([abs(seed), int(seed < 0), *fault.key.encode()])
    errors = tube.errors
    return [_after(_off_by(errors.drawn(rng)), fault.draw(scene, rng)) for _ in range(count)]


def appearance_in(tube: FaultyTube, state: Variation, change: Change, seed: int = 0) -> Appearance:
    """Give what is seen in a state of the knobs with a fault."""
    return tube.appearance(condition_in(tube, state, change), state.settings, seed)


def condition_in(tube: FaultyTube, state: Variation, change: Change) -> Condition:
    """Give what the tube gets in a state of the knobs with a fault."""
    condition = change(condition_in_order(tube.bench, state.settings, tube.prepared.earth))
    if state.swaps_one_coil:
        tail, tip = condition.coils
        condition = replace(condition, coils=(tail, -tip))
    return condition.turned(state.turned)


def look_at(
    tube: FaultyTube,
    states: tuple[Variation, ...],
    fault: Fault,
    changes: Sequence[Change],
    workers: ThreadPoolExecutor | None = None,
) -> Suspect:
    """Compute what a fault looks like at the sizes given, in every state of the knobs."""
    conditions = tuple(condition_in(tube, states[0], change) for change in changes)
    return Suspect(fault, conditions, looks_of(tube, states, changes, workers))


def looks_of(
    tube: FaultyTube,
    states: tuple[Variation, ...],
    changes: Sequence[Change],
    workers: ThreadPoolExecutor | None = None,
) -> dict[str, Look]:
    """Compute what changes of the tube look like, in every state of the knobs."""

    def see(draw: int) -> list[Appearance]:
        return [appearance_in(tube, state, changes[draw], draw) for state in states]

    places = range(len(changes))
    seen = list(workers.map(see, places) if workers else map(see, places))
    columns = zip(states, zip(*seen, strict=True), strict=True)
    return {state.key: stacked(column) for state, column in columns}


def _off_by(errors: Array) -> Change:
    """Give what it does that the six numbers of `ActingErrors` are off."""
    gun, plates, coils = 1.0 + errors[:3]
    stray = errors[3:]

    def change(condition: Condition) -> Condition:
        upper, lower = condition.plates
        tail, tip = condition.coils
        x, y, z = (float(a) for a in np.array(condition.room_flux) + stray)
        return replace(
            condition,
            accelerating_voltage=float(gun) * condition.accelerating_voltage,
            plates=(float(plates) * upper, float(plates) * lower),
            coils=(float(coils) * tail, float(coils) * tip),
            room_flux=(x, y, z),
        )

    return change


def _after(first: Change, second: Change) -> Change:
    return lambda condition: second(first(condition))
