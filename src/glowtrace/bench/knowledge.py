"""What is known about the numbers of a bench: means, covariance, and where they come from.

The means are the bench's own numbers. Those that it tells an uncertainty of are uncertain; and as
soon as any is, so is what every bench has and no number tells, `glowtrace.bench.doubts.Slack`. A
bench that tells no uncertainty is taken for exact.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.doubts import Doubts, Slack, correlations, slack_names
from glowtrace.bench.model import Bench
from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]

USUAL = "usual"
"""Source of an uncertainty that nobody told."""
_ASYMMETRY = 1e-9


@dataclass(frozen=True, eq=False)
class Knowledge:
    """The uncertain numbers of a bench, n of them, in SI.

    Raises
    ------
    GlowtraceError
        Shapes that do not agree, an uncertainty that is zero, negative or not finite, or a matrix
        that is no covariance, each by the names of the numbers.
    """

    names: tuple[str, ...]
    """Their paths in the bench file, such as "plates.gap", "coils.centre[0]" or
    "slack.stray_field[2]"."""
    means: Array
    """(n,); nought for what stands under "slack"."""
    covariance: Array
    """(n, n)."""
    sources: Mapping[str, str]
    """Where each uncertainty comes from, for the names that tell it."""

    def __post_init__(self) -> None:
        count = len(self.names)
        if self.means.shape != (count,) or self.covariance.shape != (count, count):
            shapes = f"means {self.means.shape}, covariance {self.covariance.shape}"
            raise GlowtraceError(
                Problem("knowledge", shapes, f"give {count} and {count} x {count}")
            )
        if len(set(self.names)) < count:
            twice = next(name for name in self.names if self.names.count(name) > 1)
            raise GlowtraceError(Problem("knowledge", twice, "name every number once"))
        variances = np.diag(self.covariance)
        for name, variance in zip(self.names, variances.tolist(), strict=True):
            if not (variance > 0.0 and math.isfinite(variance)):
                allowed = "give a variance above 0, or leave the number out where it is exact"
                raise GlowtraceError(Problem(name, f"a variance of {variance:g}", allowed))
        if count:
            self._require_covariance(np.sqrt(variances))

    @property
    def uncertainties(self) -> Array:
        """Standard uncertainties (n,)."""
        return np.sqrt(np.diag(self.covariance))

    def uncertainty(self, name: str) -> float:
        """Give the standard uncertainty of a number; 0 where it is taken for exact."""
        if name not in self.names:
            return 0.0
        return float(self.uncertainties[self.names.index(name)])

    def _require_covariance(self, sizes: Array) -> None:
        scaled = self.covariance / np.outer(sizes, sizes)
        uneven = np.abs(scaled - scaled.T)
        values, vectors = np.linalg.eigh((scaled + scaled.T) / 2)
        allowed = "a covariance is symmetric, and no combination has a variance below 0"
        if not np.isfinite(scaled).all() or uneven.max() > _ASYMMETRY:
            i, j = np.unravel_index(
                int(np.argmax(np.nan_to_num(uneven, nan=math.inf))), uneven.shape
            )
            guilty = [self.names[i], self.names[j]]
            raise GlowtraceError(Problem(", ".join(guilty), "no covariance", allowed))
        if values[0] < -_ASYMMETRY:
            guilty = [self.names[n] for n in np.flatnonzero(np.abs(vectors[:, 0]) > 0.1)]
            raise GlowtraceError(Problem(", ".join(guilty), "no covariance", allowed))


def knowledge_of(bench: Bench) -> Knowledge:
    """Give what is known about the numbers of a bench; without any number where it is exact."""
    require_kind(bench, Bench)
    doubts = bench.doubts or Doubts()
    sizes = dict(doubts.uncertainties())
    sources = {each.number: each.source for each in doubts.told if each.source}
    if sizes or bench.slack is not None:
        slack = bench.slack or Slack()
        for name in slack_names():
            size = getattr(slack, name.removeprefix("slack.").partition("[")[0])
            if size > 0.0:
                sizes[name] = size
                if bench.slack is None:
                    sources[name] = USUAL
    names = list(sizes)
    spread = np.array(list(sizes.values()))
    matrix = correlations([*names, *(n for n in slack_names() if n not in names)], doubts)
    kept = matrix[: len(names), : len(names)]
    means = np.array([number_at(bench, name) for name in names], dtype=float)
    return Knowledge(tuple(names), means, kept * np.outer(spread, spread), sources)


def number_at(bench: Bench, path: str) -> float:
    """Give the number at a path in SI; nought for what stands under "slack"."""
    if path.startswith("slack."):
        return 0.0
    node: Any = bench
    for name in path.split("."):
        bare, _, place = name.partition("[")
        node = getattr(node, bare)
        if place:
            node = node[int(place.removesuffix("]"))]
    return float(node)


def moved(bench: Bench, path: str, by: float) -> Bench:
    """Give the bench with one number moved by a little, in SI, for derivatives.

    Its ranges are not checked again: half a turn of a coil is no bench, and yet a step.
    """
    found = re.fullmatch(r"(?P<parts>[a-z_.]+?)\.(?P<name>[a-z_]+)(?:\[(?P<place>[0-2])\])?", path)
    if found is None:
        raise GlowtraceError(Problem("number", f'"{path}"', "give a path such as plates.gap"))
    value: Any = number_at(bench, path) + by
    if found["place"] is not None:
        point = list(_part_at(bench, f"{found['parts']}.{found['name']}"))
        point[int(found["place"])] = value
        value = tuple(point)
    names = [*found["parts"].split("."), found["name"]]
    for depth in range(len(names) - 1, 0, -1):
        value = _part_at(bench, ".".join(names[:depth])).model_copy(update={names[depth]: value})
    return bench.model_copy(update={names[0]: value})


def _part_at(bench: Bench, path: str) -> Any:
    node: Any = bench
    for name in path.split("."):
        node = getattr(node, name)
    return node
