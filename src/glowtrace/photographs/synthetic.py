"""Made-up photographs of a screen, of which everything is known: for tests and for demonstration.

A pinhole camera with a radially distorting lens looks at the flat screen; then come room light with
a gradient, a printed grid, reflections on the screen and beside it, a hand, things that stand
around, blur, the noise of photons and of reading out, eight bits, and JPEG. The camera is written
as optics has it and shares no code with the map that `glowtrace.photographs.grid` fits.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage, spatial

from glowtrace.bench.picture import Picture
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import Photograph, load_photograph, stored_light

Array = NDArray[np.float64]
Light = Callable[[Array], Array]
"""From places (n, 2) on the screen in m to light (n,), brightest about 1."""
_REACH = 6.0
"""Standard deviations beyond which a line gives no light."""


@dataclass(frozen=True)
class Camera:
    """Where the camera stands, and what it is."""

    aim: tuple[float, float]
    """(u, v) in m of the place in the middle of the photograph."""
    distance: float
    """m to that place."""
    turn: float = 0.0
    """Angle in rad by which the screen is turned about its vertical."""
    tilt: float = 0.0
    """Angle in rad by which it leans back."""
    roll: float = 0.0
    """Angle in rad by which it stands askew in the photograph."""
    focal_length: float = 1400.0
    """In pixels."""
    distortion: float = 0.0
    """Relative radial shift at half the diagonal; negative for a barrel."""
    size: tuple[int, int] = (1280, 960)
    """Columns and rows."""

    @property
    def _matrix(self) -> Array:
        """From (u, v, 1) to the undistorted pixel from the middle, times the depth."""
        (sin_a, sin_b, sin_c), (cos_a, cos_b, cos_c) = (
            [f(angle) for angle in (self.turn, self.tilt, self.roll)] for f in (math.sin, math.cos)
        )
        turn = np.array([[cos_a, 0, sin_a], [0, 1, 0], [-sin_a, 0, cos_a]])
        tilt = np.array([[1, 0, 0], [0, cos_b, -sin_b], [0, sin_b, cos_b]])
        roll = np.array([[cos_c, -sin_c, 0], [sin_c, cos_c, 0], [0, 0, 1]])
        turned = roll @ tilt @ turn
        u, v = self.aim
        there = np.column_stack([turned[:, 0], turned[:, 1], -turned[:, :2] @ [u, v]])
        there[2, 2] += self.distance
        matrix: Array = np.diag([self.focal_length, -self.focal_length, 1.0]) @ there
        return matrix

    @property
    def _middle(self) -> Array:
        return (np.array(self.size, dtype=float) - 1.0) / 2.0

    @property
    def _half_diagonal(self) -> float:
        return math.hypot(*self.size) / 2.0

    def pixels(self, places: ArrayLike) -> Array:
        """Pixels (n, 2) at which places (n, 2) in m are seen."""
        at = np.asarray(places, dtype=float).reshape(-1, 2)
        a, b, depth = self._matrix @ np.column_stack([at, np.ones(len(at))]).T
        ideal = np.column_stack([a / depth, b / depth])
        squared = (ideal**2).sum(axis=1, keepdims=True) / self._half_diagonal**2
        seen: Array = ideal * (1.0 + self.distortion * squared) + self._middle
        return seen

    def places(self, pixels: ArrayLike) -> Array:
        """Places (n, 2) in m that are seen at pixels (n, 2)."""
        seen = np.asarray(pixels, dtype=float).reshape(-1, 2) - self._middle
        ideal = seen.copy()
        if self.distortion:
            for _ in range(15):
                squared = (ideal**2).sum(axis=1, keepdims=True) / self._half_diagonal**2
                ideal = seen / (1.0 + self.distortion * squared)
        u, v, w = np.linalg.inv(self._matrix) @ np.column_stack([ideal, np.ones(len(ideal))]).T
        return np.column_stack([u / w, v / w])

    def clicks(
        self, places: Sequence[tuple[float, float]], *, uncertainty: float = 1.0, seed: int = 0
    ) -> tuple[GridPoint, ...]:
        """Grid points as somebody would click them, with errors of that size in pixels."""
        true = self.pixels(np.array(places))
        noise = np.random.default_rng(seed).normal(0.0, uncertainty, true.shape)
        return tuple(
            GridPoint(u, v, float(column), float(row), max(uncertainty, 1e-3))
            for (u, v), (column, row) in zip(places, true + noise, strict=True)
        )


@dataclass(frozen=True)
class Conditions:
    """How the photograph is taken. The defaults are a good one in a dark room."""

    exposure: float = 0.6
    """Light of the brightest part of the line; from 1 on it is saturated."""
    colour: tuple[float, float, float] = (0.3, 0.85, 1.0)
    blur: float = 1.0
    """Standard deviation in pixels."""
    full_electrons: float = 8000.0
    """Photoelectrons at full light: the fewer, the noisier."""
    read_noise: float = 0.001
    """Standard deviation in units of full light."""
    room_light: float = 0.01
    room_colour: tuple[float, float, float] = (1.0, 0.8, 0.6)
    gradient: float = 0.5
    """Relative change of the room light across the photograph."""
    grid_pitch: float | None = None
    """m; no grid when left out."""
    grid_darkness: float = 0.4
    """Share of the light that a printed line takes; of a print brighter than the sheet below 0."""
    grid_line: float = 0.3e-3
    """Width in m of a printed line."""
    zero_line: float = 1.0
    """How much stronger the line at v = 0 is printed."""
    has_border: bool = False
    """Whether a line is printed along the edge of the screen."""
    surround: float = 0.3
    """Room light beside the screen, relative to that on it."""
    clutter: int = 0
    """How many things with straight edges stand around the screen."""
    reflection: float = 0.0
    """Light of a bright spot beside the screen."""
    glare: tuple[float, float, float, float] | None = None
    """A lamp that the screen reflects: u, v, size in m, and its light; it hides what it covers."""
    hand: tuple[tuple[float, float, float, float, float], ...] = ()
    """Fingers in front of the screen: u, v of both ends, and half the width, in m."""
    hand_light: float = 0.8
    """Room light that a hand throws back, relative to the screen."""
    hidden: tuple[tuple[float, float], ...] = ()
    """Ranges of u in m that something dark stands in front of."""
    jpeg_quality: int | None = 92
    """1 to 95; None leaves JPEG out."""
    seed: int = 0

    def __post_init__(self) -> None:
        for name in ("exposure", "blur", "full_electrons", "read_noise", "room_light"):
            value = getattr(self, name)
            if not 0 <= value < math.inf or (name == "full_electrons" and value == 0):
                raise GlowtraceError(Problem(name, str(value), "give 0 or more"))


@dataclass(frozen=True, eq=False)
class CurveLight:
    """Light of a thin line along a curve, Gaussian across."""

    curve: Array
    """(m, 2) places in m along it."""
    width: float
    """Standard deviation in m."""
    _tree: spatial.KDTree = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_tree", spatial.KDTree(_dense(self.curve, self.width / 12)))

    def __call__(self, places: Array) -> Array:
        """Give the light (n,) at places (n, 2)."""
        light = np.zeros(len(places))
        reach = _REACH * self.width
        low, high = self.curve.min(axis=0) - reach, self.curve.max(axis=0) + reach
        near = np.flatnonzero(((places > low) & (places < high)).all(axis=1))
        distance, _ = self._tree.query(places[near], distance_upper_bound=reach, workers=2)
        light[near] = np.exp(-0.5 * (np.minimum(distance, 2 * reach) / self.width) ** 2)
        return light


def picture_light(picture: Picture) -> Light:
    """Give the light of a computed picture, brightest 1."""
    u0, u1, v0, v1 = picture.extent
    rows, columns = picture.image.shape
    brightest = float(picture.image.max()) or 1.0
    smooth = ndimage.spline_filter(picture.image / brightest, order=2)

    def light(places: Array) -> Array:
        column = (places[:, 0] - u0) / (u1 - u0) * columns - 0.5
        row = (places[:, 1] - v0) / (v1 - v0) * rows - 0.5
        inside = (column >= 0) & (column <= columns - 1) & (row >= 0) & (row <= rows - 1)
        found = np.zeros(len(places))
        found[inside] = ndimage.map_coordinates(
            smooth, [row[inside], column[inside]], order=2, prefilter=False, mode="nearest"
        )
        return np.clip(found, 0.0, None)

    return light


def take_photograph(
    light: Light,
    camera: Camera,
    rectangle: tuple[float, float, float, float],
    conditions: Conditions | None = None,
) -> Photograph:
    """Give the photograph that a camera takes of light on a screen.

    Parameters
    ----------
    light
        What glows; none of it is seen outside the rectangle.
    camera
        Where it stands.
    rectangle
        (u0, v0, u1, v1) of the screen in m.
    conditions
        How it is taken; a good photograph in a dark room when left out.
    """
    how = conditions or Conditions()
    columns, rows = camera.size
    row, column = np.mgrid[0:rows, 0:columns]
    places = camera.places(np.column_stack([column.ravel(), row.ravel()]))
    u0, v0, u1, v1 = rectangle
    u, v = places.T
    on_screen = (u >= u0) & (u <= u1) & (v >= v0) & (v <= v1)
    glow = np.where(on_screen, light(places), 0.0)
    through = np.where(on_screen, _through_grid(u, v, rectangle, how), 1.0)
    for low, high in how.hidden:
        glow[(u >= low) & (u <= high)] = 0.0
    slope = 1.0 + how.gradient * (column.ravel() / columns - row.ravel() / rows) / 2
    beside = how.surround * _clutter(places, rectangle, how)
    room = how.room_light * slope * np.where(on_screen, 1.0, beside)
    room += _reflection(places, rectangle, how.reflection)
    shine = _glare(places, how) if how.glare is not None else np.zeros_like(u)
    covered, rounded = _hand(places, how)
    glow = np.where(covered, 0.0, glow)
    through = np.where(covered, 1.0, through)
    room = np.where(covered, how.room_light * how.hand_light * slope * rounded, room)
    rng = np.random.default_rng(how.seed)
    seen = np.empty((rows, columns, 3))
    for n in range(3):
        plain = (how.exposure * how.colour[n] * glow + how.room_colour[n] * room) * through
        plain += np.where(covered, 0.0, shine)
        sharp = ndimage.gaussian_filter(plain.reshape(rows, columns), how.blur)
        counted = rng.poisson(sharp * how.full_electrons) / how.full_electrons
        seen[:, :, n] = counted + rng.normal(0.0, how.read_noise, counted.shape)
    return _filed(Photograph(stored_light(seen), "synthetic", "PNG"), how.jpeg_quality)


def _filed(photograph: Photograph, quality: int | None) -> Photograph:
    if quality is None:
        return photograph
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(photograph.pixels).save(file, "JPEG", quality=quality)
    return replace(load_photograph(file.getvalue()), name="synthetic")


def _through_grid(
    u: Array, v: Array, rectangle: tuple[float, float, float, float], how: Conditions
) -> Array:
    if how.grid_pitch is None:
        return np.ones_like(u)
    passed = np.ones_like(u)
    u0, v0, u1, v1 = rectangle
    for along, edges in ((u, (u0, u1)), (v, (v0, v1))):
        lines = [(np.abs((along / how.grid_pitch + 0.5) % 1.0 - 0.5) * how.grid_pitch, 1.0)]
        if along is v and how.zero_line != 1.0:
            lines.append((np.abs(v), how.zero_line - 1.0))
        if how.has_border:
            lines += [(np.abs(along - edge), 1.0) for edge in edges]
        for off, strength in lines:
            edge = how.grid_line / 6
            printed = 1.0 / (1.0 + np.exp(np.minimum((off - how.grid_line / 2) / edge, 50.0)))
            passed *= np.maximum(1.0 - strength * how.grid_darkness * printed, 0.0)
    return passed


def _glare(places: Array, how: Conditions) -> Array:
    """Light of a lamp's reflection: full within its size, soft at its edge."""
    if how.glare is None:
        return np.zeros(len(places))
    u, v, size, light = how.glare
    away = np.hypot(places[:, 0] - u, places[:, 1] - v) / size
    soft: Array = light / (1.0 + away**4)
    return soft


