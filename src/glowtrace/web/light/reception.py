"""Receives visitors of the page on light."""

from __future__ import annotations

from pathlib import Path

from glowtrace.web.light.light_page import LightPage
from glowtrace.web.reception import Reception, styles_of


def receive_lighting(reception: Reception) -> None:
    """Register the page."""
    styles = styles_of(Path(__file__).parent, ["lighting"])
    reception.register(
        "/light", lambda frame, query: LightPage(frame, query.get("seen", "")), styles
    )
