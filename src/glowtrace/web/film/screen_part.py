"""Film: where the screen is, found by its grid or clicked at its crossings."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from dataclasses import replace

from nicegui import background_tasks, ui

from glowtrace.errors import GlowtraceError
from glowtrace.photographs.grid_lines import PrintedGrid, printed_grid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import Photograph
from glowtrace.web.controls import box, button, hint, words
from glowtrace.web.film.film_work import FilmWork
from glowtrace.web.frame import Frame
from glowtrace.web.measure.crossing_choice import CrossingChoice
from glowtrace.web.measure.photograph_desk import sentence
from glowtrace.web.measure.photograph_face import PhotographFace, place_text
from glowtrace.web.measure.photograph_work import PhotographWork


class ScreenPart:
    """The part of the page.

    Parameters
    ----------
    frame, work
        The page around it, and its film.
    picture
        The place of the picture, where crossings are clicked.
    on_click
        Called with whether crossings are being clicked.
    """

    def __init__(
        self, frame: Frame, work: FilmWork, picture: ui.element, on_click: Callable[[bool], object]
    ) -> None:
        self._frame, self._work, self._on_click = frame, work, on_click
        self._grid = printed_grid(frame.bench)
        self._clicks: PhotographWork | None = None
        with picture:
            self._face = PhotographFace(self._click, self._move, self._remove)
            self._face.set_visibility(False)
        words("Screen", "h2")
        self._trust = words("", "p").props('role="status"')
        with box("ways-on"):
            button("Find the grid", self._find)
            self._begin = button("Click crossings", self._begin_clicking)
        with box("stack") as self._clicking:
            self._prompt = words("", "p", "large").props('role="status"')
            self._crossing = CrossingChoice(self._grid, self._choose)
            hint("In the first frame of the cut. Four are enough, six fit the lens.")
            with box("ways-on"):
                self._use = button("Use these crossings", self._take, "key is-main")
                button("Leave it", self._leave)
        self._clicking.set_visibility(False)

    def tell(self, trust: str) -> None:
        """Say how well the screen is found in the frame that is shown."""
        self._trust.text = sentence(trust)

    def _find(self) -> None:
        self._leave()
        self._work.change(points=())

    def _begin_clicking(self) -> None:
        background_tasks.create(self._show_frame(), name="crossings")

    async def _show_frame(self) -> None:
        work = self._work
        desk, start = work.desk, work.told.start
        found = await self._frame.compute("Reading a frame", lambda: desk.first(start))
        if found is None:
            return
        photograph, jpeg = found
        self._face.load(
            f"data:image/jpeg;base64,{b64encode(jpeg).decode('ascii')}",
            photograph.width,
            photograph.height,
        )
        self._clicks = _with_clicks(photograph, self._grid, work.told.grid_points)
        self._set_clicking(True)
        self._draw()

    def _set_clicking(self, is_clicking: bool) -> None:
        self._face.set_visibility(is_clicking)
        self._clicking.set_visibility(is_clicking)
        self._begin.set_visibility(not is_clicking)
        self._on_click(is_clicking)

    def _leave(self) -> None:
        if self._clicks is not None:
            self._clicks = None
            self._set_clicking(False)

    def _take(self) -> None:
        if self._clicks is None or self._clicks.screen_map is None:
            return
        points = tuple(map(_point_text, self._clicks.clicked))
        with self._frame.telling():
            self._work.change(points=points)
            self._leave()

    def _click(self, column: float, row: float) -> None:
        self._step(lambda clicks: clicks.click(column, row))

    def _move(self, _: str, number: int, column: float, row: float) -> None:
        self._step(lambda clicks: clicks.move_click(number, column, row))

    def _remove(self, _: str, number: int) -> None:
        self._step(lambda clicks: clicks.drop_click(number))

    def _choose(self, u: float, v: float) -> None:
        self._step(lambda clicks: clicks.choose((u, v)))

    def _step(self, step: Callable[[PhotographWork], PhotographWork]) -> None:
        if self._clicks is None:
            return
        self._frame.say("")
        try:
            self._clicks = step(self._clicks)
        except GlowtraceError as error:
            self._frame.say(sentence(error))
        self._draw()

    def _draw(self) -> None:
        clicks = self._clicks
        if clicks is None:
            return
        self._face.draw("grid", clicks.clicked, clicks.screen_map, clicks.grid, None, ())
        self._crossing.put(clicks.wanted)
        self._use.set_visibility(clicks.screen_map is not None)
        if clicks.screen_map is not None:
            says = "Look whether the small crosses lie on the grid; drag a point to correct it."
        elif clicks.wanted is None:
            says = "Correct the crossings: drag them, or take one away with Delete."
        else:
            count = min(len(clicks.clicked) + 1, 4)
            says = f"Click the crossing at {place_text(*clicks.wanted)} ({count} of 4)."
        self._prompt.text = says


def _with_clicks(
    photograph: Photograph, grid: PrintedGrid, points: tuple[GridPoint, ...]
) -> PhotographWork:
    """Begin with crossings that were clicked before."""
    work = PhotographWork(photograph, grid)
    for each in points:
        work = work.choose((each.u, each.v)).click(each.column, each.row)
    return replace(work, chosen=None)


def _point_text(point: GridPoint) -> str:
    return f"{1e3 * point.u:g} mm, {1e3 * point.v:g} mm = {point.column:.1f}, {point.row:.1f}"
