"""Receives visitors of the page that finds faults."""

from __future__ import annotations

from pathlib import Path

from glowtrace.web.faults.faults_page import FaultsPage
from glowtrace.web.faults.suspects_job import SuspectsCache
from glowtrace.web.faults.told import read_told
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.reception import Reception, styles_of


def receive_faulting(
    reception: Reception, photographs: PhotographFiles, photograph_styles: str
) -> None:
    """Register the page.

    Parameters
    ----------
    reception
        Where it is registered.
    photographs, photograph_styles
        Where photographs arrive, and how they look: those of the measuring pages.
    """
    styles = styles_of(Path(__file__).parent, ["faulting", "sketch"])
    cache = SuspectsCache()
    reception.register(
        "/faults",
        lambda frame, query: FaultsPage(frame, photographs, cache, read_told(query)),
        f"{photograph_styles}\n{styles}",
    )
