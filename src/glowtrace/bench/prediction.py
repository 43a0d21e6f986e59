"""Where the line may lie: the line at some settings with what is known about the bench.

Linear in the numbers where that is good enough; whole electrons in fields that are linear in the
numbers tell whether it is, and take over where it is not: for loops, for lines that graze a plate,
and where some of the tubes that the bench may be end the beam elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.learning import Belief, learn
from glowtrace.bench.line_response import Response, distances, line_response, shifted_path
from glowtrace.bench.model import EndFace
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units import format_quantity

Array = NDArray[np.float64]
Way = Literal["linear", "linear, unchecked", "rays"]
"""How the band was found. "rays": by whole electrons, because linear is not good enough."""

FACTOR: Final = 1.959964
"""Standard uncertainties to either side within which 95 % of a normal distribution lie."""
ELLIPSE: Final = math.sqrt(-2.0 * math.log(0.05))
"""The same of two normal numbers: root of the 95 % quantile of chi squared with two degrees."""
CHECKS: Final = 16
RAYS: Final = 64
_PLACES: Final = 24
"""Places along the line at which whole electrons are compared."""
_FEWEST: Final = 6
"""Places that a path must have to be compared."""
_APART: Final = 0.15
"""Part of the standard uncertainty that linear may be off, as a root mean square."""
_COMES: Final = 0.9
"""Part of the electrons that must come by a place for its band to be told."""
_TO_END: Final = 0.97
"""Part of the path that is compared: at its very end some lines end a little sooner."""
_MANY: Final = 2
"""Pairs of drawn tubes for each number from which on they are given the exact covariance."""
_METALS: Final = ("anode", "upper plate", "lower plate")


class Share(NamedTuple):
    """What one number adds to the doubt about the line at a place."""

    name: str
    share: float
    """Part of the variance; those of numbers known together can be negative. They add up to 1."""
    alone: float
    """Standard uncertainty in m that it makes alone, signed as the line moves when it grows."""
    without: float
    """Standard uncertainty in m that would be left if it were exact."""


class Height(NamedTuple):
    """Height of the line at a place, in m."""

    value: float
    uncertainty: float
    """Standard."""


class SpotSpread(NamedTuple):
    """What is known of a spot's place, z and y."""

    shift: Array
    """(2,) m: how far what was learnt moves it."""
    covariance: Array
    """(2, 2) m^2."""


