"""Camera: a camera on the real tube; the computed line lies over its picture, and it is read."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from functools import partial
from typing import Any, Final

import numpy as np
from nicegui import background_tasks, ui
from numpy.typing import NDArray

from glowtrace.bench.learning import Belief
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.faults.variations import AS_SET
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.report.caption import settings_words
from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.strip import AudienceStrip
from glowtrace.web.camera.camera_face import CameraFace, feed_of
from glowtrace.web.camera.feed import FEED
from glowtrace.web.camera.glow_seen import NOTHING_SEEN, SEEN, compared, seen_of
from glowtrace.web.camera.hall import HALL
from glowtrace.web.camera.lying_over import LyingOver, lying_over
from glowtrace.web.camera.reading import corner_crossings
from glowtrace.web.controls import Switch, box, button, hint, words
from glowtrace.web.faults.told import Told
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_face import place_text
from glowtrace.web.measure.photograph_files import PATH, PhotographFiles
from glowtrace.web.panel import Panel
from glowtrace.web.refresh import Refresh, Request
from glowtrace.words.bench import invented_words, model_caption

Array = NDArray[np.float64]

APART_S: Final = 0.06
"""Between two computed lines while a knob turns: the camera gives no more pictures than that, and
reading them needs the processor."""


class CameraPage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where a picture waits that is handed on to Measure.
    audience
        Whom the picture can be shown to.
    """

    def __init__(self, frame: Frame, files: PhotographFiles, audience: Audience) -> None:
        self._frame, self._audience = frame, audience
        self._prepared: PreparedBench | None = None
        self._belief: Belief | None = None
        self._over: LyingOver | None = None
        self._seen = NOTHING_SEEN
        self._refresh = Refresh(self._draw, apart_s=APART_S)
        self._plane = frame.bench.plane
        # Pictures are read as they are seen; some planes are drawn from right to left.
        self._way = np.array([-1.0 if self._plane.is_mirrored else 1.0, 1.0])
        with frame.body:
            self._put_on_page(files)

    def _put_on_page(self, files: PhotographFiles) -> None:
        frame = self._frame
        self._key = files.new_key()
        frame.body.client.on_delete(lambda: files.drop(self._key))
        frame.body.client.on_delete(lambda: self._audience.end_camera(self._key))
        crossings = np.array(corner_crossings(printed_grid(frame.bench))) * self._way
        corners = [place_text(u, v) for u, v in crossings.tolist()]
        with box("columns camera-table"):
            self._face = CameraFace(
                feed_of(FEED, frame.preparation.place),
                f"{PATH}/{self._key}",
                f"{HALL}?page={self._key}",
                corners,
                self._hear,
                self._handed,
            )
            with box("stack camera-side"):
                self._says = words("", "p", "large").props('role="status"')
                self._difference = words("", "p")
                self._verdict = words("", "p", "large")
                self._trust = hint("")
                with box("ways-on"):
                    button("Why not as computed?", self._ask_faults, "key is-main")
                    if not self._plane.is_spot:
                        button("Read it on Measure", self._face.hand)
                hint(
                    "The pictures stay on this computer, or go to the audience’s windows if you "
                    "wish; none is kept. Look whether the small crosses lie on the printed grid."
                )
                Switch("Show it to the audience", self._share)
                AudienceStrip(self._audience, frame)
        Panel(frame.bench, frame.preparation.settings, self._turned)

    def _share(self, is_wanted: bool) -> None:
        if is_wanted:
            settings = self._frame.preparation.settings
            self._audience.show_camera(self._key, self._frame.bench, settings)
        else:
            self._audience.end_camera(self._key)
        self._face.share(is_wanted)

    async def run(self) -> None:
        """Keep the computed line in step with the knobs, until cancelled."""
        self._prepared = await self._frame.prepared()
        if self._prepared is None:
            return
        self._refresh.ask()
        background_tasks.create(self._know(self._prepared), name="camera")
        await self._refresh.run()

    async def _know(self, prepared: PreparedBench) -> None:
        with self._frame.telling():
            self._belief = await self._frame.rack.believe(prepared)
            self._refresh.ask()

    def _turned(self, settings: Settings, stamp: float) -> None:
        self._frame.preparation = self._frame.preparation.with_settings(settings)
        problems = check_settings(self._frame.bench, settings)
        self._frame.say("\n".join(map(str, problems)))
        self._audience.turn_camera(self._key, self._frame.bench, settings)
        self._refresh.ask(stamp)

    # ---- what lies over the picture --------------------------------------------------------------

    async def _draw(self, request: Request) -> None:
        prepared, preparation = self._prepared, self._frame.preparation
        if prepared is None:
            return
        work = partial(
            lying_over, prepared, preparation.settings, self._belief, is_resting=request.resting
        )
        try:
            over = await self._frame.rack.paint(work)
        except Exception as error:  # the page must live on, whatever one setting does
            logging.getLogger(__name__).exception("a picture could not be computed")
            self._frame.say(f"This line could not be computed; the last one stays. {error}")
            return
        if request.resting and request.number != self._refresh.newest:
            return
        self._over = over
        self._face.put(self._shown(prepared, over))
        if request.resting:
            self._frame.keep(preparation)
        self._compare()

    def _shown(self, prepared: PreparedBench, over: LyingOver) -> dict[str, Any]:
        """Give what camera.js draws, in mm."""
        bench, grid = prepared.bench, printed_grid(prepared.bench)
        u0, v0, u1, v1 = grid.rectangle
        says = [" · ".join(settings_words(self._frame.preparation.settings, bench))]
        if bench.invented:
            says.append(invented_words())
        legend = [
            (f"— computed, {model_caption('bench')}", "#ffb040"),
            (f"- - textbook, {model_caption('ideal')}", "#f0dfc2"),
            (f"▪ {self._reading_words(over)}", "#ff9fd0"),
        ]
        if len(over.band):
            legend.insert(1, ("band: where the computed line may lie, 95 %", "#ffb040"))
        return {
            "outline": _mm(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]])),
            "crossings": _mm(np.array([[u, v] for u in grid.u for v in grid.v])),
            "computed": _mm(over.line.on_screen * self._way),
            "textbook": _mm(over.textbook * self._way),
            "band": _mm(over.band * self._way),
            "reads": "line" if over.line.is_rising else "curve",
            "says": says,
            "legend": legend,
        }

    # ---- what was read ---------------------------------------------------------------------------

    def _reading_words(self, over: LyingOver) -> str:
        is_quick = self._plane.is_spot or (self._plane.is_line and over.line.is_rising)
        return "read off this picture" if is_quick else "read, some pictures a second"

    def _hear(self, told: Mapping[str, Any]) -> None:
        state, says = told.get("state"), str(told.get("says") or "")
        self._trust.text = str(told.get("trust") or "").capitalize()
        self._seen = NOTHING_SEEN
        if state == "followed":
            try:
                self._seen = seen_of(told, self._way)
            except (TypeError, ValueError):
                return
            what = SEEN[self._plane.shows]
            says = "" if len(self._seen) else f"The screen is followed; no {what} is seen on it."
            if self._seen.rate:
                self._trust.text += f"; line read {self._seen.rate:.1f} times a second"
        elif state == "lost":
            says = "The map does not fit any more: the camera moved. Nothing is read."
        if says or state in ("followed", "lost"):
            self._says.text = says
        self._compare()

    def _compare(self) -> None:
        """Say how far what is read is from what is computed."""
        over = self._over
        told = compared(self._seen, over.line, over.prediction) if over is not None else ("", "")
        self._difference.text, self._verdict.text = told

    # ---- ways on ---------------------------------------------------------------------------------

    def _ask_faults(self) -> None:
        points = self._seen.handed
        if not points:
            self._frame.say(f"No {SEEN[self._plane.shows]} is read now.")
            return
        self._frame.say("")
        told = Told().sketching(AS_SET, points, is_photographed=True)
        self._open(self._frame.preparation.at("/faults") + told.query)

    def _handed(self, trouble: str) -> None:
        self._frame.say(trouble)
        if not trouble:
            self._open(f"{self._frame.preparation.at('/measure')}&photograph={self._key}")

    def _open(self, address: str) -> None:
        ui.navigate.to(address, new_tab=True)


def _mm(places: Array) -> list[list[float] | None]:
    """Give places in mm to a hundredth; None where a line is interrupted."""
    return [
        None if np.isnan(place).any() else [round(1e3 * float(each), 2) for each in place]
        for place in places
    ]
