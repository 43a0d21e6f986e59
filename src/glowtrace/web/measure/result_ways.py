"""What can be done with a result: print it, export it, keep it in the logbook."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import TubeCalibration
from glowtrace.measure.export import export_measurement, logbook_record
from glowtrace.measure.suiting import TITLES
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import write_table
from glowtrace.photographs.photograph import load_photograph
from glowtrace.report.measurement.report import measurement_csv, measurement_report
from glowtrace.store.attaching import Attachment
from glowtrace.web.controls import box, button, hint
from glowtrace.web.frame import Frame
from glowtrace.web.measure.fit_form import FitForm
from glowtrace.web.measure.fit_run import FitRun
from glowtrace.web.measure.writing import measured_text


class ResultWays:
    """The buttons under a result.

    Parameters
    ----------
    frame
        The page around it.
    form
        Where a calibration is chosen.
    photograph
        Gives the photograph that the readings are from, if any.
    """

    def __init__(
        self, frame: Frame, form: FitForm, photograph: Callable[[], Attachment | None]
    ) -> None:
        self._frame, self._form, self._photograph = frame, form, photograph

    def put(self, run: FitRun) -> None:
        """Put the ways on from a result on the page."""
        with box("ways-on"):
            if run.calibration is None:
                button("Save to the logbook", partial(self._save, run))
            else:
                button("Keep with the bench and use", partial(self._keep, run, run.calibration))
            button("Print (PDF)", partial(self._print, run))
            button("JSON", partial(self._export, run))
            button("CSV", partial(self._list, run))
        self._done = hint("").props('role="status"')

    def _save(self, run: FitRun) -> None:
        frame, budget = self._frame, run.budget
        value = measured_text(budget.value, budget.uncertainty, budget.unit)
        invented = " (invented readings)" if run.table.is_invented else ""
        photograph = self._photograph()
        with frame.telling():
            frame.rack.kept.logbook.add(
                "result",
                f"{budget.name} = {value}, {TITLES[run.table.method].lower()}{invented}"[:200],
                bench=frame.bench,
                settings=frame.preparation.settings,
                payload=logbook_record(run.setup, run.fit, run.findings),
                attachments=[] if photograph is None else [photograph],
            )
            frame.say("")
            self._done.text = "Saved to the logbook, with bench, settings and readings."

    async def _print(self, run: FitRun) -> None:
        attached = self._photograph()
        photograph = None if attached is None else load_photograph(attached.data)
        made = await self._frame.compute_long(
            "Intervals for the report",
            lambda progress, cancelled: measurement_report(
                run.setup,
                run.fit,
                photograph=photograph,
                findings=run.findings,
                photograph_words="The photograph that the last readings were taken from.",
                progress=progress,
                cancelled=cancelled,
            ),
        )
        if made is not None:
            ui.download.content(made, "measurement.pdf", "application/pdf")

    def _export(self, run: FitRun) -> None:
        text = export_measurement(run.setup, run.fit, run.findings)
        ui.download.content(text, "measurement.json", "application/json")

    def _list(self, run: FitRun) -> None:
        ui.download.content(measurement_csv(run.setup, run.fit), "measurement.csv", "text/csv")

    def _keep(self, run: FitRun, calibration: TubeCalibration) -> None:
        frame, store = self._frame, self._frame.rack.store
        photograph = self._photograph()
        frame.say("")
        try:
            kept = (
                None
                if store is None
                else store.calibrations.keep(
                    calibration,
                    frame.bench,
                    data=logbook_record(run.setup, run.fit, run.findings),
                    attachments=() if photograph is None else (photograph,),
                )
            )
        except GlowtraceError as error:
            frame.say(str(error))
            return
        self._form.calibration.choose(calibration, kept)
        self._form.look_for_charge()
        where = (
            "Used on this page only: the database could not be opened."
            if kept is None
            else "Kept with the bench, with date, uncertainty and readings; the logbook has it too."
        )
        self._done.text = f"{where} Fits of e/m with the same fields use it from now on."


def keep_readings(frame: Frame, readings: Table, photograph: Attachment | None) -> None:
    """Add readings without a fit to the logbook, with the page's bench and settings.

    Raises
    ------
    GlowtraceError
        The database fails, or could not be opened.
    """
    invented = " (invented)" if readings.is_invented else ""
    count = len(readings.rows)
    frame.rack.kept.logbook.add(
        "readings" if photograph is None else "photograph",
        f"{TITLES[readings.method]}, {count} {'reading' if count == 1 else 'readings'}{invented}",
        bench=frame.bench,
        settings=frame.preparation.settings,
        payload={"method": readings.method, "readings": write_table(readings)},
        attachments=[] if photograph is None else [photograph],
    )
