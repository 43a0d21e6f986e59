"""Arrows for the electric and the magnetic force along the trace of a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import FancyArrowPatch
from matplotlib.patheffects import withStroke

from glowtrace.report.caption import force_words
from glowtrace.report.look import Look

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Picture
    from glowtrace.explain.account import Account

_PLACES: Final = 6
_LONGEST: Final = 0.19  # of the picture's height
_MM: Final = 1e3


def draw_forces(
    axes: Axes, account: Account, picture: Picture, bench: Bench, look: Look
) -> tuple[Line2D, ...]:
    """Draw both forces at some places of a path, to one scale, and give their keys.

    Parameters
    ----------
    axes
        The screen of the figure, in mm.
    account
        The path with its forces.
    picture
        Whose extent is shown.
    bench
        For the screen's own coordinates.
    look
        Colours.

    Returns
    -------
    tuple of Line2D
        Keys for a legend: the electric force is a solid arrow, the magnetic one dashed.
    """
    u, v = bench.plane.coordinates(account.position)
    left, right, low, high = picture.extent
    inside = np.flatnonzero((u >= left) & (u <= right) & (v >= low) & (v <= high))
    across = 2 if bench.plane.is_spot else 0
    forces = {
        "electric": account.electric_force[inside],
        "magnetic": account.magnetic_force[inside],
    }
    largest = max(float(np.linalg.norm(each, axis=1).max(initial=0.0)) for each in forces.values())
    if len(inside) == 0 or largest == 0.0:
        return ()
    scale = _LONGEST * _MM * (high - low) / largest
    u, v = _MM * u[inside], _MM * v[inside]
    chosen = np.rint(np.linspace(0.06, 0.94, _PLACES) * (len(inside) - 1)).astype(int)
    keys = []
    for name, force in forces.items():
        style = _style(name, look)
        for n in chosen:
            start = np.array([u[n], v[n]])
            along = scale * force[n][[across, 1]]
            if np.hypot(*along) < 0.01 * scale * largest:
                continue
            arrow = FancyArrowPatch(tuple(start), tuple(start + along), zorder=4, **style)
            arrow.set_path_effects([withStroke(linewidth=3.4, foreground=look.halo)])
            axes.add_patch(arrow)
        strongest = float(np.linalg.norm(force, axis=1).max())
        if strongest > 0.0:
            keys.append(_key(f"{name} force, up to {force_words(strongest)}", style))
    return tuple(keys)


def _key(words: str, style: dict[str, Any]) -> Line2D:
    return Line2D([], [], color=style["color"], linestyle=style["linestyle"], label=words)


def _style(name: str, look: Look) -> dict[str, Any]:
    is_electric = name == "electric"
    return {
        "color": look.electric if is_electric else look.magnetic,
        "linestyle": "-" if is_electric else (0, (3.5, 1.6)),
        "arrowstyle": "-|>" if is_electric else "->",
        "mutation_scale": 11.0,
        "linewidth": 1.6,
        "shrinkA": 0.0,
        "shrinkB": 0.0,
    }
