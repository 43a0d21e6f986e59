"""Exposures that suit a trace in its room, with shutter times that lamps cannot spoil."""

from __future__ import annotations

import math
from typing import Final

from glowtrace.light.exposure import CLIPS_AT, K_REFLECTED
from glowtrace.light.scene import Camera, Room

SPEEDS: Final = (
    50.0, 64.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0, 500.0, 640.0, 800.0,
    1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3200.0, 4000.0, 5000.0, 6400.0,
)  # fmt: skip
"""ISO speeds in steps of a third, as cameras have them."""
F_NUMBERS: Final = (1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0,
                    11.0, 13.0, 14.0, 16.0, 22.0)  # fmt: skip
"""F-numbers in steps of a third."""
_LOWEST, _NOISY = 100.0, 3200.0
_LONGEST: Final = 0.5
"""s, of a single photograph: the trace stands still, the tripod does too."""
_HEADROOM: Final = 1.5
"""Full scale over the brightest piece of the trace."""


def flicker_free_times(mains_frequency: float, longest: float) -> tuple[float, ...]:
    """Give exposure times in s that are whole multiples of the lamps' period, up to a longest."""
    period = 0.5 / mains_frequency
    return tuple(n * period for n in range(1, max(1, math.floor(longest / period + 1e-9)) + 1))


def suggest_exposure(room: Room, camera: Camera, brightest: float, background: float) -> Camera:
    """Give the camera with ISO, shutter and f-number that suit a trace.

    The brightest piece of trace, background included, comes to two thirds of full scale. The
    f-number stays unless the lowest ISO at the shortest time is too much. The time is the longest
    that suits: a multiple of the lamps' period, within a frame of a video or half a second.

    Parameters
    ----------
    room
        For the mains frequency.
    camera
        What is there; its f-number, frame rate and view stay.
    brightest, background
        Luminances in cd/m².
    """
    full = _HEADROOM * max(brightest + background, 1e-6)
    wanted = CLIPS_AT * K_REFLECTED * camera.aperture**2 / full  # ISO times s
    longest = 1.0 / camera.frame_rate if camera.frame_rate else _LONGEST
    times = _usual_times(room.mains_frequency, longest)
    fitting = [time for time in times if wanted / time >= _LOWEST]
    time = max(fitting, default=times[0])
    iso = nearest_step(SPEEDS, min(max(wanted / time, _LOWEST), _NOISY))
    aperture = camera.aperture
    if not fitting:
        stopped = camera.aperture * math.sqrt(_LOWEST * time / wanted)
        aperture = nearest_step(tuple(n for n in F_NUMBERS if n >= camera.aperture) or (stopped,),
                            stopped)  # fmt: skip
    changes = {"iso": iso, "shutter": time, "aperture": aperture}
    return camera.model_copy(update=changes)


def _usual_times(mains_frequency: float, longest: float) -> tuple[float, ...]:
    """Give those of the times that cameras have: one, two or four periods, tenths of a second."""
    times = flicker_free_times(mains_frequency, longest)
    return tuple(
        time
        for n, time in enumerate(times, start=1)
        if n in (1, 2, 4) or any(abs(time - usual) < 1e-6 for usual in (0.1, 0.2, 0.5))
    )


def nearest_step(steps: tuple[float, ...], wanted: float) -> float:
    """Give the step of a dial that is nearest to a value."""
    return min(steps, key=lambda step: abs(math.log(step / wanted)))
