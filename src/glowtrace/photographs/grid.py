"""From pixels of a photograph to places on the screen, fitted to clicked grid points.

A flat screen is seen through a projective map; a lens adds a radial distortion about the middle of
the photograph. With a place (u, v) on the screen in units of the clicked points' spread,

    (a, b, w) = H (u, v, 1),   d = (a, b) / w,   pixel = middle + R d (1 + k |d|^2),

where R is half the diagonal of the photograph: eight numbers in H and one k. A photograph that was
cropped off-centre has another middle; the distortion is then only roughly right.

References
----------
R. Hartley, A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed., Cambridge 2004,
ch. 4 (estimation of a projective map) and 7.4 (radial distortion).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

from glowtrace.bench.model import Bench
from glowtrace.photographs.grid_points import GridPoint, require_sound
from glowtrace.photographs.photograph import Photograph, PhotographError

Array = NDArray[np.float64]
FEWEST_WITH_LENS: Final = 6
"""Grid points from which the lens's distortion can be fitted."""
_DISTORTION_SPREAD = 0.1
"""How large k of a real lens may be: enters the fit like a reading of 0."""


@dataclass(frozen=True, eq=False)
class ScreenMap:
    """The map between pixels and the screen, with its uncertainty. Made by `fit_screen_map`."""

    parameters: Array
    """(9,) H row by row without its last number, which is 1, and k."""
    covariance: Array
    """(9, 9) of the parameters."""
    points: tuple[GridPoint, ...]
    residuals: Array
    """(n, 2) clicked minus fitted, in pixels."""
    size: tuple[int, int]
    """Columns and rows of the photograph."""
    origin: tuple[float, float]
    """(u, v) in m that is (0, 0) for H."""
    spread: float
    """Length in m that is 1 for H."""
    rectangle: tuple[float, float, float, float]
    """(u0, v0, u1, v1) in m of the screen."""

    @property
    def distortion(self) -> float:
        """Radial distortion k at half the diagonal; negative for a barrel."""
        return float(self.parameters[8])

    @property
    def rms_residual(self) -> float:
        """Root mean square distance of the clicks from the fit, in pixels."""
        return math.sqrt(float((self.residuals**2).sum(axis=1).mean()))

    def pixels(self, places: ArrayLike) -> Array:
        """Give the pixels (n, 2) at which places (n, 2) on the screen, in m, are seen."""
        normal = (np.asarray(places, dtype=float).reshape(-1, 2) - self.origin) / self.spread
        return _seen(self.parameters, normal) * _radius(self.size) + _middle(self.size)

    def places(self, pixels: ArrayLike) -> Array:
        """Give the places (n, 2) on the screen, in m, that are seen at pixels (n, 2)."""
        seen = (np.asarray(pixels, dtype=float).reshape(-1, 2) - _middle(self.size)) / _radius(
            self.size
        )
        ideal = _undistorted(seen, self.distortion)
        inverse = np.linalg.inv(_matrix(self.parameters))
        a, b, w = inverse @ np.column_stack([ideal, np.ones(len(ideal))]).T
        normal: Array = np.column_stack([a / w, b / w])
        return normal * self.spread + self.origin

    def slopes(self, places: ArrayLike) -> Array:
        """Give d(pixel)/d(place) (n, 2, 2) in pixels per m at places (n, 2)."""
        at = np.asarray(places, dtype=float).reshape(-1, 2)
        step = 1e-5 * self.spread
        columns = [
            (self.pixels(at + shift) - self.pixels(at - shift)) / (2 * step)
            for shift in (np.array([step, 0.0]), np.array([0.0, step]))
        ]
        return np.stack(columns, axis=2)

    def place_covariance(self, pixels: ArrayLike, pixel_covariance: ArrayLike) -> Array:
        """Carry covariances (n, 2, 2) of pixels (n, 2) over to the screen, in m^2."""
        back = np.linalg.inv(self.slopes(self.places(pixels)))
        carried: Array = back @ np.asarray(pixel_covariance) @ back.transpose(0, 2, 1)
        return carried

    def moved(self, parameter: int, by: float) -> ScreenMap:
        """Give the map with one of its nine parameters changed."""
        changed = self.parameters.copy()
        changed[parameter] += by
        return replace(self, parameters=changed)

    def sway(self, pixels: ArrayLike) -> Array:
        """Give how places (n, 2) move, in m, with nine independent errors of the map (9, n, 2).

        Each error has a standard deviation of one; their squares add up to `map_covariance`.
        """
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        at = np.asarray(pixels, dtype=float).reshape(-1, 2)
        step = np.maximum(np.sqrt(np.diag(self.covariance)), 1e-9)
        single = np.stack(
            [
                (self.moved(n, s).places(at) - self.moved(n, -s).places(at)) / (2 * s)
                for n, s in enumerate(step)
            ]
        )
        moved: Array = np.einsum("pe,pnx->enx", root, single)
        return moved

    def map_covariance(self, pixels: ArrayLike) -> Array:
        """Covariance (n, 2, 2) in m^2 that the map's own uncertainty gives to places."""
        sway = self.sway(pixels)
        covariance: Array = np.einsum("enx,eny->nxy", sway, sway)
        return covariance

    def as_dict(self) -> dict[str, Any]:
        """Give what a page or a file needs, in plain numbers."""
        return {
            "points": [vars(point) for point in self.points],
            "residuals_px": self.residuals.tolist(),
            "rms_residual_px": self.rms_residual,
            "distortion": self.distortion,
            "outline_px": self.pixels(corners(self.rectangle)).tolist(),
        }


