"""Checks while switching on for the first time: what the beam must do, computed beforehand.

Each prediction is made with the forward model at a low accelerating voltage and a small current or
voltage, in the very sense in which the leads are connected; none is typed in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.plan.leads import (
    Lead,
    coil_chain,
    find_lead,
    needs_divider,
    plate_feeds,
    plates_are_fed,
)
from glowtrace.plan.trial import Trial, begin_trial, height_words, millimetres
from glowtrace.units import format_quantity

OFF_FIRST: Final = "accelerating voltage off and discharged, every other supply off; then"
_NOTICEABLE: Final = 0.5e-3
"""Height in m that the eye tells from that of the axis."""


@dataclass(frozen=True)
class SwitchOnCheck:
    """One step of switching on, with what must be seen.

    Attributes
    ----------
    number
        From 1.
    do
        What to do.
    expect
        What must be seen if the leads are right.
    if_wrong
        What to do if it is not.
    settings
        The settings that the prediction was made for.
    shift
        Predicted move (up, towards the audience) of the beam in m against the step before; None
        where the step predicts none.
    at_x
        Where along the beam it is looked for, m.
    exchange
        Numbers of the two leads that are exchanged if the beam is missing or moves the other way.
    """

    number: int
    do: str
    expect: str
    if_wrong: str
    settings: Settings
    shift: tuple[float, float] | None = None
    at_x: float | None = None
    exchange: tuple[int, int] | None = None


def switch_on_checks(
    prepared: PreparedBench, settings: Settings, leads: tuple[Lead, ...]
) -> tuple[SwitchOnCheck, ...]:
    """Compute the checks for the leads of a bench, in the order of switching on."""
    bench = prepared.bench
    trial = begin_trial(prepared, settings, leads)
    steps = [_heater_only(trial), _straight_beam(trial)]
    if bench.coils and bench.supplies.coils:
        steps.append(_coil_step(trial))
    if plates_are_fed(bench, settings):
        steps.append(_plate_step(trial, settings))
    steps.append(_whole(trial, settings))
    return tuple(replace(step, number=n) for n, step in enumerate(steps, start=1))


def _heater_only(trial: Trial) -> SwitchOnCheck:
    volts = format_quantity(trial.bench.gun.heater_voltage, "V")
    numbers = [lead.number for lead in trial.leads if lead.circuit == "heater"]
    return SwitchOnCheck(
        0,
        f"Heater on at {volts}, every other knob at zero; wait a minute or two.",
        "The heater glows; there is no beam yet.",
        f"No glow: heater off; {OFF_FIRST} look at the leads {', '.join(map(str, numbers))}.",
        trial.low.model_copy(update={"accelerating_voltage": 0.0}),
    )


def _straight_beam(trial: Trial) -> SwitchOnCheck:
    """Expect the undeflected beam; with Earth's field counted it need not be straight."""
    plus = find_lead(trial.leads, "accelerating supply +", "anode").number
    minus = find_lead(trial.leads, "accelerating supply −", "cathode").number
    return SwitchOnCheck(
        0,
        f"Accelerating voltage slowly to {_volts(trial.low.accelerating_voltage)}, nothing else.",
        f"A beam from the gun{_where(trial, trial.low)}.",
        f"No beam: {OFF_FIRST} look at the leads {plus} and {minus}, and exchange them if the "
        "anode is not at +.",
        trial.low,
        None,
        trial.x,
        (plus, minus),
    )


def _coil_step(trial: Trial) -> SwitchOnCheck:
    chain = coil_chain(trial.bench, trial.low)
    pair = (
        find_lead(trial.leads, "ammeter −", chain[0]).number,
        find_lead(trial.leads, chain[-1], "coil supply −").number,
    )
    most = 0.5 * knob_ranges(trial.bench)["coil_current"].high
    tried = trial.turned_up("coil_current", most)
    do = f"Coil current slowly to {format_quantity(tried.coil_current, 'A')}, nothing else."
    if trial.bench.plane.is_spot and not _is_seen(trial, trial.shift(tried)):
        return _focus_step(trial, tried, do, pair)
    return _moved(trial, tried, do, pair, "the coils")


