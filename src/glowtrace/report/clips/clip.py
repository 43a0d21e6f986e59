"""Clips: frames that are drawn when they are wanted, with words for what is to be seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.report.look import DARK, Look
from glowtrace.words.bench import model_fields

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
class ClipForm:
    """How a clip is made, whatever it shows; a GlowtraceError where something is not allowed.

    Attributes
    ----------
    seconds
        How long, from `LEAST_SECONDS` to `MOST_SECONDS`.
    rate
        Frames a second, one of `RATES`.
    size
        One of `SIZES`.
    model
        Which model gives the picture.
    look
        Colours.
    """

    seconds: float = 6.0
    rate: int = 25
    size: Size = "720p"
    model: Model = "bench"
    look: Look = DARK

    def __post_init__(self) -> None:
        if self.size not in SIZES:
            problem = Problem("size", f'"{self.size}"', f"choose {', '.join(SIZES)}")
            raise GlowtraceError(problem)
        if self.rate not in RATES:
            choice = ", ".join(map(str, RATES))
            problem = Problem("frames a second", f"{self.rate}", f"choose {choice}")
            raise GlowtraceError(problem)
        if not LEAST_SECONDS <= self.seconds <= MOST_SECONDS:
            allowed = f"give from {LEAST_SECONDS:g} s to {MOST_SECONDS:g} s"
            raise GlowtraceError(Problem("seconds", f"{self.seconds:g} s", allowed))

    @property
    def pixels(self) -> tuple[int, int]:
        """Width and height."""
        return SIZES[self.size]

    @property
    def count(self) -> int:
        """How many frames."""
        return round(self.seconds * self.rate)

    @property
    def model_words(self) -> str:
        """Which model it is, in words."""
        return model_fields(self.model)


USUAL_FORM: Final = ClipForm()
"""Six seconds of 720 lines."""


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


def _clock(seconds: float) -> str:
    milliseconds = round(1000 * seconds)
    minutes, milliseconds = divmod(milliseconds, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