def corners(rectangle: tuple[float, float, float, float]) -> Array:
    """Corners (4, 2) of (u0, v0, u1, v1), in order round it."""
    u0, v0, u1, v1 = rectangle
    return np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]])


def screen_rectangle_of(bench: Bench) -> tuple[float, float, float, float]:
    """Give (u0, v0, u1, v1) in m of a bench's screen."""
    return bench.plane.rectangle


def fit_screen_map(
    photograph: Photograph,
    points: Sequence[GridPoint],
    rectangle: tuple[float, float, float, float],
    *,
    lens: bool = False,
) -> ScreenMap:
    """Fit the map from pixels to the screen to clicked grid points.

    Parameters
    ----------
    photograph
        On which was clicked.
    points
        Four or more, no three of the four most spread ones in line.
    rectangle
        (u0, v0, u1, v1) of the screen in m: nothing outside is looked at.
    lens
        Whether to fit the lens's distortion as well; needs six points or more.

    Returns
    -------
    ScreenMap
        Its covariance follows from the points' uncertainties, made larger where the points fit
        worse than these explain.

    Raises
    ------
    PhotographError
        If there are too few points, they do not determine the map, or they contradict each other.
    """
    return fit_map((photograph.width, photograph.height), points, rectangle, lens=lens)


def fit_map(
    size: tuple[int, int],
    points: Sequence[GridPoint],
    rectangle: tuple[float, float, float, float],
    *,
    lens: bool = False,
) -> ScreenMap:
    """Fit the map of a photograph of so many columns and rows; see `fit_screen_map`."""
    fewest = FEWEST_WITH_LENS if lens else 4
    if len(points) < fewest:
        given = f"{len(points)} grid points"
        why = " with the lens's distortion" if lens else ""
        raise PhotographError(f"{given} are too few; click {fewest} or more{why}")
    places = np.array([[each.u, each.v] for each in points])
    clicks = np.array([[each.column, each.row] for each in points])
    sigma = np.array([each.uncertainty for each in points])
    require_sound(places, clicks, sigma)
    origin = places.mean(axis=0)
    spread = float(np.sqrt(((places - origin) ** 2).sum(axis=1).mean()))
    normal = (places - origin) / spread
    seen = (clicks - _middle(size)) / _radius(size)
    parameters, covariance = _fitted(normal, seen, sigma / _radius(size), lens)
    fitted = _seen(parameters, normal)
    residuals = (seen - fitted) * _radius(size)
    free = 2 * len(points) - (9 if lens else 8)
    excess = float(((residuals / sigma[:, None]) ** 2).sum()) / free if free else 1.0
    found = ScreenMap(
        parameters,
        covariance * max(excess, 1.0),
        tuple(points),
        residuals,
        size,
        (float(origin[0]), float(origin[1])),
        spread,
        rectangle,
    )
    _require_in_front(found)
    return found


