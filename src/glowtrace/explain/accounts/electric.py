"""Wrong accounts of what the plates and the accelerating voltage do."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.explain.accounts.answer import Told, Verdict, WrongAccount
from glowtrace.explain.explanation import Explanation
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.writing import (
    angle_text,
    energy_text,
    length_text,
    percent_text,
)
from glowtrace.units import fixed, format_quantity

_ENERGY_KEPT = 0.005
"""Part of the energy below which it counts as what the accelerating voltage gave."""
_AS_EXPECTED = 0.04
_ASLANT = math.radians(3.0)
"""Angle by which the electric force turns from which it is told why."""
_EDGES_TAKE = 1.0
"""Energy in eV that sharp edges give away or take, from which it is told."""


def keeps_gun_energy(trace: Explanation) -> WrongAccount:
    """Behind the anode the electrons keep the energy e V_a."""
    account, settings = trace.account, trace.settings
    gun = ELEMENTARY_CHARGE * settings.accelerating_voltage
    at = int(np.abs(account.kinetic_energy - gun).argmax())
    is_mid = reaches_the_middle(trace)
    middle = _middle(trace) if is_mid else at
    where = "In the middle of the plates" if is_mid else "Where it changes most"
    there, most = float(account.kinetic_energy[middle]), float(account.kinetic_energy[at])
    potential = float(trace.ray.potential[middle])
    is_tied = settings.plate_tie != "symmetric"
    is_kept = abs(most - gun) < _ENERGY_KEPT * gun
    why = (
        "one plate is tied to the anode, so the middle of the gap is not at the anode's potential"
        if is_tied
        else "the plates stand at equal voltages above and below the anode, so on the middle line "
        "the potential is that of the anode; off it, it is not"
    )
    verdict: Verdict = "partly true" if is_kept else "not true"
    ignored = (
        " The textbook's uniform field leaves the potential of the gap out; the bench model does "
        "not."
        if trace.model == "ideal" and is_tied
        else " The textbook's sharp edges give and take no energy, so that it does not go with the "
        "potential exactly."
        if abs(there - gun - ELEMENTARY_CHARGE * potential) > _EDGES_TAKE * ELEMENTARY_CHARGE
        else ""
    )
    return WrongAccount(
        key="gun energy",
        claim=(
            "Behind the anode the electrons have the energy of the accelerating voltage, whatever "
            "the plates do."
        ),
        verdict=verdict,
        short=(
            "True here to within half a per cent, as the path stays near the anode's potential."
            if is_kept
            else "The plates give and take energy too: the potential at the place decides."
        ),
        answer=(
            f"The gun gives {energy_text(gun)}. {where} this electron has "
            f"{energy_text(there)}, where the potential is {_volts(potential)}; the largest "
            f"difference on its way is {energy_text(most - gun, signed=True)}. Here {why}.{ignored}"
        ),
        numbers=(
            Told("energy from the gun", energy_text(gun)),
            Told("energy there", energy_text(there)),
            Told("potential there", _volts(potential)),
        ),
    )


def only_between_edges(trace: Explanation) -> WrongAccount:
    """The plates act between their edges and nowhere else."""
    plates = trace.bench.plates
    assert plates is not None
    x = trace.ray.position[:, 0]
    strength = np.abs(trace.ray.electric_field[:, 1])
    middle = float(strength[_middle(trace)])
    edge = float(np.interp(plates.start, x, strength)) / middle
    half_way = float(np.interp(plates.start / 2, x, strength)) / middle
    before = float(np.interp(plates.start, x, trace.ray.position[:, 1]))
    slope = float(np.interp(plates.start, x, trace.ray.velocity[:, 1] / trace.ray.velocity[:, 0]))
    uniform = abs(trace.settings.plate_voltage) / plates.gap
    return WrongAccount(
        key="sharp edges",
        claim="The plates' field begins and ends at their edges.",
        verdict="not true",
        short="It fades over about the distance between the plates, outside and inside.",
        answer=(
            f"At the edge that faces the gun the field across the beam is {percent_text(edge)} of "
            f"that in the middle of the plates, and half way from there to the aperture still "
            f"{percent_text(half_way)}. "
            f"When the electron comes to the edge it has already moved by {length_text(before)} "
            f"and flies at {angle_text(float(np.arctan(slope)))} to the axis. And in the middle "
            f"the field is {percent_text(middle / uniform)} of voltage over distance."
        ),
        numbers=(
            Told("field at the edge", percent_text(edge)),
            Told("field half way to the aperture", percent_text(half_way)),
            Told("field in the middle, of V/d", percent_text(middle / uniform)),
        ),
    )


def like_a_magnet(trace: Explanation) -> WrongAccount | None:
    """Plates bend the beam into an arc of a circle, as coils do."""
    plates = trace.bench.plates
    assert plates is not None
    x, force = trace.account.position[:, 0], trace.account.electric_force
    edge = min(plates.gap / 2, plates.length / 4)
    strong = force[(x > plates.start + edge) & (x < plates.start + plates.length - edge)]
    if len(strong) == 0:
        return None
    units = strong / np.linalg.norm(strong, axis=1)[:, None]
    spread = float(np.arccos(np.clip(units @ units[0], -1.0, 1.0)).max())
    work = float(trace.account.electric_work[-1])
    aslant = (
        " That it turns at all comes from the ends of the plates, where the change from the "
        "anode's potential to that of the gap pulls along the beam."
        if spread > _ASLANT
        else ""
    )
    return WrongAccount(
        key="circle from plates",
        claim="Plates bend the beam into a part of a circle, just as coils do.",
        verdict="not true",
        short=(
            "The electric force keeps its direction: a parabola, as with a stone that is thrown. "
            "Only a force that turns with the flight makes a circle."
        ),
        answer=(
            f"Well between the plates the electric force turns by no more than "
            f"{angle_text(spread)} along this path, however the electron flies.{aslant} It also "
            "works: "
            f"{energy_text(work, signed=True)} up to the end of the path, which a magnetic force "
            "never does."
        ),
        numbers=(
            Told("the electric force turns by", angle_text(spread)),
            Told("its work", energy_text(work, signed=True)),
        ),
    )


def half_the_deflection(prepared: PreparedBench, trace: Explanation) -> WrongAccount | None:
    """Twice the accelerating voltage gives half the deflection, always."""
    settings, gun = trace.settings, trace.bench.gun
    doubles = 2.0 * settings.accelerating_voltage <= gun.max_accelerating_voltage
    factor = 2.0 if doubles else 0.5
    changed = {"accelerating_voltage": factor * settings.accelerating_voltage}
    is_shared = settings.plate_source == "accelerating supply" and bool(settings.plate_voltage)
    if is_shared:
        changed["plate_voltage"] = factor * settings.plate_voltage
    other = followed_ray(prepared, settings.model_copy(update=changed), model=trace.model)
    x = 0.9 * min(float(ray.position[:, 0].max()) for ray in (trace.ray, other))
    if len(other.time) < 2 or x <= 0.0:
        return None
    now, then = (_first_height(ray.position, x) for ray in (trace.ray, other))
    if abs(now) < 2e-4:  # nothing to compare with
        return None
    ratio = then / now
    expected = 1.0 / factor
    holds = abs(ratio / expected - 1.0) < _AS_EXPECTED
    has_plates, has_coils = bool(settings.plate_voltage), bool(settings.coil_current)
    if is_shared and not has_coils:
        why = (
            "Here the plates hang on the same supply, so that their voltage changes along: field "
            "and energy grow together, and the trace stays where it is."
        )
    elif has_plates and has_coils:
        why = "Plates and coils act together, and they depend on the speed in different ways."
    elif has_coils:
        why = (
            "The coils' deflection goes with one over the speed, that is one over the square root "
            "of the voltage: a factor of "
            f"{'0.71 for twice' if doubles else '1.41 for half'} the voltage, as long as it is "
            "small."
        )
    elif holds:
        longer = "a shorter time, and on a faster" if doubles else "a longer time, and on a slower"
        why = (
            f"With plates on a supply of their own it holds: the same force acts for {longer} "
            "electron."
        )
    else:
        why = (
            "What the potential of the gap adds to the speed stays the same, so the electrons' "
            f"energy between the plates is not {'doubled' if doubles else 'halved'}."
        )
    twice = "twice" if doubles else "half"
    name = "Twice" if doubles else "Half"
    claim = (
        "Twice the accelerating voltage halves the deflection."
        if doubles
        else "Half the accelerating voltage doubles the deflection."
    )
    return WrongAccount(
        key="half the deflection",
        claim=claim,
        verdict="true here" if holds else "not true",
        short=(
            "True for plates on a supply of their own and no coil current, as here."
            if holds
            else "True only without coils, and for plates that stand evenly above and below the "
            "anode's potential on a supply of their own."
        ),
        answer=(
            f"{name} the voltage, {format_quantity(changed['accelerating_voltage'], 'V')}, "
            f"computed in the same fields: at x = {length_text(x)} the trace goes from "
            f"{length_text(now)} to {length_text(then)}, a factor of {_factor(ratio)}. {why}"
        ),
        numbers=(
            Told("height now", length_text(now)),
            Told(f"height with {twice} the voltage", length_text(then)),
            Told("factor", _factor(ratio)),
        ),
    )


def _first_height(position: NDArray[np.float64], x: float) -> float:
    """Height in m where a path first comes to x."""
    after = int((position[:, 0] >= x).argmax())
    a, b = position[max(after - 1, 0)], position[after]
    part = (x - a[0]) / (b[0] - a[0]) if b[0] != a[0] else 0.0
    return float(a[1] + part * (b[1] - a[1]))


def _middle(trace: Explanation) -> int:
    """Give the point of the path nearest to the middle of the plates."""
    plates = trace.bench.plates
    assert plates is not None
    return int(np.abs(trace.ray.position[:, 0] - plates.start - plates.length / 2).argmin())


def reaches_the_middle(trace: Explanation) -> bool:
    """Whether the path reaches the middle of the plates."""
    plates = trace.bench.plates
    assert plates is not None
    return float(trace.ray.position[:, 0].max()) > plates.start + plates.length / 2


def _factor(ratio: float) -> str:
    return fixed(ratio, 2)


def _volts(potential: float) -> str:
    sign = "−" if potential < 0 else "+"
    return f"{sign}{abs(potential):.0f} V" if abs(potential) >= 0.5 else "0 V"
