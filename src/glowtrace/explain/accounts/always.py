"""Wrong accounts that go with every trace: falling, the glow, the time that it takes."""

from __future__ import annotations

import numpy as np
from scipy.constants import g

from glowtrace.constants import ELECTRON_MASS, ELEMENTARY_CHARGE
from glowtrace.explain.accounts.answer import Told, WrongAccount
from glowtrace.explain.explanation import Explanation
from glowtrace.explain.writing import force_text, length_text, percent_text, speed_text, time_text
from glowtrace.units import scientific


def falls(trace: Explanation) -> WrongAccount:
    """The beam bends because the electrons fall."""
    flight = float(trace.account.time[-1])
    fall = 0.5 * g * flight**2
    weight = ELECTRON_MASS * g
    largest = float(np.linalg.norm(trace.account.force, axis=1).max())
    beside = (
        f" The largest force of the fields on it, {force_text(largest)}, is "
        f"{scientific(largest / weight, 'times', 1)} its weight."
        if largest > 0.0
        else ""
    )
    return WrongAccount(
        key="falls",
        claim="The beam bends because the electrons have weight and fall.",
        verdict="not true",
        short="They do fall, but by far less than the size of an atom.",
        answer=(
            f"The electron flies for {time_text(flight)}. In this time it falls by "
            f"{length_text(fall)}; an atom measures about 10⁻¹⁰ m.{beside}"
        ),
        numbers=(
            Told("time of flight", time_text(flight)),
            Told("fall", length_text(fall)),
            Told("weight", force_text(weight)),
            Told("largest force of the fields", force_text(largest)),
        ),
    )


def glow_is_electrons(trace: Explanation) -> WrongAccount:
    """The glow is the electrons themselves."""
    speed, flight = float(trace.account.speed[0]), float(trace.account.time[-1])
    gun = trace.bench.gun
    each_second = gun.usual_beam_share * gun.beam_current / ELEMENTARY_CHARGE
    what = "gas" if trace.bench.plane.glows else "phosphor on the screen"
    seen = "spot" if trace.bench.plane.is_spot else "line"
    return WrongAccount(
        key="glow",
        claim=f"The {seen} that glows is the electrons themselves.",
        verdict="not true",
        short=f"Electrons give no light as they fly. The {what} does, where they strike it.",
        answer=(
            f"An electron here runs at {speed_text(speed)} and is gone after {time_text(flight)}. "
            f"What is seen is the {what}, struck by new electrons all the "
            f"time: about {scientific(each_second, 'each second', 1)} leave this gun (of the "
            f"cathode’s current {percent_text(gun.usual_beam_share)}, a guess), so that some "
            f"{scientific(each_second * flight, 'of them', 1)} are on their way at once."
        ),
        numbers=(
            Told("speed", speed_text(speed)),
            Told("electrons each second", scientific(each_second, "", 1).rstrip()),
            Told("on their way at once", scientific(each_second * flight, "", 1).rstrip()),
        ),
    )


def needs_time(trace: Explanation) -> WrongAccount:
    """The trace bends gradually, as the electrons need time to answer the knob."""
    flight = float(trace.account.time[-1])
    supplies = trace.bench.supplies
    swing = 1.0 / supplies.accelerating.ripple_frequency if supplies.accelerating.ripple else None
    fields = (
        f" Even the ripple of the supply, one swing in {1e3 * swing:.0f} ms, is far too slow "
        "to change while one electron flies."
        if swing
        else ""
    )
    return WrongAccount(
        key="needs time",
        claim="When a knob is turned, the beam moves slowly because electrons take time to follow.",
        verdict="not true",
        short="What takes time is the supply and the eye, not the electrons.",
        answer=(
            f"Each electron is through in {time_text(flight)}. In a tenth of a second, about as "
            f"fast as an eye can follow, {scientific(0.1 / flight, 'flights', 1)} could follow one "
            f"after another. Each one meets the voltages and currents as they are in its moment."
            f"{fields}"
        ),
        numbers=(Told("time of flight", time_text(flight)),),
    )
