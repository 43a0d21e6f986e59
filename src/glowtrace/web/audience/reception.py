"""Receives the audience's windows on the desk's own server."""

from __future__ import annotations

from pathlib import Path

from nicegui import app

from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.feed import audience_app
from glowtrace.web.audience.strip import WINDOW
from glowtrace.web.reception import styles_of


def receive_audience(audience: Audience) -> str:
    """Serve the audience's page; give the HTML for the styles of a desk with the strip."""
    app.mount(WINDOW.rstrip("/"), audience_app(audience, commands=True))
    return styles_of(Path(__file__).parent, ["strip"])
