"""The circle through the points of a line, with its diameter's uncertainty.

Minimised are the squared distances from the circle in units of each point's uncertainty along the
radius (geometric fit). What the map adds is common to all points and is carried through the fit as
nine independent errors; it does not average out.

References
----------
W. Gander, G. H. Golub, R. Strebel, "Least-squares fitting of circles and ellipses", BIT 34 (1994)
558-578. I. Kasa, "A circle fitting procedure and its error analysis", IEEE Trans. Instrum. Meas.
25 (1976) 8-14 (the start).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.photographs.photograph import PhotographError
from glowtrace.photographs.trace_line import TraceLine

Array = NDArray[np.float64]

_SHORT_ARC: Final = math.radians(90.0)
_NOT_ROUND: Final = 3.0
"""Root of the reduced chi-square from which the points do not look like a circle."""
_ROUNDS: Final = 100


@dataclass(frozen=True, eq=False)
class Circle:
    """A fitted circle, in the units of the points."""

    centre: tuple[float, float]
    radius: float
    covariance: Array
    """(3, 3) of the centre's coordinates and the radius."""
    residuals: Array
    """(n,) distances from the circle, outwards."""
    chi_square: float
    degrees_of_freedom: int
    arc: float
    """Angle in rad from the first to the last point, as seen from the centre: at most 2 pi."""
    findings: tuple[str, ...] = ()

    @property
    def diameter(self) -> float:
        """Twice the radius."""
        return 2.0 * self.radius

    @property
    def diameter_uncertainty(self) -> float:
        """Standard uncertainty of the diameter."""
        return 2.0 * math.sqrt(self.covariance[2, 2])

    @property
    def rms_residual(self) -> float:
        """Root mean square distance from the circle."""
        return float(np.sqrt(np.mean(self.residuals**2)))

    def as_dict(self) -> dict[str, Any]:
        """Give what a page or a file needs, in plain numbers."""
        return {
            "centre_m": list(self.centre),
            "diameter_m": self.diameter,
            "diameter_uncertainty_m": self.diameter_uncertainty,
            "covariance_m2": self.covariance.tolist(),
            "rms_residual_m": self.rms_residual,
            "chi_square": self.chi_square,
            "degrees_of_freedom": self.degrees_of_freedom,
            "arc_deg": math.degrees(self.arc),
            "findings": list(self.findings),
        }


def fit_circle(points: ArrayLike, covariance: ArrayLike | None = None) -> Circle:
    """Fit a circle to points by the distances from it.

    Parameters
    ----------
    points
        (n, 2), n at least 4.
    covariance
        (n, 2, 2) of each point, independent of the others. Equal and unknown when left out: their
        size is then taken from the scatter.

    Raises
    ------
    PhotographError
        If there are fewer than four points, or they lie in a line.
    """
    at = np.asarray(points, dtype=float)
    if at.ndim != 2 or at.shape[1] != 2 or len(at) < 4 or not np.all(np.isfinite(at)):
        raise PhotographError(f"{len(at)} points do not fix a circle; give 4 or more")
    middle = at.mean(axis=0)
    size = float(np.sqrt(((at - middle) ** 2).sum(axis=1).mean()))
    if size == 0:
        raise PhotographError("the points are all the same; they do not fix a circle")
    normal = (at - middle) / size
    known = None if covariance is None else np.asarray(covariance, dtype=float) / size**2
    found = _algebraic(normal)
    for _ in range(_ROUNDS):
        miss, slopes, sigma = _linear(found, normal, known)
        step = np.asarray(
            np.linalg.lstsq(slopes / sigma[:, None], -miss / sigma, rcond=None)[0], dtype=np.float64
        )
        found = _damped(found, step, normal, known)
        if np.abs(step).max() < 1e-10 * max(found[2], 1.0):
            break
    if not np.isfinite(found).all() or found[2] > 1e4:
        raise PhotographError("the points lie in a straight line; they do not fix a circle")
    miss, slopes, sigma = _linear(found, normal, known)
    information = (slopes / sigma[:, None]).T @ (slopes / sigma[:, None])
    spread = np.asarray(np.linalg.inv(information), dtype=np.float64)
    freedom = len(at) - 3
    chi_square = float(((miss / sigma) ** 2).sum())
    if known is None:
        spread *= chi_square / freedom
        chi_square = float(freedom)
    centre = found[:2] * size + middle
    return Circle(
        (float(centre[0]), float(centre[1])),
        float(found[2]) * size,
        spread * size**2,
        miss * size,
        chi_square,
        freedom,
        _arc(normal - found[:2]),
    )


