"""Receives visitors of the page that describes a bench."""

from __future__ import annotations

from pathlib import Path

from glowtrace.web.bench.bench_page import BenchPage
from glowtrace.web.reception import Reception, styles_of


def receive_describing(reception: Reception) -> None:
    """Register the page."""
    styles = styles_of(Path(__file__).parent, ["describing"])
    reception.register("/bench", lambda frame, _: BenchPage(frame), styles)
