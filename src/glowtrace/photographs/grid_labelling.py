"""Which printed line of a grid is which in a photograph: how well a labelling agrees with it.

Index letter: n labellings, each a matrix (3, 3) from places in pitches to pixels of a relief.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, optimize

from glowtrace.photographs.grid import corners
from glowtrace.photographs.grid_lines import PrintedGrid

Array = NDArray[np.float64]

_AT_ONCE: Final = 500
"""Labellings that are looked at together: keeps the memory small."""
_POLISH: Final = 2.0
"""First move of a corner that is polished, in pixels of the relief."""
_POLISH_SAMPLES: Final = 60
_OUTLINE: Final = 0.5
"""What the outline of the screen counts, relative to its lines."""


@dataclass(frozen=True, eq=False)
class Labelling:
    """A photograph's thin lines, and the grid that was printed."""

    relief: Array
    """(rows, columns) from 0, no line, to 1."""
    grid: PrintedGrid

    def matrices(self, corner_pixels: Array, corner_places: Array) -> Array:
        """Matrices (n, 3, 3) that take four places (4, 2) in m to pixels (n, 4, 2).

        NaN where a labelling folds the screen.
        """
        places = corner_places / self.grid.pitch
        equations = np.zeros((len(corner_pixels), 8, 8))
        for n, (a, b) in enumerate(places):
            x, y = corner_pixels[:, n].T
            equations[:, 2 * n, :3] = equations[:, 2 * n + 1, 3:6] = a, b, 1.0
            equations[:, 2 * n, 6], equations[:, 2 * n, 7] = -x * a, -x * b
            equations[:, 2 * n + 1, 6], equations[:, 2 * n + 1, 7] = -y * a, -y * b
        flat = np.abs(np.linalg.det(equations)) < 1e-9
        equations[flat] = np.eye(8)
        eight = np.linalg.solve(equations, corner_pixels.reshape(-1, 8, 1))[:, :, 0]
        eight[flat] = np.nan
        ones = np.ones((len(eight), 1))
        return np.concatenate([eight, ones], axis=1).reshape(-1, 3, 3)

    def polished(self, corner_pixels: Array, corner_places: Array) -> tuple[float, Array]:
        """Move four corners (4, 2) a little to where the agreement is best; gives it and them."""

        def disagreement(x: Array) -> float:
            matrices = self.matrices(x.reshape(1, 4, 2), corner_places)
            return -float(self.agreement(matrices, _POLISH_SAMPLES)[0])

        start = corner_pixels.ravel()
        around = np.vstack([start, start + _POLISH * np.eye(8)])
        found = optimize.minimize(
            disagreement, start, method="Nelder-Mead",
            options={"initial_simplex": around, "maxfev": 200, "xatol": 0.1, "fatol": 1e-3},
        )  # fmt: skip
        return -float(found.fun), np.asarray(found.x).reshape(4, 2)

    def pixels(self, matrices: Array, places: Array) -> Array:
        """Pixels (n, p, 2) of places (p, 2) in m."""
        whole = np.column_stack([places / self.grid.pitch, np.ones(len(places))])
        seen = np.einsum("nxy,py->npx", matrices, whole)
        at: Array = seen[..., :2] / seen[..., 2:]
        return at

    def shifted(self, matrix: Array) -> Array:
        """Matrices (8, 3, 3) of the labellings that are off by one line, each way and aslant."""
        shifts = [(a, b) for a in (-1.0, 0.0, 1.0) for b in (-1.0, 0.0, 1.0) if a or b]
        return np.array([matrix @ np.array([[1, 0, a], [0, 1, b], [0, 0, 1]]) for a, b in shifts])

    def agreement(self, matrices: Array, samples: int) -> Array:
        """Say how well labellings agree (n,): 1.5 at best, about 0 by chance.

        Relief on the printed lines less that halfway between them, the worse of both directions;
        and relief along the outline of the screen, which tells where the grid ends.
        """
        u, v = self._lines
        along_v, along_u = np.linspace(v[0], v[-1], samples), np.linspace(u[0], u[-1], samples)
        families = []
        for lines, along, is_upright in ((u, along_v, True), (v, along_u, False)):
            on = self._means(matrices, lines, along, is_upright)
            off = self._means(matrices, lines[:-1] + 0.5, along, is_upright)
            dimmest = np.sort(on, axis=1)[:, : max(1, len(lines) // 4)]
            families.append(0.5 * (on.mean(axis=1) + dimmest.mean(axis=1)) - off.mean(axis=1))
        worse: Array = np.minimum(*families) + _OUTLINE * self._outline(matrices, samples)
        return np.nan_to_num(worse, nan=-1.0)

    @property
    def _lines(self) -> tuple[Array, Array]:
        return np.array(self.grid.u) / self.grid.pitch, np.array(self.grid.v) / self.grid.pitch

    def _outline(self, matrices: Array, samples: int) -> Array:
        """Relief (n,) along the sides of the screen, on average of the two dimmest."""
        ends = corners(self.grid.rectangle) / self.grid.pitch
        share = (np.arange(samples) + 0.5)[:, None] / samples
        sides = [
            self._sampled(matrices, ends[n] + share * (ends[(n + 1) % 4] - ends[n])).mean(axis=1)
            for n in range(4)
        ]
        dimmest: Array = np.sort(np.array(sides), axis=0)[:2].mean(axis=0)
        return dimmest

    def _means(self, matrices: Array, lines: Array, along: Array, is_upright: bool) -> Array:
        """Relief (n, lines) on average along lines."""
        a, b = np.meshgrid(lines, along, indexing="ij")
        places = np.column_stack([a.ravel(), b.ravel()] if is_upright else [b.ravel(), a.ravel()])
        values = self._sampled(matrices, places)
        means: Array = values.reshape(len(matrices), len(lines), len(along)).mean(axis=2)
        return means

    def _sampled(self, matrices: Array, places: Array) -> Array:
        """Relief (n, p) at places (p, 2) in pitches; 0 outside the photograph."""
        whole = np.column_stack([places, np.ones(len(places))])
        parts = []
        for first in range(0, len(matrices), _AT_ONCE):
            seen = np.einsum("nxy,py->xnp", matrices[first : first + _AT_ONCE], whole)
            with np.errstate(divide="ignore", invalid="ignore"):
                at = np.nan_to_num(seen[[1, 0]] / seen[2], nan=-9.0, posinf=-9.0, neginf=-9.0)
            at = np.where(seen[2] > 0, at, -9.0)
            parts.append(ndimage.map_coordinates(self.relief, at, order=1, cval=0.0))
        return np.concatenate(parts)
