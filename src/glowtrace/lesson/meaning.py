"""What a prediction means, compared with the computed picture: one key for each.

A drawing says which way the beam goes, how far and in what shape. A hand on a small screen draws
some millimetres off, so that only what is plainly different gets another name; the limits are
common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.lesson.answer import Answer
from glowtrace.lesson.live import Given

Array = NDArray[np.float64]
Meaning = Literal[
    "right",
    "no effect",
    "wrong way",
    "too little",
    "too much",
    "kink",
    "arc",
    "parabola",
    "turns back",
    "runs on",
    "across",
    "effect where none",
    "no light",
    "other",
]
"""What a prediction says: as computed; straight on; to the wrong side; bent too little or too
much; straight at an angle; an arc of a circle where it is a parabola, and the other way about;
comes back where it runs on, and the other way about; across the right direction; bent where it is
straight; no light at all; something else."""

HAND: Final = 0.05
"""Of the screen's height: what a hand cannot tell from none."""
LITTLE, MUCH = 0.6, 1.0 / 0.6
_BACK: Final = 0.1
"""Of the screen's width by which a line comes back that turns."""
_STEEP: Final = math.radians(40.0)
"""Turn of a line from which its shape tells an arc from a parabola."""
_CLEARLY: Final = 1.6
"""How much better one shape must fit than the other."""

ACCOUNTS: Final[Mapping[Meaning, tuple[str, ...]]] = {
    "no effect": ("along the lines", "needs time"),
    "wrong way": ("current", "falls"),
    "too little": ("half the deflection", "slower in the bend"),
    "too much": ("half the deflection", "speeds up"),
    "kink": ("sharp edges", "needs time"),
    "arc": ("circle from plates",),
    "parabola": ("speeds up", "outward force"),
    "turns back": ("grows", "circle from plates"),
    "runs on": ("stop", "grows", "outward force"),
    "across": ("along the lines", "to the axis"),
    "effect where none": ("no force", "any speed", "falls"),
}
"""Keys of the wrong accounts (`glowtrace.explain.accounts`) that may stand behind a prediction, the
likeliest first. Common practice, no source."""


@dataclass(frozen=True)
class Group:
    """The predictions that mean the same."""

    meaning: Meaning
    given: tuple[Given, ...]

    @property
    def count(self) -> int:
        """How many."""
        return len(self.given)


def group_answers(given: Iterable[Given], meaning: Callable[[Given], Meaning]) -> tuple[Group, ...]:
    """Group predictions by what they mean, the largest group first."""
    groups: dict[Meaning, list[Given]] = {}
    for one in given:
        groups.setdefault(meaning(one), []).append(one)
    found = [Group(each, tuple(members)) for each, members in groups.items()]
    return tuple(sorted(found, key=lambda group: -group.count))


def meaning_of(answer: Answer, computed: Array, plane: ScreenPlane) -> Meaning:
    """Tell what one prediction means.

    Parameters
    ----------
    answer
        A drawing in mm, or a choice.
    computed
        (n, 2) in m of `ComputedLine.first_piece`.
    plane
        The screen.
    """
    if answer.choice:
        return _chosen(answer.choice, which_way(computed, plane))
    drawn = 1e-3 * np.asarray(answer.line, dtype=float).reshape(-1, 2)
    if not len(computed):
        return "other"
    if plane.is_spot:
        return _placed(drawn[-1], computed[-1], plane)
    return _drawn(_from_the_gun(drawn), computed, plane)


Way = Literal["up", "down", "straight", "back", "none", "left", "right"]


def which_way(line: Array, plane: ScreenPlane) -> Way:
    """Tell which way a line or a spot goes, in the words of the choices.

    Left and right are those of the audience.
    """
    if not len(line):
        return "none"
    hand = HAND * (plane.heights[1] - plane.heights[0])
    if plane.is_spot:
        u, v = line[-1]
        if math.hypot(u, v) < hand:
            return "straight"
        if abs(v) >= abs(u):
            return "up" if v > 0 else "down"
        return "left" if (u > 0) == plane.is_mirrored else "right"
    if _comes_back(line, plane):
        return "back"
    far = _farthest(line[:, 1])
    return "straight" if abs(far) < hand else "up" if far > 0 else "down"


def _chosen(choice: str, truth: Way) -> Meaning:
    if choice == truth:
        return "right"
    if choice == "none":
        return "no light"
    if truth == "straight":
        return "effect where none"
    if choice == "straight":
        return "no effect"
    if choice == "back":
        return "turns back"
    if truth == "back":
        return "runs on"
    opposite = {"up": "down", "down": "up", "left": "right", "right": "left"}
    if opposite.get(choice) == truth:
        return "wrong way"
    return "across" if choice in opposite and truth in opposite else "other"


