"""Readings from a photograph."""

from __future__ import annotations

from collections.abc import Callable

from glowtrace.measure.readings import Table
from glowtrace.store.attaching import Attachment
from glowtrace.web.controls import box
from glowtrace.web.planning.frame import Frame


class PhotographPart:
    """The photograph that readings are taken from."""

    def __init__(self, frame: Frame, on_points: Callable[[Table], object]) -> None:
        self._frame = frame
        self._box = box("photograph", "section")

    def open(self) -> None:
        """Show it."""

    def attachment(self) -> Attachment | None:
        """Give the file."""
        return None
