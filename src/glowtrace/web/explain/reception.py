"""Receives visitors of the page that explains."""

from __future__ import annotations

from pathlib import Path

from glowtrace.web.explain.explain_page import ExplainPage
from glowtrace.web.reception import Reception, styles_of


def receive_explaining(reception: Reception) -> None:
    """Register the page."""
    styles = styles_of(Path(__file__).parent, ["explaining"])
    reception.register("/explain", ExplainPage, styles)
