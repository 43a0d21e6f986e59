"""Clips: frames that are drawn when they are wanted, with words for what is to be seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import GlowtraceError, Problem

Pixels = NDArray[np.uint8]
Size = Literal["480p", "720p", "1080p"]

SIZES: Final[dict[Size, tuple[int, int]]] = {
    "480p": (854, 480),
    "720p": (1280, 720),
    "1080p": (1920, 1080),
}
"""Width and height in pixels."""
RATES: Final = (10, 20, 25, 50)
"""Frames a second: each lasts a whole number of hundredths, the only times that a GIF knows."""
_SPOKEN_S: Final = 1.5  # how long a caption stands
LEAST_SECONDS, MOST_SECONDS = 1.0, 120.0


@dataclass(frozen=True)
class Caption:
    """A line of words and when it is shown, in s from the start."""

    start: float
    end: float
    text: str


@dataclass(frozen=True, eq=False)
class Clip:
    """Frames in their order, drawn one at a time when they are wanted.

    Attributes
    ----------
    title
        Of the file.
    size
        Width and height in pixels.
    rate
        Frames a second.
    count
        How many frames.
    frame
        Gives frame number 0 ... count - 1 as (height, width, 4), red to alpha.
    captions
        What is to be seen, in words, for a captions track.
    """

    title: str
    size: tuple[int, int]
    rate: int
    count: int
    frame: Callable[[int], Pixels]
    captions: tuple[Caption, ...] = ()

    @property
    def seconds(self) -> float:
        """How long it lasts, s."""
        return self.count / self.rate


def captions_of(count: int, rate: int, spoken: Callable[[int], str]) -> tuple[Caption, ...]:
    """Cut a clip of `count` frames into stretches, and have each of them told from its middle.

    `spoken` gives the words for the frame with a number.
    """
    stretches = max(1, round(count / rate / _SPOKEN_S))
    edges = [round(count * n / stretches) for n in range(stretches + 1)]
    return tuple(
        Caption(first / rate, last / rate, spoken((first + last) // 2))
        for first, last in pairwise(edges)
    )


def captions_vtt(captions: tuple[Caption, ...]) -> str:
    """Give captions as a WebVTT file, which browsers show beside a video."""
    cues = (
        f"{_clock(each.start)} --> {_clock(each.end)}\n{' '.join(each.text.split())}\n"
        for each in captions
    )
    return "WEBVTT\n\n" + "\n".join(cues)


def require_size(size: str) -> tuple[int, int]:
    """Give width and height of a size by its name; GlowtraceError where there is none such."""
    for known in get_args(Size):
        if size == known:
            return SIZES[known]
    raise GlowtraceError(str(Problem("size", f'"{size}"', f"choose {', '.join(SIZES)}")))


def require_times(seconds: float, rate: int) -> int:
    """Give the number of frames of a clip; GlowtraceError for a length or rate that is not allowed.

    Parameters
    ----------
    seconds
        From `LEAST_SECONDS` to `MOST_SECONDS`.
    rate
        One of `RATES`.
    """
    if rate not in RATES:
        choice = ", ".join(map(str, RATES))
        raise GlowtraceError(str(Problem("frames a second", f"{rate}", f"choose {choice}")))
    if not LEAST_SECONDS <= seconds <= MOST_SECONDS:
        allowed = f"give from {LEAST_SECONDS:g} s to {MOST_SECONDS:g} s"
        raise GlowtraceError(str(Problem("seconds", f"{seconds:g} s", allowed)))
    return max(2, round(seconds * rate))


def _clock(seconds: float) -> str:
    milliseconds = round(1000 * seconds)
    minutes, milliseconds = divmod(milliseconds, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
