"""A drawing with axes on which a place is chosen by mouse, finger or keys."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

Place = tuple[float, float]
"""Shares of a drawing's width and height."""


class PlotArea(ui.element, component="plot_area.js"):
    """The area between the axes; what is drawn on it goes into it.

    Parameters
    ----------
    on_point
        Called with the place pointed at.
    on_choose
        Called with the place that is to be loaded.
    """

    def __init__(
        self, on_point: Callable[[Place], None], on_choose: Callable[[Place], None]
    ) -> None:
        super().__init__()
        self.on("point", lambda event: on_point(_place(event)))
        self.on("choose", lambda event: on_choose(_place(event)))


def _place(event: GenericEventArguments) -> Place:
    x, y = event.args
    return float(x), float(y)
