"""The quiet line of steps in the head of every page."""

from __future__ import annotations

from typing import Final

from nicegui import ui

from glowtrace.web.controls import put_prop, words

STEPS: Final = {
    "/": "Rehearse",
    "/plan": "Plan",
    "/outcomes": "Outcomes",
    "/wiring": "Wiring",
    "/safety": "Safety",
    "/sheet": "Sheet",
    "/faults": "Faults",
    "/light": "Light",
    "/explain": "Explain",
    "/handouts": "Handouts",
    "/measure": "Measure",
    "/logbook": "Logbook",
}
"""The pages in the natural order of work: path and name."""


class Steps(ui.element):
    """Links to all pages; each leads on with the same bench and settings.

    Parameters
    ----------
    current
        Path of the page that the line stands on.
    """

    def __init__(self, current: str) -> None:
        super().__init__("nav")
        self.classes("steps").props('aria-label="Steps"')
        with self:
            self._links = {path: words(name, "a") for path, name in STEPS.items()}
        self._links[current].props('aria-current="page"')
        self.put("")

    def put(self, query: str) -> None:
        """Have the links carry a query."""
        for path, link in self._links.items():
            put_prop(link, "href", f"{path}?{query}" if query else path)
