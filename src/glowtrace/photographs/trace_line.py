"""The glowing line of a photograph as points with uncertainties, and what to know about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid import ScreenMap

Array = NDArray[np.float64]
Shape = Literal["single-valued", "loop"]
"""`single-valued`: one v for each u. `loop`: a line that turns back, closes or crosses itself."""
Source = Literal["extracted", "moved", "added"]
Topic = Literal["no line", "broken", "saturated", "dim", "short", "outside", "by hand"]


@dataclass(frozen=True)
class Finding:
    """Something to know about a line, in words."""

    topic: Topic
    says: str
    u_from: float | None = None
    """Where along u it begins, in m, if it is about a part."""
    u_to: float | None = None


@dataclass(frozen=True, eq=False)
class TraceLine:
    """Points of the glowing line; none where it was not found, and a finding that says why.

    Index letter: n points, in order along the line.
    """

    pixels: Array
    """(n, 2) column and row in the photograph."""
    pixel_covariance: Array
    """(n, 2, 2) in square pixels: of each point by itself, independent of the others."""
    width: Array
    """(n,) width across the line in m, one standard deviation, blur of the photograph included."""
    strength: Array
    """(n,) brightness over noise."""
    piece: NDArray[np.int64]
    """(n,) number of the unbroken piece that a point belongs to."""
    source: tuple[Source, ...]
    """(n,) how each point came about."""
    is_removed: NDArray[np.bool_]
    """(n,) taken out by hand: stays visible, does not count."""
    screen_map: ScreenMap
    channel: str
    shape: Shape
    findings: tuple[Finding, ...] = ()

    def __len__(self) -> int:
        return len(self.pixels)

    @property
    def is_found(self) -> bool:
        """Whether any point counts."""
        return bool(np.any(~self.is_removed))

    @property
    def places(self) -> Array:
        """(n, 2) u and v on the screen in m."""
        return self.screen_map.places(self.pixels)

    @property
    def own_covariance(self) -> Array:
        """(n, 2, 2) in m^2: of each point by itself, independent of the others."""
        return self.screen_map.place_covariance(self.pixels, self.pixel_covariance)

    @property
    def covariance(self) -> Array:
        """(n, 2, 2) in m^2 of (u, v): own, and of the map, which all points share."""
        return self.own_covariance + self.screen_map.map_covariance(self.pixels)

    @property
    def kept(self) -> TraceLine:
        """The line without its removed points."""
        return self.selected(~self.is_removed)

    def selected(self, which: NDArray[Any]) -> TraceLine:
        """Give some of the points, by a mask or by positions."""
        positions = np.arange(len(self))[which]
        return replace(
            self,
            pixels=self.pixels[positions],
            pixel_covariance=self.pixel_covariance[positions],
            width=self.width[positions],
            strength=self.strength[positions],
            piece=self.piece[positions],
            source=tuple(self.source[n] for n in positions),
            is_removed=self.is_removed[positions],
        )

    def as_dict(self) -> dict[str, Any]:
        """Give what a page or a file needs, in plain numbers."""
        own, whole = self.own_covariance, self.covariance
        points = [
            {
                "column": float(self.pixels[n, 0]),
                "row": float(self.pixels[n, 1]),
                "u_m": float(place[0]),
                "v_m": float(place[1]),
                "covariance_m2": whole[n].tolist(),
                "own_covariance_m2": own[n].tolist(),
                "width_m": 2.0 * float(self.width[n]) if np.isfinite(self.width[n]) else None,
                "strength": float(self.strength[n]) if np.isfinite(self.strength[n]) else None,
                "piece": int(self.piece[n]),
                "source": self.source[n],
                "is_removed": bool(self.is_removed[n]),
            }
            for n, place in enumerate(self.places)
        ]
        return {
            "shape": self.shape,
            "channel": self.channel,
            "is_found": self.is_found,
            "findings": [vars(each) for each in self.findings],
            "points": points,
        }


def no_line(
    screen_map: ScreenMap, channel: str, shape: Shape, findings: Iterable[Finding]
) -> TraceLine:
    """Give the line that was not found, with the reasons."""
    return TraceLine(
        pixels=np.zeros((0, 2)),
        pixel_covariance=np.zeros((0, 2, 2)),
        width=np.zeros(0),
        strength=np.zeros(0),
        piece=np.zeros(0, dtype=np.int64),
        source=(),
        is_removed=np.zeros(0, dtype=bool),
        screen_map=screen_map,
        channel=channel,
        shape=shape,
        findings=tuple(findings),
    )
