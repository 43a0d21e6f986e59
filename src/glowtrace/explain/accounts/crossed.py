"""Wrong accounts of crossed fields: the null, and the turn-back."""

from __future__ import annotations

import numpy as np

from glowtrace.bench.electron import fields_at
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.explain.accounts.answer import Told, Verdict, WrongAccount
from glowtrace.explain.drift_frame import DriftFrame
from glowtrace.explain.explanation import Explanation, Mark
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.writing import (
    EXACT,
    angle_text,
    energy_text,
    force_text,
    length_text,
    percent_text,
    speed_text,
)

_NEARLY_AT_REST = 0.05
"""Part of the first speed below which the electron nearly stops at its far point."""
_STRAIGHT = 0.06
"""Height over length below which a path counts as straight."""
_GROWS, _MATTERS = 0.1, 0.3
"""Part by which the electric force near a plate exceeds that half way, from which it is told; and
part of the magnetic force's change from which it counts as a cause."""
_STEADY = 0.01
_EQUAL = 1e-3
"""Part by which two forces may differ that count as the same."""
_CANCELS = 0.1
"""Part of the magnetic force that may be left in the middle of the plates in a null."""
_FASTER = 1.2


def far_point(trace: Explanation) -> Mark | None:
    """Give the first point where the path runs level again, with both fields acting there."""
    for mark in trace.marks:
        if mark.name in ("Lowest point", "Highest point"):
            now = trace.instant(mark.at)
            electric = float(np.linalg.norm(now.electric_force))
            if electric > 0.05 * float(np.linalg.norm(trace.account.electric_force, axis=1).max()):
                return mark
    return None


def is_nearly_straight(trace: Explanation) -> bool:
    """Whether the path stays near the axis although both fields act."""
    position = trace.ray.position
    return bool(np.abs(position[:, 1]).max() < _STRAIGHT * position[:, 0].max())


def stop_at_the_far_point(trace: Explanation, mark: Mark) -> WrongAccount:
    """At the lowest point the electrons stop, so that the magnetic force vanishes."""
    now, first = trace.instant(mark.at), float(trace.account.speed[0])
    forwards = float(now.velocity[0])
    magnetic, electric = float(now.magnetic_force[1]), float(now.electric_force[1])
    where = mark.name.lower()
    rests = abs(forwards) < _NEARLY_AT_REST * first
    verdict: Verdict = "true here" if rests else "not true"
    way = "forwards" if forwards > 0.0 else "backwards"
    short = (
        "Nearly true for this trace, which is close to the one case between: the cusp."
        if rests
        else "Only the up-and-down part of the velocity is zero there. (At the cusp, a case just "
        "between forwards and backwards, it would be true.)"
    )
    pull = "up" if magnetic > 0.0 else "down"
    other = "up" if electric > 0.0 else "down"
    both = (
        "Both pull the same way there."
        if magnetic * electric > 0.0
        else f"The {'electric' if abs(electric) > abs(magnetic) else 'magnetic'} one is the "
        "stronger, and so the path bends back."
    )
    return WrongAccount(
        key="stop",
        claim=f"At the {where} the electrons stop, so the magnetic force vanishes there.",
        verdict=verdict,
        short=short,
        answer=(
            f"At the {where}, at x = {length_text(float(now.position[0]))} and y = "
            f"{length_text(float(now.position[1]))}, the electron moves {way} at "
            f"{speed_text(abs(forwards))}, {percent_text(abs(forwards) / first)} of its first "
            f"speed. The magnetic force there is {force_text(abs(magnetic))} {pull}, the electric "
            f"one {force_text(abs(electric))} {other}. {both}"
        ),
        numbers=(
            Told("speed forwards there", speed_text(forwards)),
            Told("magnetic force there", force_text(magnetic)),
            Told("electric force there", force_text(electric)),
        ),
    )


