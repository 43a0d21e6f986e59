"""The check of a linear result by Monte Carlo trials, with progress and a way to stop."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

import numpy as np
from nicegui import Client, background_tasks, ui

from glowtrace.errors import GlowtraceError
from glowtrace.web.controls import box, button, hint, put_prop, words
from glowtrace.web.job import Job
from glowtrace.web.measure.fit_run import Check, FitRun, check_by_trials
from glowtrace.web.measure.trials import TRIALS, Trials
from glowtrace.web.measure.writing import interval_text, power_html

FEWEST = 20
"""Trials from which on an interval is shown."""
_SHOWN_EVERY = 10


class CheckPart:
    """Makes the check of the last fit; closed forms are quick, and start by themselves.

    Parameters
    ----------
    client
        The visitor's page; when it goes away, so do its trials.
    trials
        Where the trials are made.
    """

    def __init__(self, client: Client, trials: Trials) -> None:
        self._trials = trials
        self._job = Job()
        client.on_delete(self.stop)

    def put(self, run: FitRun) -> None:
        """Put the check of a fit on the page."""
        self.stop()
        view = _View(run, lambda: self._begin(view), self.stop)
        if run.setup.model == "ideal":
            self._begin(view)

    def stop(self) -> None:
        """End the trials; what was found stays."""
        self._job.give_up()

    def _begin(self, view: _View) -> None:
        self.stop()
        self._job = Job()
        background_tasks.create(self._try(view, self._job), name="monte carlo")

    async def _try(self, view: _View, job: Job) -> None:
        """Make the trials and show how far they are; what was found before a stop counts."""
        found: list[float] = []
        trouble = ""
        view.begin(waits=self._trials.is_busy and view.run.setup.model == "bench")
        try:
            async for value in self._trials.of(view.run, job):
                found.append(value)
                view.go_on(found)
        except GlowtraceError as error:
            trouble = str(error)
        finally:
            view.end(found, trouble)


class _View:
    """The check of one fit on the page."""

    def __init__(
        self, run: FitRun, on_start: Callable[[], object], on_stop: Callable[[], object]
    ) -> None:
        self.run = run
        with box("stack check"):
            self._rows = box("rows", "dl")
            self._state = hint(
                f"Not checked yet: {TRIALS} trials, each traced through the bench’s fields, take "
                "some minutes. They run beside the page and can be stopped at any time."
            ).props('role="status"')
            self._bar = ui.element("progress").props(f'max="{TRIALS}" aria-label="Trials"')
            self._verdict = words("", "p", "large")
            self._start = button("Check by Monte Carlo", on_start)
            self._stop = button("Stop here", on_stop)
        self._show(None)
        self._set_running(False)

    def begin(self, waits: bool) -> None:
        """Show that the trials begin, or wait for somebody else's."""
        self._set_running(True)
        self._state.text = (
            "Waiting for another visitor’s check to end …" if waits else "Getting ready …"
        )
        put_prop(self._bar, "value", 0)
        self._verdict.text = ""

    def go_on(self, found: list[float]) -> None:
        """Show how far the trials are."""
        self._state.text = f"Trial {len(found)} of {TRIALS}"
        put_prop(self._bar, "value", len(found))
        if len(found) % _SHOWN_EVERY == 0:
            self._show(_check(self.run, found))

    def end(self, found: list[float], trouble: str) -> None:
        """Show what the trials say."""
        if self._rows.is_deleted:
            return
        self._set_running(False)
        check = _check(self.run, found)
        self._show(check)
        lost = sum(map(math.isnan, found))
        said = [trouble, f"{lost} of {len(found)} trials could not be fitted." if lost else ""]
        if check is None:
            said.append(f"Only {len(found) - lost} trials: too few to say anything.")
        else:
            self._verdict.text = check.warning or "Both agree: the linear result can be relied on."
            self._verdict.classes(**{"add" if check.warning else "remove": "is-off"})
        self._state.text = " ".join(filter(None, said))

    def _set_running(self, is_running: bool) -> None:
        self._start.set_visibility(not is_running)
        self._stop.set_visibility(is_running)
        self._bar.set_visibility(is_running)

    def _show(self, check: Check | None) -> None:
        budget = self.run.budget
        self._rows.clear()
        with self._rows:
            _put_interval("Linear (GUM)", *budget.interval, budget.uncertainty, budget.unit)
            if check is not None:
                name = f"Monte Carlo, {check.trials} trials"
                _put_interval(name, check.low, check.high, check.uncertainty, budget.unit)


def _check(run: FitRun, found: list[float]) -> Check | None:
    values = np.array([value for value in found if math.isfinite(value)])
    return check_by_trials(run, values) if len(values) >= FEWEST else None


def _put_interval(name: str, low: float, high: float, uncertainty: float, unit: str) -> None:
    with box("", "div"):
        words(name, "dt")
        text = interval_text(low, high, uncertainty, unit)
        ui.html(power_html(escape(text)), sanitize=False, tag="dd")
