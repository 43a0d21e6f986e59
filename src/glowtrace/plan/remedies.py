"""Changes with which a refused goal is reached: each is tried on the changed bench.

More turns scale the coils' field and their resistance exactly, so nothing has to be solved anew.
Plates that stand elsewhere, in another tube, have new fields; these are computed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product
from typing import Literal

from glowtrace.bench.checking import change
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Check, Goal, Knob
from glowtrace.errors import BenchError
from glowtrace.plan.answer import Binding, Remedy
from glowtrace.plan.candidates import Candidate, bases, correct_for_bundle, find, solved_knobs
from glowtrace.plan.limits import is_allowed, usual_range
from glowtrace.units import format_quantity
from glowtrace.watching import Watch

HowThorough = Literal["none", "quick", "all"]

_TO_SPARE = 1.1
"""Factor by which a remedy is made stronger than just needed."""
_SMALLEST_GAP = 0.4
"""Share of the gap below which it would be another demonstration."""
_OTHER_VOLTAGES = (0.95, 0.9, 1.1, 0.8, 0.7, 1.4, 0.6, 0.5, 2.0, 0.35, 0.2, 0.1)
"""Factors on a fixed accelerating voltage that are tried, the smallest changes first."""
_TRIES = (1.0, 1.3, 1.8)
"""How much more of a change is tried where what is just needed turns out too little."""


def remedies(
    prepared: PreparedBench,
    goal: Goal,
    held: Mapping[str, object],
    model: Model,
    best: Candidate,
    binding: Binding,
    how: HowThorough,
    watch: Watch,
) -> tuple[Remedy, ...]:
    """Give every change found to work, the easiest first; "quick" moves no plates."""
    if how == "none":
        return ()
    first, second = watch.stretch(0.0, 0.1), watch.stretch(0.1, 0.2)
    found = [*_other_accelerating_voltage(prepared, goal, held, model, first)]
    found += _freed_knobs(prepared, goal, held, model, second)
    if binding.knob is None or not binding.needed or not binding.limit:
        return tuple(found)
    watch.note(0.2, "changes of the bench that would help")
    factor = binding.needed / binding.limit
    if factor > 1.0 and binding.knob == "coil_current":
        found += _first(_more_turns(prepared, goal, model, best, factor))
    if factor > 1.0 and binding.knob == "plate_voltage" and how == "all":
        found += _first(
            _closer_plates(prepared, goal, model, best, factor, watch.stretch(0.3, 0.9))
        )
    if factor > 1.0:
        found += _first(_stronger_supply(prepared, goal, model, best, binding.knob))
    return tuple(found)


def _first(tries: Iterator[Remedy]) -> list[Remedy]:
    remedy = next(tries, None)
    return [] if remedy is None else [remedy]


def _works(
    prepared: PreparedBench, goal: Goal, base: Settings, solved: tuple[Knob, ...], model: Model
) -> tuple[Settings, Check] | None:
    """Solve and check on one bench; None where it does not work."""
    candidate = find(prepared, goal, base, solved, model)
    if not candidate.is_solved or not is_allowed(prepared.bench, candidate.settings):
        return None
    if model == "bench":
        candidate = correct_for_bundle(prepared, goal, candidate, model)
    check = goal.is_met(prepared, candidate.settings, model)
    return (candidate.settings, check) if check.ok else None


def _other_accelerating_voltage(
    prepared: PreparedBench, goal: Goal, held: Mapping[str, object], model: Model, watch: Watch
) -> Iterator[Remedy]:
    """Try other accelerating voltages, the nearest first, where that knob is fixed."""
    given = held.get("accelerating_voltage")
    if not isinstance(given, float):
        return
    low, high, _ = usual_range(prepared.bench, "accelerating_voltage")
    for number, factor in enumerate(_OTHER_VOLTAGES):
        watch.note(number / len(_OTHER_VOLTAGES), "other accelerating voltages")
        voltage = min(high, max(low, float(f"{factor * given:.1e}")))
        others = {**held, "accelerating_voltage": voltage}
        solved = solved_knobs(goal, others)
        for base in bases(prepared.bench, goal, others):
            watch.require_going()
            works = _works(prepared, goal, base, solved, model)
            if works is not None:
                turn = "lower" if voltage < given else "raise"
                to = format_quantity(voltage, "V")
                yield Remedy(f"{turn} the accelerating voltage to {to}", {}, *works)
                return


def _freed_knobs(
    prepared: PreparedBench, goal: Goal, held: Mapping[str, object], model: Model, watch: Watch
) -> Iterator[Remedy]:
    """Try with one fixed setting left free, other than the accelerating voltage."""
    for number, name in enumerate(held):
        watch.note(number / len(held), "fixed settings left free")
        if name == "accelerating_voltage":
            continue
        others = {key: value for key, value in held.items() if key != name}
        solved = solved_knobs(goal, others)
        for base in bases(prepared.bench, goal, others):
            watch.require_going()
            works = _works(prepared, goal, base, solved, model)
            if works is not None:
                words = name.replace("_", " ")
                yield Remedy(f"do not fix the {words} at {held[name]}", {}, *works)
                break


def _more_turns(
    prepared: PreparedBench, goal: Goal, model: Model, best: Candidate, factor: float
) -> Iterator[Remedy]:
    """Try more turns of the same wire: field and resistance grow with their number.

    The voltage that drives the smaller current stays what it was for the larger one, so where the
    supply does not reach it, one that does is tried with them.
    """
    bench = prepared.bench
    if bench.coils is None or bench.supplies.coils is None:
        return
    driving = best.settings.coil_current * bench.coils.resistance * _TO_SPARE
    supplies: dict[str, dict[str, object]] = {"": {}}
    if driving > bench.supplies.coils.max_voltage:
        more_volts = f", and take a coil supply of {format_quantity(driving, 'V')}"
        supplies[more_volts] = {"supplies.coils.max_voltage": driving}
    for (and_supply, supply), more in product(supplies.items(), _TRIES):
        turns = math.ceil(bench.coils.turns * factor * _TO_SPARE * more)
        share = turns / bench.coils.turns
        coils = {"coils.turns": turns, "coils.resistance": bench.coils.resistance * share}
        changes: dict[str, object] = {**coils, **supply}
        changed = _changed(bench, changes)
        if changed is None:
            return
        fields = replace(prepared.fields, flux=prepared.fields.flux * share)
        stronger = PreparedBench(changed, fields, prepared.earth)
        start = _scaled(best.settings, "coil_current", 1 / share)
        works = _works(stronger, goal, start, best.solved, model)
        if works is not None:
            text = f"wind {turns} turns instead of {bench.coils.turns}{and_supply}"
            yield Remedy(text, changes, *works, f"{turns} turns")


def _closer_plates(
    prepared: PreparedBench,
    goal: Goal,
    model: Model,
    best: Candidate,
    factor: float,
    watch: Watch,
) -> Iterator[Remedy]:
    """Try plates that stand closer: the field of a voltage grows as the gap shrinks."""
    plates = prepared.bench.plates
    if plates is None:
        return
    share = 1 / (factor * _TO_SPARE)
    if share < _SMALLEST_GAP:
        return
    gap = round(plates.gap * share, 4)
    changes = {"plates.gap": gap}
    changed = _changed(prepared.bench, changes)
    if changed is None or goal.misfit(changed) is not None:
        return
    start = _scaled(best.settings, "plate_voltage", share)
    works = _works(prepare(changed, progress=watch.note), goal, start, best.solved, model)
    if works is not None:
        closer, now = format_quantity(gap, "m"), format_quantity(plates.gap, "m")
        text = f"take a tube with plates {closer} apart instead of {now}"
        yield Remedy(text, changes, *works, f"plates {closer} apart")


def _stronger_supply(
    prepared: PreparedBench, goal: Goal, model: Model, best: Candidate, knob: Knob
) -> Iterator[Remedy]:
    """Try a supply that gives what is needed, where the apparatus itself stands it."""
    bench, needed = prepared.bench, float(getattr(best.settings, knob)) * _TO_SPARE
    changes: dict[str, object] = {}
    if knob == "coil_current" and bench.supplies.coils and bench.coils:
        supply = bench.supplies.coils
        changes = {
            "supplies.coils.max_current": max(needed, supply.max_current),
            "supplies.coils.max_voltage": max(needed * bench.coils.resistance, supply.max_voltage),
        }
        volts = format_quantity(needed * bench.coils.resistance, "V")
        named = f"coil supply of {format_quantity(needed, 'A')}"
        text = f"take a {named} at {volts}"
    elif knob == "plate_voltage" and bench.supplies.plates:
        changes = {"supplies.plates.max_voltage": needed}
        named = f"plate supply of {format_quantity(needed, 'V')}"
        text = f"take a {named}"
    else:
        return
    changed = _changed(bench, changes)
    if changed is None:
        return
    stronger = PreparedBench(changed, prepared.fields, prepared.earth)
    works = _works(stronger, goal, best.settings, best.solved, model)
    if works is not None:
        yield Remedy(text, changes, *works, named)


def _scaled(settings: Settings, knob: Knob, factor: float) -> Settings:
    return settings.model_copy(update={knob: factor * float(getattr(settings, knob))})


def _changed(bench: Bench, changes: Mapping[str, object]) -> Bench | None:
    """Give the changed bench; None where its parts no longer fit together."""
    try:
        return change(bench, changes)
    except BenchError:
        return None