def _fitted(normal: Array, seen: Array, sigma: Array, lens: bool) -> tuple[Array, Array]:
    """Parameters (9,) and covariance (9, 9) by weighted least squares in the photograph."""
    varied = np.arange(9 if lens else 8)
    start = np.append(_direct(normal, seen), 0.0)

    def whole(x: Array) -> Array:
        full = start.copy()
        full[varied] = x
        return full

    def misses(x: Array) -> Array:
        miss = (_seen(whole(x), normal) - seen) / sigma[:, None]
        prior = [x[8] / _DISTORTION_SPREAD] if lens else []
        return np.concatenate([miss.ravel(), prior])

    found = optimize.least_squares(misses, start[varied], method="lm", x_scale=1.0, xtol=1e-14)
    covariance = np.zeros((9, 9))
    jacobian = np.asarray(found.jac)
    information = jacobian.T @ jacobian
    if np.linalg.cond(information) > 1e14:
        raise PhotographError(
            "the grid points do not determine the map; click points further apart"
        )
    covariance[: len(varied), : len(varied)] = np.linalg.inv(information)
    return whole(np.asarray(found.x)), covariance


def _direct(normal: Array, seen: Array) -> Array:
    """Eight numbers of H from the linear equations that it obeys without errors."""
    rows = []
    for (u, v), (a, b) in zip(normal, seen, strict=True):
        rows.append([u, v, 1, 0, 0, 0, -a * u, -a * v, -a])
        rows.append([0, 0, 0, u, v, 1, -b * u, -b * v, -b])
    rows.append([0.0] * 9)  # as many rows as unknowns, also for four points
    _, sizes, vectors = np.linalg.svd(np.array(rows, dtype=float), full_matrices=False)
    if sizes[7] < 1e-9 * sizes[0] or abs(vectors[8, 8]) < 1e-9:
        raise PhotographError("the grid points lie in one line; click points further apart")
    direct: Array = vectors[8, :8] / vectors[8, 8]
    return direct


def _matrix(parameters: Array) -> Array:
    return np.append(parameters[:8], 1.0).reshape(3, 3)


def _seen(parameters: Array, normal: Array) -> Array:
    a, b, w = _matrix(parameters) @ np.column_stack([normal, np.ones(len(normal))]).T
    ideal = np.column_stack([a / w, b / w])
    seen: Array = ideal * (1.0 + parameters[8] * (ideal**2).sum(axis=1, keepdims=True))
    return seen


def _undistorted(seen: Array, k: float) -> Array:
    """Invert d (1 + k |d|^2) by Newton's method on the radius."""
    if k == 0.0:
        return seen
    radius = np.linalg.norm(seen, axis=1)
    ideal = radius.copy()
    for _ in range(12):
        slope = np.maximum(1.0 + 3.0 * k * ideal**2, 0.1)
        ideal -= (ideal * (1.0 + k * ideal**2) - radius) / slope
    share = np.divide(ideal, radius, out=np.ones_like(radius), where=radius > 0)
    undistorted: Array = seen * share[:, None]
    return undistorted


def _middle(size: tuple[int, int]) -> Array:
    return (np.array(size, dtype=float) - 1.0) / 2.0


def _radius(size: tuple[int, int]) -> float:
    return math.hypot(*size) / 2.0


def _require_in_front(found: ScreenMap) -> None:
    """Refuse clicks in a wrong order: the screen would be seen from behind or turned inside out."""
    edge = corners(found.rectangle)
    slopes = np.linalg.det(found.slopes(np.vstack([edge, edge.mean(axis=0)])))
    if not np.all(np.isfinite(slopes)) or not np.all(slopes < 0):
        allowed = "click them so that u grows to the right and v upwards, as the audience sees it"
        raise PhotographError(f"the grid points are mixed up or mirrored; {allowed}")
