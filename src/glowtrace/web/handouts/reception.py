"""Receives visitors of the page of handouts."""

from __future__ import annotations

from pathlib import Path

from glowtrace.web.handouts.handouts_page import HandoutsPage
from glowtrace.web.handouts.made_files import MadeFiles
from glowtrace.web.handouts.picture_files import serve_pictures
from glowtrace.web.reception import Reception, styles_of


def receive_handing(reception: Reception) -> None:
    """Register the page, and the files that it makes."""
    styles = styles_of(Path(__file__).parent, ["handing"])
    files = MadeFiles()
    reception.register("/handouts", lambda frame, query: HandoutsPage(frame, files, query), styles)
    serve_pictures(reception.rack, reception.first)
