"""Which wrong accounts go with a trace."""

from __future__ import annotations

from glowtrace.bench.model import LongCoil
from glowtrace.bench.prepared import PreparedBench
from glowtrace.explain.accounts import always, crossed, electric, magnetic
from glowtrace.explain.accounts.answer import WrongAccount
from glowtrace.explain.explanation import Explanation


def wrong_accounts(prepared: PreparedBench, trace: Explanation) -> tuple[WrongAccount, ...]:
    """Give the common wrong accounts that go with a trace, the most fitting first.

    Parameters
    ----------
    prepared
        The bench: some answers need a second trace, with another accelerating voltage.
    trace
        What `explain` gave for it.

    Returns
    -------
    tuple of WrongAccount
        None where no electron flies.
    """
    if not trace.flies:
        return ()
    account, bench = trace.account, trace.bench
    has_plates = bench.plates is not None and bool(account.electric_force.any())
    has_coils = bool(account.magnetic_force.any()) and trace.settings.coil_current != 0.0
    is_axial = isinstance(bench.coils, LongCoil)
    reaches_plates = has_plates and trace.mark("Plates begin") is not None
    chosen: list[WrongAccount | None] = []
    if reaches_plates and has_coils and not is_axial:
        is_straight = crossed.is_nearly_straight(trace)
        mark = None if is_straight else crossed.far_point(trace)
        if mark is not None:
            chosen.append(crossed.stop_at_the_far_point(trace, mark))
            chosen.append(crossed.electric_turns_it(prepared, trace, mark))
        if is_straight:
            chosen.append(crossed.no_force_in_the_null(trace))
            chosen.append(crossed.any_speed_in_the_null(prepared, trace))
        chosen.append(crossed.fields_do_not_mix(trace))
    if has_coils:
        if is_axial:
            chosen.append(magnetic.pulled_to_the_axis(trace))
        chosen.append(magnetic.along_the_lines(trace))
        chosen.append(magnetic.speeds_up(trace))
        if not is_axial:
            chosen.append(magnetic.current_direction(trace))
        if not has_plates and not is_axial:
            chosen.append(magnetic.outward_force(trace))
        if not has_plates and bench.plane.glows:
            chosen.append(magnetic.slower_in_the_bend(trace))
    if reaches_plates:
        chosen.append(electric.keeps_gun_energy(trace))
        if not has_coils:
            chosen.append(electric.like_a_magnet(trace))
        if trace.model == "bench" and electric.reaches_the_middle(trace):
            chosen.append(electric.only_between_edges(trace))
    turns = trace.mark("Lowest point") or trace.mark("Highest point") or trace.mark("Turns back")
    if (has_plates or has_coils) and not is_axial and turns is None:
        chosen.append(electric.half_the_deflection(prepared, trace))
    chosen += [always.falls(trace), always.glow_is_electrons(trace), always.needs_time(trace)]
    return tuple(each for each in chosen if each is not None)
