"""The tubes that a bench may be: what is seen on each of them, from its one electron.

A picture of one of them is that of the bench, moved as the middle of its beam moves: at equal
lengths of path by the difference of two electrons, both flown in fields that are linear in the
numbers. So a whole picture costs hardly more than one electron, and everything that reads a
picture of a bench reads that of a possible tube. What the beam is wide, and which part of it
strays, stays as on the bench.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import TOLERANCE
from glowtrace.bench.electron import AXIS, SPACING, Launch, Through
from glowtrace.bench.learning import Belief, learn
from glowtrace.bench.line_response import shifted_path
from glowtrace.bench.model import EndFace
from glowtrace.bench.path import Path
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prediction import drawn_tubes
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

Array = NDArray[np.float64]

TUBES: Final = 200
LEFT_THE_MAP: Final = "left the field map"
_CUT_SHORT: Final = 0.9
"""Part of the bench's own path below which another that ends elsewhere is another picture."""
_ON: Final = 0.002
"""Length in m by which a shift goes straight on where a path ends between two points."""


@dataclass(frozen=True, eq=False)
class Shift:
    """How far the beam's middle lies off that of the bench, at s lengths of path."""

    length: Array
    """(s,) m."""
    place: Array
    """(s, 3) m."""
    direction: Array
    """(s, 3) change of the unit vector along the path."""
    is_elsewhere: bool
    """Whether the beam ends on something else."""


@dataclass(frozen=True, eq=False)
class Flown:
    """Pictures and paths of the bench itself, each found once."""

    prepared: PreparedBench
    _kept: dict[tuple[Any, ...], Any] = field(default_factory=dict)

    def picture(self, settings: Settings, **given: Any) -> Picture:
        """Give its picture."""
        key = (settings, *sorted(given.items()))
        if key not in self._kept:
            self._kept[key] = self.prepared.picture(settings, **given)
        found: Picture = self._kept[key]
        return found

    def path(self, settings: Settings, launch: Launch, **given: Any) -> Path:
        """Give the path of one of its electrons."""
        key = (settings, launch, *sorted(given.items()))
        if key not in self._kept:
            self._kept[key] = self.prepared.fly(settings, launch, **given)
        found: Path = self._kept[key]
        return found

    def lengths_at(self, picture: Picture, which: str, points: Array) -> Array:
        """Give the lengths of path (m,) of the beam's middle nearest to x and y (m, 2)."""
        key = ("near", which, picture.settings, picture.electrons, picture.seed)
        if key not in self._kept:
            path = self.path(picture.settings, AXIS, through="sheet")
            away = points[:, None] - path.position[None, :, :2]
            nearest = np.argmin((away**2).sum(axis=2), axis=1)
            self._kept[key] = path_lengths(path)[nearest]
        found: Array = self._kept[key]
        return found


@dataclass(frozen=True, eq=False, kw_only=True)
class PossibleTube(PreparedBench):
    """One of the tubes that a bench may be, as far as near some settings it is seen.

    Where a knob that is up there is off, it is the bench itself that is asked.
    """

    flown: Flown
    shift: Shift
    near: Settings

    def fly(
        self,
        settings: Settings,
        launch: Launch = AXIS,
        *,
        model: Model = "bench",
        through: Through = "sheet",
        longest: float | None = None,
        spacing: float = SPACING,
        tolerance: float = TOLERANCE,
    ) -> Path:
        """Do as the bench does, moved."""
        path = self.flown.path(
            settings, launch, model=model, through=through, longest=longest, spacing=spacing,
            tolerance=tolerance,
        )  # fmt: skip
        if not self._is_near(settings) or len(path.time) < 2:
            return path
        lengths = path_lengths(path)
        speed = np.linalg.norm(path.velocity, axis=1)[:, None]
        return Path(
            time=path.time,
            position=path.position + _at(lengths, self.shift.length, self.shift.place),
            velocity=path.velocity + speed * _at(lengths, self.shift.length, self.shift.direction),
            end=path.end,
        )

    def line_turn(
        self, settings: Settings, *, model: Model = "bench", through: Through = "sheet"
    ) -> float:
        """Give the diameter of a circle; where it begins does not count."""
        return self.fly(settings, model=model, through=through).circle_height()

    def picture(
        self,
        settings: Settings,
        *,
        electrons: int = 200,
        seed: int = 0,
        model: Model = "bench",
        paths: int = 0,
        threads: int | None = None,
    ) -> Picture:
        """Give the picture of the bench, moved."""
        own = self.flown.picture(
            settings, electrons=electrons, seed=seed, model=model, paths=paths, threads=threads
        )
        if not self._is_near(settings):
            return own
        trace = own.mean_trace
        line = np.stack([trace.u, trace.v], axis=1)
        moved = self._moved(own, "trace", line)
        return replace(
            own,
            landings=self._moved(own, "landings", own.landings),
            mean_trace=replace(trace, u=moved[:, 0], v=moved[:, 1]),
        )

    def _moved(self, picture: Picture, which: str, places: Array) -> Array:
        """Move places (m, 2), u and v, of a picture."""
        if len(places) == 0:
            return places
        plane = self.plane
        if plane.is_spot:
            before = self.flown.path(picture.settings, AXIS, through="screen")
            after = self.fly(picture.settings, through="screen")
            by = _crossing(after, plane.x_to) - _crossing(before, plane.x_to)
            return np.asarray(places + np.array([by[2] * plane.along_u[2], by[1]]))
        points = np.stack([places[:, 0] * (plane.cosine or 1.0), places[:, 1]], axis=1)
        lengths = self.flown.lengths_at(picture, which, points)
        by = _at(lengths, self.shift.length, self.shift.place)
        return np.asarray(places + np.stack([by[:, 0] / (plane.cosine or 1.0), by[:, 1]], axis=1))

    def _is_near(self, settings: Settings) -> bool:
        near = self.near
        return (settings.plate_voltage > 0.0) == (near.plate_voltage > 0.0) and (
            settings.coil_current > 0.0
        ) == (near.coil_current > 0.0)


