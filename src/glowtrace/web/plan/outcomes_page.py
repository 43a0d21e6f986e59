"""Outcomes: what happens as two knobs are turned through their ranges."""

from __future__ import annotations

import asyncio
from dataclasses import replace

from nicegui import background_tasks, context, ui

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.plan import OutcomeMap, forbidden, telling_map
from glowtrace.web.controls import box, button, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.job import Job, told
from glowtrace.web.naming import knob_text
from glowtrace.web.plan.axes_form import AxesForm
from glowtrace.web.plan.outcome_axes import Axes, read_axes
from glowtrace.web.plan.outcome_job import OutcomeWork, Stage
from glowtrace.web.plan.outcome_plot import (
    OutcomePlot,
    letters_of,
    put_axis,
    put_legend,
    share_of,
    value_at,
)
from glowtrace.web.plot_area import Place
from glowtrace.web.preparation import Preparation
from glowtrace.words.bench import knob_name


class OutcomesPage:
    """The page."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        request = context.client.request
        query = request.query_params if request else {}
        self._axes, self._is_told = read_axes(query, frame.bench), "across" in query
        self._job = Job()
        self._outcome: OutcomeMap | None = None
        self._prepared: PreparedBench | None = None
        frame.body.classes("columns outcomes")
        with frame.body:
            self._form = AxesForm(frame.bench, frame.preparation.settings, self._axes, self._change)
            with box("map"):
                self._side = box("map-side")
                with box("map-middle"):
                    self._plot = OutcomePlot(self._point, self._choose)
                    self._below = box("map-below")
            with box("stack map-words"):
                self._here = words("", "p", "here").props('role="status"')
                self._why = words("", "p", "here-why attention")
                with box("ways-on"):
                    self._load = words("Rehearse this point", "a", "key is-main")
                    self._stop = button("Stop computing", self._cancel)
                self._legend = box("legend-place")
                hint(
                    "Click a point, or move with the arrow keys and press Enter: it is loaded on "
                    "the knobs page. Dashed lines: ratings. Cross: what is set."
                )
        self._show_computing(False)
        self._was_left = False
        context.client.on_disconnect(self._leave)
        context.client.on_connect(self._come_back)

    async def run(self) -> None:
        """Compute the map as the address tells it."""
        self._prepared = await self._frame.prepared()
        if self._prepared is not None:
            if not self._is_told:
                await self._choose_ranges(self._prepared)
            await self._map()

    async def _choose_ranges(self, prepared: PreparedBench) -> None:
        """Begin with polarities that oppose and ranges in which the outcome changes."""
        frame, axes = self._frame, self._axes
        before = frame.preparation.settings
        settings, across, up = await asyncio.to_thread(
            telling_map, prepared, before, axes.across, axes.up
        )
        self._axes = replace(axes, reach_across=across, reach_up=up)
        frame.keep(frame.preparation.with_settings(settings), self._axes.query)
        self._form.put(settings, self._axes)

    def _change(self, settings: Settings, axes: Axes) -> None:
        frame = self._frame
        self._axes = axes
        frame.say("")
        frame.keep(frame.preparation.with_settings(settings), axes.query)
        if self._prepared is not None:
            background_tasks.create(self._map(), name="outcomes")

    def _leave(self) -> None:
        """Stop computing for a page that nobody looks at."""
        self._was_left = self._is_computing
        self._cancel()

    def _come_back(self) -> None:
        """Go on where a connection was lost only for a moment."""
        if self._was_left:
            self._was_left = False
            background_tasks.create(self._map(), name="outcomes")

    def _cancel(self) -> None:
        self._job.give_up()

    async def _map(self) -> None:
        """Show the map, better and better; a newer one takes its place."""
        self._cancel()
        frame, axes, prepared = self._frame, self._axes, self._prepared
        if prepared is None:
            return
        job = self._job = Job(share=0.0)
        work = OutcomeWork(job, prepared, frame.preparation.settings, axes)
        self._put_axes()
        self._show_computing(True)
        shown: Stage | None = None

        def look() -> None:
            nonlocal shown
            if self._job is not job:
                return
            frame.show_working("Flying electrons at every point of the map …", job.share)
            if work.newest is not None and work.newest is not shown:
                shown = work.newest
                self._show(shown)

        following = job.watch(asyncio.to_thread(work.run), look)
        await told(following, frame.say, "The map could not be computed")
        if self._job is job:
            look()
            frame.show_working("")
            self._show_computing(False)

    def _show_computing(self, is_computing: bool) -> None:
        self._is_computing = is_computing
        self._stop.set_visibility(is_computing)

    def _put_axes(self) -> None:
        axes = self._axes
        self._side.clear()
        self._below.clear()
        with self._side:
            put_axis(axes.up, *axes.reach_up, "is-up")
        with self._below:
            put_axis(axes.across, *axes.reach_across, "is-across")

    def _show(self, stage: Stage) -> None:
        outcome = stage.outcome
        settings = self._frame.preparation.settings
        is_first = self._outcome is None
        self._outcome = outcome
        here = float(getattr(settings, outcome.knob_x)), float(getattr(settings, outcome.knob_y))
        cross = share_of(outcome, *here)
        letters = letters_of(outcome)
        if is_first:
            self._plot.start_at(knob_name(outcome.knob_x), knob_name(outcome.knob_y), cross)
            self._tell(outcome, *here)
        self._plot.show_image(stage.image)
        self._plot.show_over(outcome, letters, cross)
        self._legend.clear()
        with self._legend:
            put_legend(outcome, letters)

    def _point(self, place: Place) -> None:
        """Say what happens where the visitor points."""
        if self._outcome is not None:
            self._tell(self._outcome, *value_at(self._outcome, place))

    def _tell(self, outcome: OutcomeMap, x: float, y: float) -> None:
        """Say what happens at a setting of both knobs, and let it be loaded."""
        if self._prepared is None:
            return
        what = outcome.at(x, y) or "not computed"
        self._here.text = f"{knob_text(outcome.knob_x, x)}, {knob_text(outcome.knob_y, y)}: {what}"
        self._why.text = "; ".join(forbidden(self._prepared, outcome, x, y))
        self._load.props["href"] = self._chosen(outcome, x, y).at("/")

    def _choose(self, place: Place) -> None:
        if self._outcome is not None:
            self._cancel()
            x, y = value_at(self._outcome, place)
            ui.navigate.to(self._chosen(self._outcome, x, y).at("/"))

    def _chosen(self, outcome: OutcomeMap, x: float, y: float) -> Preparation:
        preparation = self._frame.preparation
        knobs = {outcome.knob_x: x, outcome.knob_y: y}
        return preparation.with_settings(preparation.settings.turned(**knobs))
