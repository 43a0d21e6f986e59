"""Which crossing of the printed grid the next click is for; another one where it is hidden."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.units import shortest
from glowtrace.web.controls import Picker, box, words


class CrossingChoice:
    """Two menus, along and up; shown while a crossing is wanted.

    Parameters
    ----------
    grid
        What is printed.
    on_choose
        Called with the place (u, v) in m of another crossing.
    """

    def __init__(self, grid: PrintedGrid, on_choose: Callable[[float, float], object]) -> None:
        self._grid, self._on_choose = grid, on_choose
        self._place = (grid.u[0], grid.v[0])
        with box("row") as self._box:
            words("Hidden or outside? Click another one, at", css="choice-label")
            self._along = Picker("Along, in mm", lambda text: self._pick(int(text), None))
            self._up = Picker("Up, in mm", lambda text: self._pick(None, int(text)))

    def put(self, place: tuple[float, float] | None) -> None:
        """Show the crossing that is wanted; none hides the menus."""
        self._box.set_visibility(place is not None)
        if place is None:
            return
        self._place = place
        self._along.offer({"Along, mm": _offered(self._grid.u)}, _position(self._grid.u, place[0]))
        self._up.offer({"Up, mm": _offered(self._grid.v)}, _position(self._grid.v, place[1]))

    def _pick(self, along: int | None, up: int | None) -> None:
        u, v = self._place
        self._on_choose(
            u if along is None else self._grid.u[along], v if up is None else self._grid.v[up]
        )


def _offered(values: Sequence[float]) -> dict[str, str]:
    return {str(n): shortest(1e3 * value) for n, value in enumerate(values)}


def _position(values: Sequence[float], value: float) -> str:
    return str(min(range(len(values)), key=lambda n: abs(values[n] - value)))