def electric_turns_it(prepared: PreparedBench, trace: Explanation, mark: Mark) -> WrongAccount:
    """The beam turns back because the electric force is stronger near the plate."""
    account = trace.account
    now, first = trace.instant(mark.at), float(account.kinetic_energy[0])
    here = float(np.linalg.norm(now.electric_force))
    beside = _on_the_middle_line(prepared, trace, float(now.position[0]))
    entry = trace.mark("Plates begin")
    edge = trace.instant(entry.at if entry is not None else 0.0)
    before, magnetic = (float(np.linalg.norm(each.magnetic_force)) for each in (edge, now))
    lost = first - now.kinetic_energy
    slower = lost > 0.0
    grows = here / beside - 1.0 if beside > 0.0 else 0.0
    where = mark.name.lower()
    compared = (
        f"{force_text(beside)}, a difference of {percent_text(abs(grows))}"
        if abs(grows) > _EQUAL
        else "the same"
    )
    return WrongAccount(
        key="grows",
        claim="The beam turns back because the electric force is stronger near the plate.",
        verdict="partly true" if here - beside > _MATTERS * abs(before - magnetic) else "not true",
        short=(
            "What changes most is the magnetic force: "
            f"it becomes {'weaker' if slower else 'stronger'}, as the electron becomes "
            f"{'slower' if slower else 'faster'}."
            + (f" The electric force grows by {percent_text(grows)}." if grows > _GROWS else "")
        ),
        answer=(
            f"At the {where} the electric force is {force_text(here)}. Half way between the plates "
            f"at the same x it would be {compared}. But on its way the electron "
            f"{'loses' if slower else 'gains'} {energy_text(abs(lost))} to the electric force, and "
            f"its speed goes from {speed_text(float(account.speed[0]))} to "
            f"{speed_text(now.speed)}. The magnetic force goes along: from {force_text(before)} at "
            f"the edge of the plates to {force_text(magnetic)}."
        ),
        numbers=(
            Told("energy lost on the way", energy_text(lost)),
            Told("magnetic force at the edge", force_text(before)),
            Told(f"magnetic force at the {where}", force_text(magnetic)),
        ),
    )  # fmt: skip


def _on_the_middle_line(prepared: PreparedBench, trace: Explanation, x: float) -> float:
    """Size in N of the electric force half way between the plates at x (m)."""
    plates = trace.bench.plates
    assert plates is not None
    field = prepared.field(trace.settings, trace.model)
    electric, _, _ = fields_at(field, np.array([[x, plates.height_offset, 0.0]]))
    return ELEMENTARY_CHARGE * float(np.linalg.norm(electric[0]))


def no_force_in_the_null(trace: Explanation) -> WrongAccount:
    """Where the beam runs straight no force acts."""
    account = trace.account
    plates = trace.bench.plates
    assert plates is not None
    x = account.position[:, 0]
    inside = (x >= plates.start) & (x <= plates.start + plates.length)
    middle = int(np.abs(x - plates.start - plates.length / 2).argmin())
    electric = account.electric_force[:, 1]
    magnetic, both = account.magnetic_force[:, 1], account.force[:, 1]
    near, far = int(np.flatnonzero(inside)[0]), int(np.flatnonzero(inside)[-1])
    left = both / max(float(np.abs(magnetic).max()), 1e-300)
    reach = float(np.abs(account.position[:, 1]).max())
    cancels = bool((np.diff(np.sign(both[inside])) != 0).any())
    real = (
        f"In the real field they {'cancel only in places' if cancels else 'nowhere quite cancel'}, "
        "as that of the plates is weaker at their edges while that of the coils acts all the way: "
        "what is left is "
        f"{percent_text(float(left[near]))} of the magnetic force at the near edge, "
        f"{percent_text(float(left[middle]))} in the middle and {percent_text(float(left[far]))} "
        f"at the far edge (plus is up). So the line is not quite straight: it leaves the axis by "
        f"up to {length_text(reach)}."
        if trace.model == "bench"
        else "In the textbook's uniform fields what is left of them is "
        f"{percent_text(float(left[middle]))} in the middle of the plates (plus is up)."
    )
    return WrongAccount(
        key="no force",
        claim="Where the beam runs straight, no force acts on the electrons.",
        verdict="not true",
        short=(
            "Two forces act and cancel, or nearly so."
            if abs(float(left[middle])) < _CANCELS
            else "Two forces act, and each undoes what the other does, though not at every point."
            if trace.model == "bench"
            else "Two forces act, and each undoes a part of what the other does."
        ),
        answer=(
            f"In the middle of the plates the electric force is {_signed_force(electric[middle])} "
            f"and the magnetic one {_signed_force(magnetic[middle])}. {real}"
        ),
        numbers=(
            Told("electric force", force_text(float(electric[middle]))),
            Told("magnetic force", force_text(float(magnetic[middle]))),
            Told("both together", force_text(float(both[middle]), beside=float(electric[middle]))),
        ),
    )