def circle_of_line(line: TraceLine) -> Circle:
    """Fit a circle to the points of a line that count, with the map's uncertainty carried through.

    When it holds: for a line that is seen at right angles to the plane of the circle, and for a
    circle in the plane of the grid points; one nearer to the camera looks larger.

    Raises
    ------
    PhotographError
        If fewer than four points count, or they lie in a line.
    """
    kept = line.kept
    if len(kept) < 4:
        raise PhotographError(f"{len(kept)} points do not fix a circle; give 4 or more")
    own = kept.own_covariance
    least = 1e-6 * np.trace(own, axis1=1, axis2=2)[:, None, None] * np.eye(2)
    circle = fit_circle(kept.places, own + least)
    excess = max(circle.chi_square / circle.degrees_of_freedom, 1.0)
    sway = kept.screen_map.sway(kept.pixels)
    _, slopes, sigma = _linear(np.array([*circle.centre, circle.radius]), kept.places, own + least)
    outward = -slopes[:, :2]
    pushed = np.einsum("enx,nx->en", sway, outward) / sigma
    moved = np.linalg.lstsq(slopes / sigma[:, None], -pushed.T, rcond=None)[0]
    return Circle(
        circle.centre,
        circle.radius,
        circle.covariance * excess + moved @ moved.T,
        circle.residuals,
        circle.chi_square,
        circle.degrees_of_freedom,
        circle.arc,
        tuple(_findings(circle)),
    )


def _findings(circle: Circle) -> list[str]:
    found = []
    if circle.arc < _SHORT_ARC:
        seen = f"only {math.degrees(circle.arc):.0f} degrees of the circle are seen"
        found.append(f"{seen}: the diameter hangs on a small bend")
    ratio = math.sqrt(circle.chi_square / circle.degrees_of_freedom)
    if ratio > _NOT_ROUND:
        found.append(
            f"the points lie {ratio:.1f} times further from a circle than their uncertainties "
            "explain: the line is no circle, or the camera does not look square on"
        )
    return found


def _algebraic(normal: Array) -> Array:
    """Circle (centre, radius) from the linear equations, as a start."""
    rows = np.column_stack([2.0 * normal, np.ones(len(normal))])
    solved, _, rank, _ = np.linalg.lstsq(rows, (normal**2).sum(axis=1), rcond=1e-9)
    if rank < 3:
        raise PhotographError("the points lie in a straight line; they do not fix a circle")
    a, b, c = solved
    return np.array([a, b, math.sqrt(max(c + a * a + b * b, 1e-12))])


def _linear(circle: Array, at: Array, covariance: Array | None) -> tuple[Array, Array, Array]:
    """Distances outwards (n,), their slopes (n, 3), and standard uncertainties (n,)."""
    away = at - circle[:2]
    radius = np.maximum(np.linalg.norm(away, axis=1), 1e-300)
    outward = away / radius[:, None]
    slopes = np.column_stack([-outward, -np.ones(len(at))])
    if covariance is None:
        return radius - circle[2], slopes, np.ones(len(at))
    variance = np.einsum("nx,nxy,ny->n", outward, covariance, outward)
    return radius - circle[2], slopes, np.sqrt(np.maximum(variance, 1e-300))


def _damped(found: Array, step: Array, at: Array, covariance: Array | None) -> Array:
    """Go as much of a step as does not make the fit worse."""

    def total(circle: Array) -> float:
        miss, _, sigma = _linear(circle, at, covariance)
        return float(((miss / sigma) ** 2).sum())

    now = total(found) * (1.0 + 1e-12)
    share = 1.0
    while share > 1e-3 and (found[2] + share * step[2] <= 0 or total(found + share * step) > now):
        share /= 2
    moved: Array = found + share * step
    return moved


def _arc(away: Array) -> float:
    """Angle in rad that the points cover: the full turn less the largest gap."""
    angle = np.sort(np.arctan2(away[:, 1], away[:, 0]))
    gaps = np.diff(np.append(angle, angle[0] + 2 * math.pi))
    typical = float(np.median(gaps))
    largest = float(gaps.max())
    return 2 * math.pi if largest <= 3 * typical else 2 * math.pi - largest
