"""Handouts: the clip to take away."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from nicegui import background_tasks, context, ui

from glowtrace.bench.model import CoilPair
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.errors import GlowtraceError
from glowtrace.report.clips.clip import RATES, SIZES, Clip, captions_vtt
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import Choice, Picker, Switch, asked, box, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.clip_work import ClipWish, clip_query, make_clip, still_of, usual_ends
from glowtrace.web.handouts.made_files import MadeFiles
from glowtrace.web.handouts.making import Making
from glowtrace.web.naming import knob_text, read_field
from glowtrace.web.served import file_name
from glowtrace.words.bench import knob_name, model_choices

SHOWS: Final = {
    "sweep": "a knob turned",
    "flight": "one electron",
    "drift": "two observers",
}
ENDINGS: Final = {".mp4": "MP4 with captions", ".gif": "GIF"}
_SAYS: Final = {
    "sweep": "Below zero the polarity is reversed.",
    "flight": "Slowed down, with the electric and the magnetic force as arrows.",
    "drift": "Of one electron: on the left the laboratory, on the right the frame that drifts "
    "with u = E/B.",
}


class ClipPart:
    """The part of the page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where clips are kept for their visitors.
    wish
        What is chosen at first.
    on_change
        Called after something else was chosen.
    """

    def __init__(
        self, frame: Frame, files: MadeFiles, wish: ClipWish, on_change: Callable[[], None]
    ) -> None:
        self._frame, self._files, self._wish = frame, files, wish
        self._on_change = on_change
        self._made: list[str] = []
        with box("columns part handout", "section").props('aria-labelledby="handout-clip"'):
            with box("stack handout-asked"):
                words("Clip", "h2").props('id="handout-clip"')
                Choice("Shows", self._offered(), self._choose_show).put(self._wish.shows)
                self._says = hint(_SAYS["sweep"])
                self._sweep = box("stack")
                self._put_common()
                self._making = Making("Make the clip", self._make)
                self._save = words("Save the clip", "a", "key").props("download")
                self._save.set_visibility(False)
            with box("handout-shown"):
                self._shown = box("handout-clip")
                self._below = hint("")
        self._put_sweep()
        context.client.on_delete(self._forget)

    @property
    def query(self) -> str:
        """What is chosen, for the page's address; nothing while it is as usual."""
        return clip_query(self._wish, self._frame.bench, self._frame.preparation.settings)

    async def show_still(self) -> None:
        """Show one frame of the clip as it would be."""
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        wish, settings = self._wish, self._frame.preparation.settings
        try:
            still = await self._frame.rack.compute(lambda: still_of(prepared, settings, wish))
        except GlowtraceError as error:
            self._making.complain(str(error))
            return
        if wish is not self._wish:
            return
        self._making.complain("")
        self._clear()
        with self._shown:
            image = ui.element("img")
            image.props["src"] = f"data:image/png;base64,{b64encode(still).decode('ascii')}"
            image.props["alt"] = "One frame of the clip"
        self._below.text = "One frame of it."

    def _offered(self) -> dict[str, str]:
        """Leave out two observers where no fields can cross."""
        bench = self._frame.bench
        has_both = bench.plates is not None and isinstance(bench.coils, CoilPair)
        return {each: text for each, text in SHOWS.items() if each != "drift" or has_both}

    def _put_common(self) -> None:
        wish = self._wish
        with box("row"):
            seconds = asked("Seconds", f"{wish.form.seconds:g}", self._seconds)
            seconds.props('inputmode="decimal"')
        size = Choice("Size", {each: each for each in SIZES}, self._size)
        size.put(wish.form.size)
        rates = {str(each): str(each) for each in RATES}
        Choice("Frames a second", rates, self._rate).put(str(wish.form.rate))
        Choice("Fields", model_choices(), self._model).put(wish.form.model)
        Choice("File", ENDINGS, self._ending).put(wish.ending)

    def _put_sweep(self) -> None:
        """Put what belongs to a sweep only, or nothing."""
        self._sweep.clear()
        self._says.text = _SAYS[self._wish.shows]
        if self._wish.shows != "sweep":
            return
        wish = self._wish
        with self._sweep:
            picker = Picker("Knob", self._pick)
            knobs = {each: knob_name(each) for each in knobs_of(self._frame.bench)}
            picker.offer({"Knobs": knobs}, wish.knob)
            with box("row"):
                for name, value in (("start", wish.start), ("end", wish.end)):
                    text = knob_text(wish.knob, value) if value else f"0 {KNOBS[wish.knob]}"
                    asked("from" if name == "start" else "to", text, partial(self._typed, name))
            back = Switch("There and back", self._flag("is_there_and_back"))
            back.put(wish.is_there_and_back)
            textbook = Switch("Line of the textbook, dashed", self._flag("has_textbook"))
            textbook.put(wish.has_textbook)

    def _choose_show(self, shows: str) -> None:
        self._change(shows=shows)
        self._put_sweep()

    def _pick(self, knob: str) -> None:
        start, end = usual_ends(self._frame.bench, self._frame.preparation.settings, knob)
        self._change(knob=knob, start=start, end=end)
        self._put_sweep()

    def _typed(self, name: str, text: str) -> None:
        unit = KNOBS[self._wish.knob]
        try:
            self._change(**{name: read_field(text, unit, unit)})
        except GlowtraceError as error:
            self._making.complain(str(error))

    def _seconds(self, text: str) -> None:
        try:
            self._change(form=replace(self._wish.form, seconds=read_field(text, "s", "s")))
        except GlowtraceError as error:
            self._making.complain(str(error))

    def _rate(self, rate: str) -> None:
        self._change(form=replace(self._wish.form, rate=int(rate)))

    def _size(self, size: str) -> None:
        known = next(each for each in SIZES if each == size)
        self._change(form=replace(self._wish.form, size=known))

    def _model(self, model: str) -> None:
        chosen: Model = "ideal" if model == "ideal" else "bench"
        self._change(form=replace(self._wish.form, model=chosen))

    def _ending(self, ending: str) -> None:
        self._change(ending=ending)

    def _flag(self, name: str) -> Callable[[bool], None]:
        return lambda is_on: self._change(**{name: is_on})

    def _change(self, **changes: object) -> None:
        self._wish = replace(self._wish, **changes)  # type: ignore[arg-type]
        self._on_change()
        background_tasks.create(self.show_still(), name="still")

    async def _make(self) -> None:
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        wish, path = self._wish, self._files.place(self._wish.ending)
        clip = await self._making.run(partial(self._work, prepared, wish, path))
        if clip is None:
            return
        self._clear()
        name = file_name(clip.title) + wish.ending
        address = self._hold(path, name)
        self._put_clip(clip, wish, address)
        megabytes = path.stat().st_size / 1e6
        self._below.text = (
            f"{clip.count} frames, {clip.seconds:g} s, {megabytes:.2g} MB. Computed; the model "
            "stands in the picture."
        )
        self._save.props["href"] = f"{address}?save=1"
        self._save.update()
        self._save.set_visibility(True)

    def _work(
        self,
        prepared: PreparedBench,
        wish: ClipWish,
        path: Path,
        note: Progress,
        cancelled: Cancelled,
    ) -> Clip | None:
        settings = self._frame.preparation.settings
        return make_clip(self._frame.rack, prepared, settings, wish, path, note, cancelled)

    def _put_clip(self, clip: Clip, wish: ClipWish, address: str) -> None:
        with self._shown:
            if wish.ending == ".gif":
                image = ui.element("img").props('alt="The clip"')
                image.props["src"] = address
                return
            captions = self._files.place(".vtt")
            captions.write_text(captions_vtt(clip.captions), encoding="utf-8")
            video = ui.element("video").props("controls playsinline loop preload=auto")
            video.props["src"] = address
            video.props["aria-label"] = clip.title
            with video:
                track = ui.element("track").props('kind="captions" srclang="en" label="English"')
                track.props["src"] = self._hold(captions, "captions.vtt")

    def _hold(self, path: Path, name: str) -> str:
        address = self._files.hold(path, name)
        self._made.append(address)
        return address

    def _clear(self) -> None:
        """Take away what is shown, and its files."""
        self._shown.clear()
        self._below.text = ""
        self._save.set_visibility(False)
        self._forget()

    def _forget(self) -> None:
        for address in self._made:
            self._files.drop(address)
        self._made.clear()
