"""The line of steps in the head of every page: five stages of the work, each with its pages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from nicegui import ui

from glowtrace.web.controls import box, put_prop, words

STAGES: Final[Mapping[str, Mapping[str, str]]] = {
    "Bench": {"/bench": "Bench"},
    "Rehearse": {"/": "Rehearse"},
    "Prepare": {
        "/plan": "Plan",
        "/outcomes": "Outcomes",
        "/wiring": "Wiring",
        "/safety": "Safety",
        "/sheet": "Sheet",
    },
    "Show": {"/light": "Light", "/camera": "Camera", "/lesson": "Lesson", "/faults": "Faults"},
    "Afterwards": {
        "/explain": "Explain",
        "/handouts": "Handouts",
        "/film": "Film",
        "/measure": "Measure",
        "/logbook": "Logbook",
    },
}
"""The pages in the natural order of work: path and name, by stage."""
STEPS: Final = {path: name for pages in STAGES.values() for path, name in pages.items()}
"""Path and name of every page."""


class Steps(ui.element):
    """Links to the stages and to the pages of this one, with the same bench and settings.

    Parameters
    ----------
    current
        Path of the page that the line stands on.
    """

    def __init__(self, current: str) -> None:
        super().__init__("nav")
        self.classes("steps").props('aria-label="Steps"')
        self._links: list[tuple[str, ui.element]] = []
        stage = next(name for name, pages in STAGES.items() if current in pages)
        with self:
            with box("stages", "ol"):
                for name, pages in STAGES.items():
                    self._put(next(iter(pages)), name, "true" if name == stage else None)
            if len(STAGES[stage]) > 1:
                with box("stage-pages", "ol"):
                    for path, name in STAGES[stage].items():
                        self._put(path, name, "page" if path == current else None)
        self.put("")

    def put(self, query: str) -> None:
        """Have the links carry a query."""
        for path, link in self._links:
            put_prop(link, "href", f"{path}?{query}" if query else path)

    def _put(self, path: str, name: str, current: str | None) -> None:
        with ui.element("li"):
            link = words(name, "a")
        if current is not None:
            link.props["aria-current"] = current
        self._links.append((path, link))
