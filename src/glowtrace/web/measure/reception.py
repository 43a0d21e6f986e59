"""Receives visitors of the measuring pages."""

from __future__ import annotations

from pathlib import Path

from starlette.datastructures import QueryParams

from glowtrace.measure.methods import COLUMNS, Method
from glowtrace.web.frame import Frame
from glowtrace.web.measure.logbook_files import serve_logbook_files
from glowtrace.web.measure.logbook_page import LogbookPage
from glowtrace.web.measure.measure_page import MeasurePage
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.measure.trials import Trials
from glowtrace.web.reception import Reception, styles_of


def receive_measuring(reception: Reception, photographs: PhotographFiles) -> str:
    """Register the pages; ``photographs``: where these arrive.

    Gives the HTML for the style sheets, for other pages with photographs.
    """
    trials = Trials()

    def measure(frame: Frame, query: QueryParams) -> MeasurePage:
        method: Method | None = next(
            (each for each in COLUMNS if each == query.get("method")), None
        )
        return MeasurePage(frame, photographs, trials, method, query.get("entry", ""))

    names = ["measuring", "result", "photograph", "logbook"]
    styles = styles_of(Path(__file__).parent, names)
    reception.register("/measure", measure, styles)
    reception.register(
        "/logbook", lambda frame, query: LogbookPage(frame, query.get("entry", "")), styles
    )
    serve_logbook_files(reception.rack.store)
    return styles
