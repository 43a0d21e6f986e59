"""Wrong accounts of what a magnetic field does."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import LongCoil
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.explain.accounts.answer import Told, WrongAccount
from glowtrace.explain.explanation import Explanation
from glowtrace.explain.writing import (
    angle_text,
    energy_text,
    force_text,
    length_text,
    percent_text,
    speed_text,
    time_text,
)
from glowtrace.units import scientific

Array = NDArray[np.float64]


def speeds_up(trace: Explanation) -> WrongAccount:
    """The magnetic field makes the electrons faster."""
    account = trace.account
    start, end = float(account.kinetic_energy[0]), float(account.kinetic_energy[-1])
    work = float(np.abs(account.magnetic_work).max())
    gained = end - start
    noise = 1e-9 * start
    is_kept = abs(gained) < 1e-6 * start
    kept = (
        f"The kinetic energy is {energy_text(start)} at the aperture and the same at the end."
        if is_kept
        else f"The kinetic energy changes by {energy_text(gained, signed=True)} on the way, and "
        "all of it is the work of the electric force."
    )
    return WrongAccount(
        key="speeds up",
        claim="The magnetic field makes the electrons faster.",
        verdict="not true",
        short="The magnetic force only turns the velocity. It never changes the speed.",
        answer=(
            "The magnetic force stands across the velocity at every point, at "
            f"{angle_text(_angle(account.magnetic_force, account.velocity))}, so it does no work: "
            f"{energy_text(work if work > noise else 0.0)} along the whole path. {kept}"
        ),
        numbers=(
            Told("work of the magnetic force", energy_text(work if work > noise else 0.0)),
            Told("work of the electric force", energy_text(0.0 if is_kept else gained)),
        ),
    )


def along_the_lines(trace: Explanation) -> WrongAccount:
    """The force points along the field lines, or towards the coils."""
    account, ray = trace.account, trace.ray
    angle = _angle(account.magnetic_force, ray.flux_density)
    if isinstance(trace.bench.coils, LongCoil):
        claim = "The coil pulls the electrons along its field lines, towards the screen."
        along = ray.velocity[:, 0]
        what = (
            f"The speed along the axis is {speed_text(float(along[0]))} at the aperture and "
            f"{speed_text(float(along[-1]))} at the end: no pull along the coil."
        )
        told = Told("speed along the axis at the end", speed_text(float(along[-1])))
    else:
        claim = "The coils pull the electrons towards them, along the field lines."
        aside = float(account.position[-1, 2] - account.position[0, 2])
        aside = 0.0 if abs(aside) < 1e-9 else aside
        what = (
            "The field lines run across the tube, from one coil to the other. On its whole way "
            f"the electron moves {'by ' + length_text(abs(aside)) if aside else 'not at all'} "
            "towards a coil."
        )
        told = Told("moved towards a coil", length_text(abs(aside)))
    return WrongAccount(
        key="along the lines",
        claim=claim,
        verdict="not true",
        short="The magnetic force stands across the field lines, and across the flight.",
        answer=(
            f"Between the magnetic force and the field there are {angle_text(angle)} at every "
            f"point of this path. {what}"
        ),
        numbers=(Told("angle between force and field", angle_text(angle)), told),
    )


def current_direction(trace: Explanation) -> WrongAccount:
    """The hand rule is used with the direction of flight as that of the current."""
    account = trace.account
    at = int(np.linalg.norm(account.magnetic_force, axis=1).argmax())
    force, velocity = account.magnetic_force[at], account.velocity[at]
    flux = trace.ray.flux_density[at]
    return WrongAccount(
        key="current",
        claim=(
            "The right-hand rule with the thumb along the flight tells where the beam bends: "
            "the electrons fly like the current."
        ),
        verdict="not true",
        short=(
            "Electrons are negative: the current runs against the flight. Right hand: thumb "
            "against the flight, fingers along the field, and the palm pushes as the force does."
        ),
        answer=(
            f"Where the magnetic force is strongest the electron flies {_way(velocity)}, and the "
            f"field points {_way(flux)}. The current of this beam therefore runs "
            f"{_way(-velocity)}, and the force, {force_text(float(np.linalg.norm(force)))}, "
            f"points {_way(force)}. The rule for a current along the flight would say "
            f"{_way(-force)}."
        ),
        numbers=(
            Told("flight", _way(velocity)),
            Told("magnetic field", _way(flux)),
            Told("force", _way(force)),
        ),
    )


def outward_force(trace: Explanation) -> WrongAccount:
    """On the circle a centrifugal force balances the magnetic one."""
    account = trace.account
    at = len(account.time) // 2
    force = float(np.linalg.norm(account.force[at]))
    momentum = float(np.linalg.norm(account.momentum[at]))
    radius = momentum * float(account.speed[at]) / force
    return WrongAccount(
        key="outward force",
        claim="On the circle an outward force balances the magnetic force.",
        verdict="not true",
        short="One force acts, and it points inwards. Balanced forces would make a straight line.",
        answer=(
            f"Half way along, the only force is the magnetic one, {force_text(force)}, towards the "
            "middle of the circle. A mass that runs round needs such a force: momentum times speed "
            f"over it gives {length_text(radius)}, the radius of the bend there. If an outward "
            "force balanced it, nothing would turn the electron."
        ),
        numbers=(
            Told("force", force_text(force)),
            Told("momentum", scientific(momentum, "kg m/s")),
            Told("radius of the bend", length_text(radius)),
        ),
    )


def pulled_to_the_axis(trace: Explanation) -> WrongAccount:
    """The long coil focuses by pulling the electrons to the axis."""
    account, ray = trace.account, trace.ray
    at = int(np.linalg.norm(account.position[:, 1:], axis=1).argmax())
    outwards = account.position[at, 1:]
    distance = float(np.linalg.norm(outwards))
    flux = float(np.abs(ray.flux_density[:, 0]).mean())
    gamma = float(account.gamma[0])
    turn = 2.0 * np.pi * gamma / (SPECIFIC_CHARGE * flux)
    turns = float(account.time[-1]) / turn
    end = float(np.linalg.norm(account.position[-1, 1:]))
    return WrongAccount(
        key="to the axis",
        claim="The coil focuses the beam by pulling every electron to the axis.",
        verdict="not true",
        short=(
            "Each electron is led round a circle beside the axis, and all need the same time "
            "for a turn."
        ),
        answer=(
            f"This electron starts on the axis, gets {length_text(distance)} away from it, and "
            f"ends {length_text(end)} from it. One turn takes {time_text(turn)}, whatever the "
            f"angle that it left at; its flight of {time_text(float(account.time[-1]))} is "
            f"{turns:.2f} turns. After whole turns all electrons are back on the axis "
            "together, and that is the focus."
        ),
        numbers=(
            Told("time for a turn", time_text(turn)),
            Told("turns up to the end", f"{turns:.2f}"),
            Told("mean flux density", scientific(flux, "T", 3)),
        ),
    )


def slower_in_the_bend(trace: Explanation) -> WrongAccount:
    """Being bent costs the electrons speed."""
    account = trace.account
    turned = _turned(account.velocity)
    change = float(np.ptp(account.speed)) / float(account.speed[0])
    return WrongAccount(
        key="slower in the bend",
        claim="Being bent costs the electrons energy, so they come out of the bend slower.",
        verdict="not true",
        short="A force across the motion turns it and costs nothing.",
        answer=(
            f"The electron is turned by {angle_text(turned)}, and its speed stays at "
            f"{speed_text(float(account.speed[0]))}: it changes by less than "
            f"{percent_text(max(change, 1e-4))}. (In a bulb the collisions with the gas do cost "
            "some energy. They are not in this computation.)"
        ),
        numbers=(
            Told("turned by", angle_text(turned)),
            Told("speed", speed_text(float(account.speed[0]))),
        ),
    )


def _angle(one: Array, other: Array) -> float:
    """Angle in rad between vectors (m, 3), the one farthest from a right angle; 90° where zero."""
    sizes = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    cosines = np.divide((one * other).sum(axis=1), sizes, out=np.zeros_like(sizes), where=sizes > 0)
    return float(np.arccos(np.clip(cosines[np.abs(cosines).argmax()], -1.0, 1.0)))


def _turned(velocity: Array) -> float:
    """Angle in rad that a velocity (m, 3) turns by, summed along the path."""
    units = velocity / np.linalg.norm(velocity, axis=1)[:, None]
    chords = np.linalg.norm(np.diff(units, axis=0), axis=1)
    return float((2.0 * np.arcsin(np.minimum(chords / 2.0, 1.0))).sum())


def _way(vector: Array) -> str:
    """Name the way that a vector (3,) points as the audience sees it."""
    names = (
        ("to the right", "to the left"),
        ("up", "down"),
        ("to the audience", "away from the audience"),
    )
    axis = int(np.abs(vector).argmax())
    size = float(np.linalg.norm(vector))
    nearly = "" if abs(vector[axis]) > 0.99 * size else "mostly "
    return nearly + names[axis][0 if vector[axis] > 0.0 else 1]