@dataclass(frozen=True, eq=False)
class PossibleTubes:
    """Tubes drawn from what is known of a bench, near some settings."""

    belief: Belief
    numbers: Array
    """(r, n) shifts of the numbers."""
    tubes: tuple[PossibleTube, ...]
    """Those whose beam ends elsewhere included."""


def possible_tubes(
    prepared: PreparedBench, settings: Settings, belief: Belief | None = None, count: int = TUBES
) -> PossibleTubes:
    """Draw tubes that the bench may be.

    Parameters
    ----------
    prepared
        The bench. One whose numbers are all exact has no others than itself.
    settings
        Near which they are looked at: how a beam is moved is found there, and kept nearby.
    belief
        About its numbers; what its file and what was seen say when left out.
    count
        How many; even.
    """
    belief = belief or learn(prepared).after
    if not belief.names:
        return PossibleTubes(belief, np.zeros((0, 0)), ())
    numbers = drawn_tubes(belief, count)
    own = shifted_path(prepared, prepared.effects, settings, np.zeros(len(belief.names)))
    flown = Flown(prepared)
    tubes = tuple(
        PossibleTube(
            prepared.bench, prepared.fields, prepared.earth, prepared.cache_dir, flown=flown,
            shift=_shift(prepared, settings, own, each), near=settings,
        )
        for each in numbers
    )  # fmt: skip
    return PossibleTubes(belief, numbers, tubes)


def path_lengths(path: Path) -> Array:
    """Give the length of path (t,) in m up to each of its points."""
    steps = np.linalg.norm(np.diff(path.position, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _shift(prepared: PreparedBench, settings: Settings, own: Path, numbers: Array) -> Shift:
    effects, bench = prepared.effects, prepared.bench
    path = shifted_path(prepared, effects, settings, numbers)
    # Both have a point at every millimetre of path, but for their last.
    count = min(len(own.time), len(path.time)) - 1
    if count < 2:
        nothing = np.zeros((1, 3))
        return Shift(np.zeros(1), nothing, nothing, path.end != own.end)
    place = path.position[:count] - own.position[:count]
    along, before = (_unit(each.velocity[:count]) for each in (path, own))
    lengths, turn = path_lengths(own)[:count], along - before
    # Straight on where fields are not known so far aside, and up to the very end of the path.
    is_lost = path.end == LEFT_THE_MAP != own.end
    on = max(path_lengths(own)[-1] - lengths[-1], _ON) if is_lost else _ON
    lengths = np.append(lengths, lengths[-1] + on)
    place = np.vstack([place, place[-1] + on * turn[-1]])
    before, turn = (np.vstack([each, each[-1]]) for each in (before, turn))
    grid, face = effects.moves("slack.grid_height"), effects.moves("screen.x")
    if grid is not None:
        place[:, 1] += numbers[grid]
    if isinstance(bench.screen, EndFace):  # all is seen at one x: the face's
        ahead = (float(numbers[face]) if face is not None else 0.0) - place[:, :1]
        place = np.hstack([0.0 * ahead, place[:, 1:] + ahead * before[:, 1:] / before[:, :1]])
    cut = len(path.time) < _CUT_SHORT * len(own.time)
    is_elsewhere = cut and path.end != own.end and not is_lost
    return Shift(lengths, place, turn, is_elsewhere)


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1)[:, None])


def _at(lengths: Array, known: Array, values: Array) -> Array:
    return np.stack([np.interp(lengths, known, column) for column in values.T], axis=1)


def _crossing(path: Path, x: float) -> Array:
    at = path.place_of(x)
    return path.position[-1] if at is None else path.point(at)
