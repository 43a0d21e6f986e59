"""The photograph as an element of the page, and what is drawn over it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from nicegui import ui
from nicegui.events import GenericEventArguments
from numpy.typing import NDArray

from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.light import outline
from glowtrace.photographs.trace_line import TraceLine
from glowtrace.units import shortest

Array = NDArray[np.float64]


class PhotographFace(ui.element, component="photograph.js"):
    """The photograph, to be clicked on.

    Parameters
    ----------
    on_click
        Called with column and row of a click on no point.
    on_move
        Called with "grid" or "line", the number of a point, and the column and row it was put at.
    on_remove
        Called with "grid" or "line" and the number of a point that is taken out or back.
    """

    def __init__(
        self,
        on_click: Callable[[float, float], object],
        on_move: Callable[[str, int, float, float], object],
        on_remove: Callable[[str, int], object],
    ) -> None:
        super().__init__()
        self.props["label"] = (
            "The photograph: arrow keys move the cross, Enter sets or takes a point, "
            "Delete removes it"
        )
        self._on_click, self._on_move, self._on_remove = on_click, on_move, on_remove
        self.on("clicked", self._clicked)
        self.on("moved", self._moved)
        self.on("removed", self._removed)

    def load(self, url: str, width: int, height: int) -> None:
        """Show another photograph, of so many pixels."""
        self.run_method("load", url, width, height)

    def draw(
        self,
        mode: str,
        clicked: Sequence[GridPoint],
        screen_map: ScreenMap | None,
        grid: PrintedGrid,
        line: TraceLine | None,
        predicted: Sequence[Array],
    ) -> None:
        """Draw what was clicked and found, and say which points clicks are for."""
        places = np.array([[u, v] for u in grid.u for v in grid.v])
        self.run_method(
            "put",
            {
                "mode": mode,
                "grid": [
                    {"at": [each.column, each.row], "says": place_text(each.u, each.v)}
                    for each in clicked
                ],
                "outline": [] if screen_map is None else outline(screen_map).round(2).tolist(),
                "crossings": (
                    [] if screen_map is None else screen_map.pixels(places).round(2).tolist()
                ),
                "line": [] if line is None else _points(line),
                "predicted": [each.round(2).tolist() for each in predicted],
            },
        )

    def _clicked(self, event: GenericEventArguments) -> object:
        column, row = event.args
        return self._on_click(float(column), float(row))

    def _moved(self, event: GenericEventArguments) -> object:
        kind, number, column, row = event.args
        return self._on_move(str(kind), int(number), float(column), float(row))

    def _removed(self, event: GenericEventArguments) -> object:
        kind, number = event.args
        return self._on_remove(str(kind), int(number))


def place_text(u: float, v: float) -> str:
    """Write a place on the grid in mm."""
    return f"{shortest(1e3 * u)}, {shortest(1e3 * v)} mm"


def _points(line: TraceLine) -> list[dict[str, Any]]:
    """Give the points of a line, each with half its width across the line in pixels."""
    along = np.gradient(line.pixels, axis=0) if len(line) > 1 else np.ones((len(line), 2))
    size = np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / size
    slopes = np.abs(np.linalg.det(line.screen_map.slopes(line.places))) ** 0.5
    half = np.nan_to_num(line.width * slopes)[:, None] * across
    return [
        {
            "at": [round(float(each), 2) for each in line.pixels[n]],
            "removed": bool(line.is_removed[n]),
            "byHand": line.source[n] != "extracted",
            "half": half[n].round(2).tolist() if half[n].any() else None,
        }
        for n in range(len(line))
    ]