@dataclass(frozen=True, eq=False)
class Prediction:
    """Where the line may lie at some settings.

    Attributes
    ----------
    prepared, belief, response
        The bench, what is believed about its numbers, and how the line answers to them.
    shift, spread
        (k,) how far what was learnt moves the line, and its standard uncertainty, in m along the
        normals of ``response``; NaN where too few of the possible lines come by.
    way
        How they were found.
    elsewhere
        Part of the possible tubes in which the beam ends on something else; NaN if unchecked.
    """

    prepared: PreparedBench
    belief: Belief
    response: Response
    shift: Array
    spread: Array
    way: Way
    elsewhere: float

    @cached_property
    def edges(self) -> tuple[Array, Array]:
        """Both edges of the 95 % band as points (k, 3) in m."""
        sides = []
        for side in (1.0, -1.0):
            off = self.shift + side * FACTOR * self.spread
            edge = self.response.position.copy()
            edge[:, :2] += off[:, None] * self.response.normals
            sides.append(edge)
        return sides[0], sides[1]

    @cached_property
    def spot_spread(self) -> SpotSpread | None:
        """How far what was learnt moves a spot on an end face, and how well it is known."""
        screen = self.prepared.bench.screen
        change = self.response.at_x(screen.x) if isinstance(screen, EndFace) else None
        if change is None:
            return None
        rows = change[:, ::-1]
        return SpotSpread(rows.T @ self.belief.shift, rows.T @ self.belief.covariance @ rows)

    @cached_property
    def spot(self) -> Array | None:
        """The 95 % ellipse of a spot on an end face, as points (65, 2) of z and y in m."""
        spread, screen = self.spot_spread, self.prepared.bench.screen
        if spread is None or not isinstance(screen, EndFace):
            return None
        values, axes = np.linalg.eigh(spread.covariance)
        turn = np.linspace(0.0, 2.0 * math.pi, 65)
        reach = ELLIPSE * np.sqrt(np.maximum(values, 0.0))
        x, y = self.response.position[:, 0], self.response.position[:, (2, 1)]
        middle = np.array([np.interp(screen.x, x, y[:, n]) for n in (0, 1)])
        circle = np.stack([np.cos(turn), np.sin(turn)], axis=1) * reach
        return np.asarray(middle + spread.shift + circle @ axes.T)

    @cached_property
    def outline(self) -> Array:
        """Outline (k, 2) of where the line may lie in the picture, u and v in m; 95 %.

        The ellipse of a spot. Empty where nothing is told.
        """
        plane = self.prepared.bench.plane
        nowhere = np.zeros((0, 2))
        if plane.is_spot:
            return nowhere if self.spot is None else self.spot
        line = np.stack(plane.coordinates(self.response.position), axis=1)
        is_told = plane.holds(line) & np.isfinite(self.spread)
        inside = np.flatnonzero(is_told)
        if len(inside) < 2:
            return nowhere
        sides = [np.stack(plane.coordinates(edge), axis=1) for edge in self.edges]
        # From the first place on the screen to the last before one where nothing can be told.
        last = inside[0] + int(np.argmin([*is_told[inside[0] :], False]))
        part = slice(int(inside[0]), last)
        return np.concatenate([sides[0][part], sides[1][part][::-1]])

    def height(self, x: float) -> Height:
        """Give the height of the line where it first comes to x in m.

        Raises
        ------
        GlowtraceError
            It never does.
        """
        slopes = self._slopes(x)
        value = self.prepared.line_height(self.response.settings, x)
        widened = self._widened(x)
        shift = float(slopes @ self.belief.shift)
        return Height(value + shift, self.belief.size(slopes) * widened)

    def shares(self, x: float) -> tuple[Share, ...]:
        """Give what each number adds to the doubt at x in m, the largest first; linear."""
        return self.shares_of(self._slopes(x))

    def seen(self, x: float) -> tuple[Array, bool] | None:
        """Give how what is looked at answers to the numbers (n,), and whether that is a circle.

        The diameter where gas glows in a circle, else the line at x in m; None where it never
        comes there.
        """
        turn = self.response.at_turn() if self.prepared.bench.plane.glows else None
        if turn is not None:
            return turn, True
        change = self.response.at_x(x)
        return None if change is None else (change[:, 0], False)

    def shares_of(self, slopes: Array) -> tuple[Share, ...]:
        """Give what each number adds to the doubt about what answers to them by these slopes."""
        carried = self.belief.covariance @ slopes
        variance = float(slopes @ carried)
        if not variance > 0.0:
            return ()
        sizes = np.sqrt(np.diag(self.belief.covariance))
        found = [
            Share(
                name,
                float(slopes[n] * carried[n]) / variance,
                float(slopes[n] * sizes[n]),
                math.sqrt(max(variance - float(carried[n]) ** 2 / float(sizes[n]) ** 2, 0.0)),
            )
            for n, name in enumerate(self.belief.names)
        ]
        return tuple(sorted(found, key=lambda each: -each.share))

    def _slopes(self, x: float) -> Array:
        change = self.response.at_x(x)
        if change is None:
            allowed = "at these settings the line never comes there: choose a place on the line"
            raise GlowtraceError(Problem("x", format_quantity(x, "mm"), allowed))
        return np.asarray(change[:, 0])

    def _widened(self, x: float) -> float:
        """How many times the linear spread the true one is, near x."""
        place = int(np.argmin(np.abs(self.response.position[:, 0] - x)))
        linear = self.belief.size(self.response.across[:, place])
        spread = float(self.spread[place])
        return spread / linear if linear > 0.0 and math.isfinite(spread) else 1.0


def predict(
    prepared: PreparedBench,
    settings: Settings,
    *,
    belief: Belief | None = None,
    is_checked: bool = True,
) -> Prediction:
    """Give where the line may lie.

    Parameters
    ----------
    prepared
        The bench. Where all its numbers are exact the spread is nought.
    settings
        Knobs and switches.
    belief
        About its numbers; what its file and what was seen say when left out.
    is_checked
        Whether whole electrons tell if linear is good enough (5 to 50 ms); else it is taken.

    Returns
    -------
    Prediction
        Without any place where no beam leaves the gun.
    """
    require_kind(prepared, PreparedBench)
    if belief is None:
        belief = learn(prepared).after
    response = line_response(prepared, prepared.effects, settings)
    across = response.across
    shift = belief.shift @ across
    spread = np.sqrt(np.maximum(np.einsum("nk,nm,mk->k", across, belief.covariance, across), 0.0))
    found = Prediction(prepared, belief, response, shift, spread, "linear, unchecked", math.nan)
    if not is_checked or not belief.names or len(response.position) < _FEWEST:
        return found
    return _checked(found)


