"""Which parameters the readings determine, and which they leave to what was known beforehand.

The information that the readings carry about the parameters is J^T J, with every parameter counted
in units of what is known about it beforehand (of a free one, in units of its own value). An
eigenvalue is then the ratio of two variances along its direction: beforehand, over that of the
readings alone. Below 1 the readings say less than was known already.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from glowtrace.measure.fitted import Fit

_STRONG = 0.9
_PART = 0.3


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

    @property
    def sentences(self) -> tuple[str, ...]:
        """The same for people."""
        lines = []
        for direction in self.directions:
            if not direction.is_resolved:
                main = [name for name, part in direction.parts.items() if abs(part) >= _PART]
                together = " together with ".join(main)
                lines.append(f"the readings say less than was known beforehand about {together}")
        for first, second, r in self.entangled:
            sense = "the other up as well" if r > 0 else "the other down"
            lines.append(
                f"{first} and {second} are not separated: an error that takes one up takes {sense} "
                f"(correlation {r:.2f})"
            )
        return tuple(lines)


def separability(fit: Fit) -> Separability:
    """Find what the readings of a fit can and cannot tell apart."""
    places = [n for n, each in enumerate(fit.parameters) if not each.is_exact]
    names = [fit.parameters[n].name for n in places]
    size = np.array(
        [
            abs(fit.values[n]) or fit.parameters[n].scale
            if fit.parameters[n].is_free
            else fit.parameters[n].spread
            for n in places
        ]
    )
    jacobian = np.concatenate([each.jacobian.reshape(-1, len(fit.values)) for each in fit.fitted])
    scaled = jacobian[:, places] * size
    values, vectors = np.linalg.eigh(scaled.T @ scaled)
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
    return Separability(directions, learned, entangled)