def _hand(places: Array, how: Conditions) -> tuple[NDArray[np.bool_], Array]:
    """Say which places (n,) fingers cover, and how bright (n,) their rounded skin is there."""
    covered = np.zeros(len(places), dtype=bool)
    rounded = np.ones(len(places))
    for u0, v0, u1, v1, half in how.hand:
        way = np.array([u1 - u0, v1 - v0])
        share = np.clip((places - [u0, v0]) @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
        away = np.hypot(*(places - [u0, v0] - share[:, None] * way).T) / half
        mine = away < 1.0
        rounded[mine] = np.sqrt(np.maximum(1.0 - away[mine] ** 2, 0.1))
        covered |= mine
    return covered, rounded


def _clutter(places: Array, rectangle: tuple[float, float, float, float], how: Conditions) -> Array:
    """How bright (n,) the things around the screen are, relative to the wall behind them."""
    u0, v0, u1, v1 = rectangle
    middle, size = np.array([u0 + u1, v0 + v1]) / 2, np.array([u1 - u0, v1 - v0])
    rng = np.random.default_rng(how.seed + 7919)
    bright = np.ones(len(places))
    for _ in range(how.clutter):
        at = middle + rng.uniform(-0.8, 0.8, 2) * size
        half = rng.uniform(0.02, 0.25, 2) * size.max()
        turn = rng.choice([0.0, 0.0, rng.uniform(-0.5, 0.5)])
        turned = (places - at) @ np.array(
            [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        )
        bright[(np.abs(turned) < half).all(axis=1)] = rng.uniform(0.2, 2.5)
    return bright


def _reflection(
    places: Array, rectangle: tuple[float, float, float, float], brightness: float
) -> Array:
    u0, _, u1, v1 = rectangle
    size = 0.06 * (u1 - u0)
    centre = np.array([u0 + 0.3 * (u1 - u0), v1 + 2.2 * size])
    squared = ((places - centre) ** 2).sum(axis=1)
    outside = places[:, 1] > v1 + 0.2 * size
    return np.where(outside, brightness * np.exp(-0.5 * squared / size**2), 0.0)


def _dense(curve: Array, spacing: float) -> Array:
    """Put points (n, 2) along a curve, no further apart than the spacing."""
    steps = np.hypot(*np.diff(curve, axis=0).T)
    counts = np.maximum(np.ceil(steps / spacing).astype(int), 1)
    pieces = [
        np.linspace(curve[n], curve[n + 1], count, endpoint=False) for n, count in enumerate(counts)
    ]
    return np.vstack([*pieces, curve[-1:]])
