"""What is known about a photograph so far: clicked points, the map, the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.photographs.grid import FEWEST_WITH_LENS, ScreenMap, fit_screen_map
from glowtrace.photographs.grid_finding import find_grid, refine_grid
from glowtrace.photographs.grid_lines import PrintedGrid, grey
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.overlay import predicted_polylines
from glowtrace.photographs.photograph import Photograph, PhotographError
from glowtrace.photographs.trace_line import Shape, TraceLine
from glowtrace.photographs.trace_line_correction import (
    add_point,
    move_point,
    remove_points,
    restore_points,
)
from glowtrace.photographs.trace_line_extraction import extract_line
from glowtrace.watching import Cancelled, Progress

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PhotographWork:
    """How far the reading of a photograph is. Every step gives a new one."""

    photograph: Photograph
    grid: PrintedGrid
    clicked: tuple[GridPoint, ...] = ()
    screen_map: ScreenMap | None = None
    says: str = ""
    """What the map rests on, or what keeps it from being found."""
    line: TraceLine | None = None
    needs_label: bool = False
    """Whether one click on a known crossing lets the grid be found."""
    chosen: tuple[float, float] | None = None
    """Place (u, v) in m of a crossing that somebody wants to click next, such as one in sight."""

    @property
    def wanted(self) -> tuple[float, float] | None:
        """The place (u, v) in m of the crossing to be clicked next; None once there are four."""
        if self.chosen is not None:
            return self.chosen
        if len(self.clicked) >= 4:
            return None
        u, v = self.grid.u, self.grid.v
        corners = [(u[0], v[0]), (u[-1], v[0]), (u[-1], v[-1]), (u[0], v[-1])]
        done = {(each.u, each.v) for each in self.clicked}
        return next((each for each in corners if each not in done), None)

    def click(self, column: float, row: float) -> PhotographWork:
        """Take a click for the wanted crossing, or, once there is a map, for the nearest one."""
        place = self.wanted
        if self.chosen is not None:
            return replace(self, chosen=None)._set(self.chosen, column, row)
        if place is None and self.screen_map is not None:
            u, v = self.screen_map.places([[column, row]])[0]
            place = _nearest(self.grid.u, float(u)), _nearest(self.grid.v, float(v))
        return self if place is None else self._set(place, column, row)

    def choose(self, place: tuple[float, float]) -> PhotographWork:
        """Take the next click for another crossing."""
        return replace(self, chosen=place)

    def _set(self, place: tuple[float, float], column: float, row: float) -> PhotographWork:
        others = tuple(each for each in self.clicked if (each.u, each.v) != place)
        return self._mapped((*others, GridPoint(*place, column, row)))

    def move_click(self, number: int, column: float, row: float) -> PhotographWork:
        """Put a clicked point elsewhere."""
        moved = replace(self.clicked[number], column=column, row=row)
        return self._mapped((*self.clicked[:number], moved, *self.clicked[number + 1 :]))

    def drop_click(self, number: int) -> PhotographWork:
        """Take a clicked point away."""
        return self._mapped((*self.clicked[:number], *self.clicked[number + 1 :]))

    def found_grid(
        self, progress: Progress | None = None, cancelled: Cancelled | None = None
    ) -> PhotographWork:
        """Let the printed grid be found: from the clicks where there are four, else with them."""
        light = grey(self.photograph)
        if self.screen_map is not None and len(self.clicked) >= 4:
            found = refine_grid(light, self.screen_map, self.grid)
        else:
            found = find_grid(
                light, self.grid, known=self.clicked, progress=progress, cancelled=cancelled
            )
        if found.screen_map is None:
            return replace(self, says=found.says, needs_label=found.needs_label)
        return replace(
            self,
            screen_map=found.screen_map,
            says=found.says,
            needs_label=False,
            line=None,
            chosen=None,
        )

    def found_line(self, shape: Shape) -> PhotographWork:
        """Find the glowing line.

        Raises
        ------
        PhotographError
            There is no map yet, or the screen covers too little of the photograph.
        """
        if self.screen_map is None:
            raise PhotographError("click four grid points first, or let the grid be found")
        line = extract_line(
            self.photograph, self.screen_map, shape=shape, grid_pitch=self.grid.pitch
        )
        return replace(self, line=line)

    def move_point(self, number: int, column: float, row: float) -> PhotographWork:
        """Put a point of the line elsewhere."""
        return replace(self, line=move_point(self._line, number, column, row))

    def add_point(self, column: float, row: float) -> PhotographWork:
        """Add a point to the line."""
        return replace(self, line=add_point(self._line, column, row))

    def toggle_point(self, number: int) -> PhotographWork:
        """Take a point out of the line, or back."""
        line = self._line
        change = restore_points if line.is_removed[number] else remove_points
        return replace(self, line=change(line, [number]))

    @property
    def _line(self) -> TraceLine:
        if self.line is None:
            raise PhotographError("find the line first")
        return self.line

    def _mapped(self, clicked: tuple[GridPoint, ...]) -> PhotographWork:
        """Fit the map anew to clicked points; a line that was found no longer fits it."""
        if len(clicked) < 4:
            return replace(self, clicked=clicked, screen_map=None, says="", line=None)
        try:
            lens = len(clicked) >= FEWEST_WITH_LENS
            found = fit_screen_map(self.photograph, clicked, self.grid.rectangle, lens=lens)
        except PhotographError as error:
            return replace(self, clicked=clicked, screen_map=None, says=str(error), line=None)
        says = f"{len(clicked)} clicks"
        if len(clicked) > 4:
            says += f", which fit to {found.rms_residual:.1f} pixels"
        return replace(self, clicked=clicked, screen_map=found, says=says, line=None)


def predicted_lines(
    prepared: PreparedBench, settings: Settings, screen_map: ScreenMap
) -> tuple[Array, ...]:
    """Give where the trace should lie in a photograph at some settings, in its pixels."""
    return predicted_polylines(computed_line(prepared, settings), screen_map)


def _nearest(values: Sequence[float], value: float) -> float:
    return min(values, key=lambda each: abs(each - value))