def _checked(linear: Prediction) -> Prediction:
    """Compare with whole electrons, and go by them where linear is not good enough."""
    response = linear.response
    length = response.lengths
    wanted = np.linspace(0.0, _TO_END * length[-1], _PLACES + 1)[1:]
    places = np.unique(np.searchsorted(length, wanted))
    numbers = drawn_tubes(linear.belief, RAYS)
    few = _flown(linear, places, numbers[:CHECKS])
    off = np.sqrt(
        np.nan_to_num(few.rest**2).sum(axis=0) / np.isfinite(few.rest).sum(axis=0).clip(1)
    )
    comes = np.isfinite(few.rest).mean(axis=0)
    is_good = comes >= 1.0
    worst = np.max(off[is_good] / np.maximum(linear.spread[places][is_good], 1e-9), initial=0.0)
    elsewhere = float(np.mean([end != _ended(response.end) for end in few.ends]))
    if worst < _APART and elsewhere == 0.0 and is_good[: len(places) // 2].all():
        return replace(linear, way="linear", elsewhere=0.0)
    return _by_rays(linear, places, numbers)


class _Flown(NamedTuple):
    rest: Array
    """(r, j) how far each electron lies beyond where linear puts it, m."""
    ends: tuple[str, ...]


def _by_rays(linear: Prediction, places: NDArray[np.intp], numbers: Array) -> Prediction:
    """Give the band by whole electrons.

    Only what they differ by from linear is taken from the sample: the rest is known exactly.
    """
    flown = _flown(linear, places, numbers)
    across = linear.response.across[:, places]
    drawn = (numbers - linear.belief.shift) @ across
    count = np.isfinite(flown.rest).sum(axis=0)
    known = count >= _COMES * len(numbers)
    shift, spread = np.full(len(places), math.nan), np.full(len(places), math.nan)
    for n in np.flatnonzero(known).tolist():
        kept = np.isfinite(flown.rest[:, n])
        rest, along = flown.rest[kept, n], drawn[kept, n]
        covariance = np.cov(np.stack([along, rest]))
        variance = linear.spread[places[n]] ** 2 + 2 * covariance[0, 1] + covariance[1, 1]
        shift[n] = linear.shift[places[n]] + rest.mean()
        # The mean of the rest is itself known only from so many electrons.
        spread[n] = math.sqrt(max(variance, 0.0) + covariance[1, 1] / kept.sum())
    ends = [end != _ended(linear.response.end) for end in flown.ends]
    lengths = linear.response.lengths
    at = lengths[places]
    return replace(
        linear,
        shift=np.interp(lengths, np.r_[0.0, at], np.r_[linear.shift[0], shift], right=math.nan),
        spread=np.interp(lengths, np.r_[0.0, at], np.r_[linear.spread[0], spread], right=math.nan),
        way="rays",
        elsewhere=float(np.mean(ends)),
    )


def _flown(linear: Prediction, places: NDArray[np.intp], numbers: Array) -> _Flown:
    """Fly one electron in each of the tubes (r, n) that the bench may be."""
    prepared, response, effects = linear.prepared, linear.response, linear.prepared.effects
    settings = response.settings
    lift = effects.moves("slack.grid_height")
    nominal = shifted_path(prepared, effects, settings, np.zeros(len(effects.names)))
    own = distances(response, places, nominal, 0.0)  # what the coarser fields are off by
    across = response.across[:, places]
    face = effects.moves("screen.x")
    if face is not None:  # where the face stands is no matter of the electron
        across[face] = 0.0
    rest, ends = [], []
    for each in numbers:
        path = shifted_path(prepared, effects, settings, each)
        raised = float(each[lift]) if lift is not None else 0.0
        found = distances(response, places, path, raised) - own
        rest.append(found - each @ across)
        ends.append(_ended(path.end))
    return _Flown(np.array(rest), tuple(ends))


def _ended(end: str) -> str:
    """Name what an electron ended on, as far as it makes another picture."""
    return end if end in _METALS else "beyond"


def drawn_tubes(belief: Belief, count: int) -> Array:
    """Draw tubes (r, n) that the bench may be, the same at every call, as shifts of its numbers.

    Each comes with its mirror image. Many of them have exactly the covariance that is believed, so
    that what is linear in the numbers is spread as it should be, without scatter of the sample.
    """
    generator = np.random.default_rng(20_261_130)
    half = generator.standard_normal((count // 2, len(belief.names)))
    if len(half) > _MANY * len(belief.names):
        root = np.linalg.cholesky(half.T @ half / len(half))
        half = np.linalg.solve(root, half.T).T
    pairs = np.stack([half, -half], axis=1).reshape(2 * len(half), -1)
    values, axes = np.linalg.eigh(belief.covariance / np.outer(*2 * [_scale(belief)]))
    root = axes * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(belief.shift + (pairs @ root.T) * _scale(belief))


def _scale(belief: Belief) -> Array:
    return np.asarray(np.sqrt(np.diag(belief.covariance)))