def _placed(drawn: Array, computed: Array, plane: ScreenPlane) -> Meaning:
    hand = HAND * (plane.heights[1] - plane.heights[0])
    there, here = (float(np.linalg.norm(each)) for each in (computed, drawn))
    if there < hand:
        return "right" if here < 2 * hand else "effect where none"
    if here < hand:
        return "no effect"
    cosine = float(drawn @ computed) / (here * there)
    if abs(cosine) < 0.7:
        return "across"
    return "wrong way" if cosine < 0 else _far_enough(here / there) or "right"


def _drawn(drawn: Array, computed: Array, plane: ScreenPlane) -> Meaning:
    hand = HAND * (plane.heights[1] - plane.heights[0])
    turns, turned = _comes_back(computed, plane), _comes_back(drawn, plane)
    far, near = _farthest(computed[:, 1]), _farthest(drawn[:, 1])
    if abs(far) < hand and not turns:
        return "right" if abs(near) < 1.5 * hand and not turned else "effect where none"
    if abs(near) < hand and not turned:
        return "no effect"
    if turns != turned:
        return "turns back" if turned else "runs on"
    if turns:
        return "wrong way" if near * far < 0 else _far_enough(near / far) or "right"
    return _shaped(drawn, computed)


def _shaped(drawn: Array, computed: Array) -> Meaning:
    """Compare two lines that run on."""
    reach = min(float(drawn[:, 0].max()), float(computed[:, 0].max()))
    u = np.linspace(0.0, reach, 41)[1:]
    here, there = (_heights(line, u) for line in (drawn, computed))
    ratio = float(here @ there) / max(float(there @ there), 1e-18)
    if ratio < 0:
        return "wrong way"
    size = max(abs(_farthest(here)), 1e-9)
    if _off(here, _fitted(here, u)) < 0.05 * size and _bent(there, u) > 0.08:
        return "kink"
    if amount := _far_enough(ratio):
        return amount
    shape, truth = _shape(drawn, reach), _shape(computed, reach)
    if shape and truth and shape != truth:
        return shape
    return "right" if _off(here, ratio * there) < 0.2 * size else "other"


def _far_enough(ratio: float) -> Meaning | None:
    if ratio < LITTLE:
        return "too little"
    return "too much" if ratio > MUCH else None


def _from_the_gun(drawn: Array) -> Array:
    """Give the line in the direction of flight: people draw it from either end."""
    return drawn[::-1] if drawn[0, 0] > drawn[-1, 0] and _is_one_way(drawn) else drawn


def _is_one_way(line: Array) -> bool:
    return float(np.ptp(line[:, 0])) < 1.1 * abs(float(line[-1, 0] - line[0, 0]))


def _comes_back(line: Array, plane: ScreenPlane) -> bool:
    width = plane.extent[1] - plane.extent[0]
    most = np.maximum.accumulate(line[:, 0])
    return bool((most - line[:, 0]).max(initial=0.0) > _BACK * width)


def _farthest(heights: Array) -> float:
    return float(heights[np.abs(heights).argmax()])


def _heights(line: Array, u: Array) -> Array:
    """Give the heights at which a line first comes to each u."""
    most = np.maximum.accumulate(line[:, 0])
    forward = np.concatenate([[True], np.diff(most) > 0])
    return np.asarray(np.interp(u, line[forward, 0], line[forward, 1]))


def _fitted(heights: Array, u: Array) -> Array:
    """Give the straight line from the start that fits best."""
    return u * float(heights @ u) / float(u @ u)


def _bent(heights: Array, u: Array) -> float:
    return _off(heights, _fitted(heights, u)) / max(abs(_farthest(heights)), 1e-9)


def _off(a: Array, b: Array) -> float:
    return float(np.sqrt(np.mean((a - b) ** 2)))


def _shape(line: Array, reach: float) -> Literal["arc", "parabola"] | None:
    """Tell an arc of a circle from a parabola where a line is bent enough for it."""
    part = line[line[:, 0] <= reach]
    if len(part) < 4:
        return None
    way = np.diff(part[:: max(1, len(part) // 20)], axis=0)
    angles = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    if abs(float(angles[-1] - angles[0])) < _STEEP:
        return None
    u, v = (part - part[0]).T
    side = math.copysign(1.0, _farthest(v))
    top = float(max(u.max(), np.abs(v).max()))

    def parabola(bend: float) -> float:
        return _off(side * v, bend * u**2)

    def arc(bend: float) -> float:
        return float(np.sqrt(np.mean((np.hypot(u, side * v - 1 / bend) - 1 / bend) ** 2)))

    bends = (0.05 / top, 20.0 / top)
    off_arc, off_parabola = (
        float(optimize.minimize_scalar(off, bounds=bends, method="bounded").fun)
        for off in (arc, parabola)
    )
    if off_parabola > _CLEARLY * off_arc:
        return "arc"
    return "parabola" if off_arc > _CLEARLY * off_parabola else None