def _focus_step(trial: Trial, tried: Settings, do: str, pair: tuple[int, int]) -> SwitchOnCheck:
    """Expect the spot to change its size, where the field lies along the beam."""
    other = tried.model_copy(update={"coil_reversed": not tried.coil_reversed})
    before, after, turned = (trial.spot_width(each) for each in (trial.low, tried, other))
    same = abs(after - turned) < 0.1 * max(after, turned)
    sense = (
        "the same in either sense of the current, so that no lead need be exchanged"
        if same
        else f"in the other sense of the current it would be {millimetres(turned)}"
    )
    change = "shrinks" if after < before else "grows"
    return SwitchOnCheck(
        0,
        do,
        f"The spot stays in its place and {change} from {millimetres(before)} to "
        f"{millimetres(after)} in height; {sense}.",
        f"No change at all: {OFF_FIRST} follow the current from lead {pair[0]} to lead {pair[1]}.",
        tried,
        trial.shift(tried),
        trial.x,
        None if same else pair,
    )


def _plate_step(trial: Trial, settings: Settings) -> SwitchOnCheck:
    low = trial.low
    if settings.plate_source == "accelerating supply" and not needs_divider(settings):
        tried = low.model_copy(update={"plate_voltage": low.accelerating_voltage})
        do = f"{_volts(low.accelerating_voltage)} as before, which the plates take as a whole."
    else:
        knob = knob_ranges(trial.bench)["plate_voltage"]
        tried = trial.turned_up("plate_voltage", min(0.5 * knob.high, low.accelerating_voltage))
        do = f"Plate voltage slowly to {_volts(tried.plate_voltage)}, nothing else."
    return _moved(trial, tried, do, plate_feeds(trial.leads, settings), "the plates")


def _whole(trial: Trial, settings: Settings) -> SwitchOnCheck:
    """Expect the picture that was planned."""
    return SwitchOnCheck(
        0,
        f"Accelerating voltage slowly to {_volts(settings.accelerating_voltage)}, then all else to "
        "what is planned.",
        f"The planned picture: a beam{_where(trial, settings)}.",
        f"Another picture: every knob to zero; {OFF_FIRST} compare each lead with the table.",
        settings,
        None,
        trial.x,
    )


def _moved(
    trial: Trial, tried: Settings, do: str, pair: tuple[int, int], what: str
) -> SwitchOnCheck:
    """Expect the beam to move one way, and name the leads to exchange if it moves the other way."""
    shift = trial.shift(tried)
    if shift is None:
        expect = f"The beam no longer comes as far as {millimetres(trial.x)}."
    elif not _is_seen(trial, shift):
        expect = f"The beam hardly moves: by less than it is wide {trial.place}."
    else:
        size = millimetres(max(map(abs, shift)))
        expect = f"The beam moves {_direction(shift)} by about {size} {trial.place}."
    return SwitchOnCheck(
        0,
        do,
        expect,
        f"Otherwise: {OFF_FIRST} exchange the leads {pair[0]} and {pair[1]} at {what} if it moved "
        "the other way, or look for an open lead between them if it did not move.",
        tried,
        shift,
        trial.x,
        pair,
    )


def _where(trial: Trial, settings: Settings) -> str:
    """Say where the beam's middle passes."""
    there = trial.position(settings)
    return "" if there is None else f", {trial.place} {_height(trial.bench, there[0])}"


def _is_seen(trial: Trial, shift: tuple[float, float] | None) -> bool:
    return shift is not None and max(map(abs, shift)) >= trial.least_seen


def _direction(shift: tuple[float, float]) -> str:
    up, near = shift
    if abs(up) >= abs(near):
        return "up" if up > 0 else "down"
    return "towards the audience" if near > 0 else "away from the audience"


def _height(bench: Bench, y: float) -> str:
    return "at the height of the axis" if abs(y) < _NOTICEABLE else height_words(bench, y)


def _volts(voltage: float) -> str:
    return format_quantity(voltage, "V")