def any_speed_in_the_null(prepared: PreparedBench, trace: Explanation) -> WrongAccount | None:
    """In the null electrons of any speed run straight."""
    settings = trace.settings
    voltage = settings.accelerating_voltage
    factor = _FASTER if voltage * _FASTER <= trace.bench.gun.max_accelerating_voltage else 0.8
    changed = settings.model_copy(update={"accelerating_voltage": factor * voltage})
    other = followed_ray(prepared, changed, model=trace.model)
    reach = min(float(ray.position[:, 0].max()) for ray in (trace.ray, other))
    if len(other.time) < 2 or reach <= 0.0:
        return None
    now, then = (
        float(np.interp(0.95 * reach, ray.position[:, 0], ray.position[:, 1]))
        for ray in (trace.ray, other)
    )
    frame = trace.frame
    passing = frame.speed if isinstance(frame, DriftFrame) else 0.0
    more = f"{abs(100 * (factor - 1)):.0f} % {'more' if factor > 1 else 'less'}"
    return WrongAccount(
        key="any speed",
        claim="When the fields cancel, electrons of every speed run straight.",
        verdict="not true",
        short="Only those of one speed, E over B. The fields sort the electrons by speed.",
        answer=(
            f"Between the plates E over B is {speed_text(passing)} on the average; this electron "
            f"leaves the gun at {speed_text(float(trace.account.speed[0]))}. With {more} "
            f"accelerating voltage and all else as it is, the beam would be at "
            f"{length_text(then)} instead of {length_text(now)}, at x = "
            f"{length_text(0.95 * reach)}."
        ),
        numbers=(
            Told("E over B", speed_text(passing)),
            Told("speed from the gun", speed_text(float(trace.account.speed[0]))),
            Told(f"height with {more} voltage", length_text(then)),
        ),
    )


def fields_do_not_mix(trace: Explanation) -> WrongAccount | None:
    """In crossed fields the path is a mix of a parabola and a circle, with no simple view of it."""
    frame = trace.frame
    if not isinstance(frame, DriftFrame) or frame.is_laboratory or frame.circle is None:
        return None
    circle = frame.circle
    if circle.turned < 0.3:  # too short an arc to show that it is one
        return None
    off = (
        f"The path is off that circle by {length_text(circle.roughness)}, "
        f"{percent_text(circle.roughness / circle.radius)} of its radius, as the real fields are "
        "not quite uniform."
        if trace.model == "bench"
        else "In uniform fields it is a circle exactly."
    )
    seen = frame.speed_seen[frame.stretch]
    slow, fast = float(seen.min()), float(seen.max())
    pace = (
        f"its speed is {speed_text(slow)} all the time"
        if fast - slow < _STEADY * fast
        else f"its speed stays between {speed_text(slow)} and {speed_text(fast)}"
    )
    return WrongAccount(
        key="no simple view",
        claim="In crossed fields the path is a muddle of a parabola and a circle.",
        verdict="not true",
        short="Seen by somebody who moves along with it, it is a plain circle.",
        answer=(
            f"Somebody who moves along at {speed_text(frame.speed)}, E over B, sees no electric "
            f"force on the average. There the electron runs round a circle of "
            f"{length_text(circle.radius)} radius, through {angle_text(circle.turned)} between "
            f"the plates, and {pace}. {off}"
        ),
        numbers=(
            Told("speed of the moving observer", speed_text(frame.speed)),
            Told("radius of the circle", length_text(circle.radius)),
            Told(
                "off the circle by",
                length_text(circle.roughness) if circle.roughness >= EXACT else "nothing",
            ),
        ),
    )


def _signed_force(force: float) -> str:
    return f"{force_text(abs(float(force)))} {'up' if force > 0.0 else 'down'}"
