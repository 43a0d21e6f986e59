"""What a lesson shows the audience beside the picture of the beam: one value, replaced as a whole.

The lesson publishes it; whoever draws for the audience lays it over the picture that the desk
shows. Texts are plain text and never markup: learners may have written parts of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Role = Literal["prediction", "computed", "seen"]
"""Whose line it is: a learner's, the forward model's, or what was seen in the real experiment."""
Places = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Mark:
    """A line on the screen, or a single place."""

    role: Role
    places: Places
    """(u, v) in m as `glowtrace.bench.screen_plane` has them, in the order of drawing; a single one
    is a spot. A circle is a line that ends where it begins."""
    count: int = 1
    """How many answers it stands for."""


@dataclass(frozen=True)
class Tally:
    """A line of text with how many answered so."""

    text: str
    count: int


@dataclass(frozen=True)
class Invitation:
    """How learners join, to be shown large."""

    address: str
    code: str
    qr_svg: str
    """A whole ``<svg>`` element: dark on light, with its quiet zone; made here, never by a
    learner."""


@dataclass(frozen=True)
class LessonShown:
    """What the audience sees of the lesson.

    Attributes
    ----------
    hides_picture
        The light of the beam and the textbook's line are not drawn, only screen and grid: learners
        are predicting. Knob values stay in sight.
    marks
        Drawn over the picture, in this order.
    question
        What is asked; empty for nothing.
    note
        A few words: how many have answered, or who made the lines.
    tallies
        Answers grouped by what they mean, in this order.
    invitation
        How to join; None hides it.
    """

    hides_picture: bool = False
    marks: tuple[Mark, ...] = ()
    question: str = ""
    note: str = ""
    tallies: tuple[Tally, ...] = ()
    invitation: Invitation | None = None


NOTHING_SHOWN = LessonShown()
"""No lesson: the picture alone."""
