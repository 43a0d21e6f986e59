"""Which parameters the readings determine, and which they leave to what was known beforehand.

The information that the readings carry about the parameters is J^T J, with every parameter counted
in units of what is known about it beforehand (of a free one, in units of its own value). An
eigenvalue is then the ratio of two variances along its direction: beforehand, over that of the
readings alone. Below 1 the readings say less than was known already. Errors that rows share, such
as those of a photograph's map, are no constants: what is not known of them is taken off beforehand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.fits.fitted import Fit

Array = NDArray[np.float64]

_STRONG = 0.9
_HALF = 0.5
"""Narrowing of the variance at which readings say as much as was known beforehand."""


@dataclass(frozen=True)
class Direction:
    """A combination of parameters that the readings see as one."""

    eigenvalue: float
    """Variance beforehand over the variance from the readings alone."""
    parts: Mapping[str, float]
    """Share of each parameter, in its unit of prior knowledge; the sum of squares is 1."""

    @property
    def is_resolved(self) -> bool:
        """Whether the readings say more than was known beforehand."""
        return self.eigenvalue >= 1.0


@dataclass(frozen=True)
class Separability:
    """What the readings can tell apart."""

    directions: tuple[Direction, ...]
    """From the best to the worst determined."""
    learned: Mapping[str, float]
    """By how much the readings narrowed each parameter: 1 - variance after / variance before;
    1 for a free parameter that is determined, 0 where the readings taught nothing."""
    entangled: tuple[tuple[str, str, float], ...]
    """Pairs whose errors go together, with their correlation coefficient of 0.9 or more in size."""
    titles: Mapping[str, str] = field(default_factory=dict)
    """What people call each parameter."""

    @property
    def untaught(self) -> tuple[str, ...]:
        """Names of parameters about which the readings say less than was known beforehand."""
        return tuple(name for name, gained in self.learned.items() if gained < _HALF)

    def title(self, name: str) -> str:
        """Give what people call a parameter."""
        return self.titles.get(name, name)


def separability(fit: Fit) -> Separability:
    """Find what the readings of a fit can and cannot tell apart."""
    varied = [n for n, each in enumerate(fit.parameters) if not each.is_exact]
    places = [n for n in varied if not fit.parameters[n].part_of]
    names = [fit.parameters[n].name for n in places]
    size = np.array(
        [
            abs(fit.values[n]) or fit.parameters[n].scale
            if fit.parameters[n].is_free
            else fit.parameters[n].spread
            for n in places
        ]
    )
    parts = [n for n in varied if fit.parameters[n].part_of]
    values, vectors = np.linalg.eigh(_information(fit, places, parts, size))
    directions = tuple(
        Direction(max(float(values[n]), 0.0), dict(zip(names, vectors[:, n].tolist(), strict=True)))
        for n in np.argsort(values)[::-1]
    )
    after = np.diag(fit.covariance)[places]
    learned = {
        name: float(np.clip(1.0 - variance / whole**2, 0.0, 1.0))
        for name, variance, whole in zip(names, after, size, strict=True)
    }
    correlation = fit.correlation
    entangled = tuple(
        (fit.parameters[a].name, fit.parameters[b].name, float(correlation[a, b]))
        for i, a in enumerate(places)
        for b in places[i + 1 :]
        if abs(correlation[a, b]) >= _STRONG
    )
    titles = {fit.parameters[n].name: fit.parameters[n].title for n in places}
    return Separability(directions, learned, entangled, titles)


def _information(fit: Fit, places: list[int], parts: list[int], size: Array) -> Array:
    """Information of the readings about parameters in units of ``size``, parts eliminated."""
    jacobian = np.concatenate([each.jacobian.reshape(-1, len(fit.values)) for each in fit.fitted])
    wanted = jacobian[:, places] * size
    shared = jacobian[:, parts] * [fit.parameters[n].spread for n in parts]
    mixed = wanted.T @ shared
    known = shared.T @ shared + np.eye(len(parts))
    information: Array = wanted.T @ wanted - mixed @ np.linalg.solve(known, mixed.T)
    return information
