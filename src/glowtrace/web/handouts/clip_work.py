"""What a clip is asked to show, and the making of it beside the page."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Final, Literal, get_args
from urllib.parse import urlencode

from PIL import Image

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.report.clips.clip import Clip, ClipForm, Pixels
from glowtrace.report.clips.drift import drift_clip
from glowtrace.report.clips.file import save_clip
from glowtrace.report.clips.flight import flight_clip
from glowtrace.report.clips.sweep import sweep_clip
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.rack import Rack

Shows = Literal["sweep", "flight", "drift"]
Ending = Literal[".mp4", ".gif"]
CLIP: Final = "clip."
_STILL_SIZE: Final = "480p"


@dataclass(frozen=True)
class ClipWish:
    """What a clip shows, and how.

    Attributes
    ----------
    shows
        A knob that is turned, one electron on its way, or the same seen by two observers.
    knob, start, end
        Of a sweep, SI.
    is_there_and_back, has_textbook
        Of a sweep.
    form
        How long, how large, which model.
    ending
        Kind of file.
    """

    shows: Shows
    knob: str
    start: float
    end: float
    is_there_and_back: bool = False
    has_textbook: bool = True
    form: ClipForm = field(default_factory=ClipForm)
    ending: Ending = ".mp4"

    @classmethod
    def usual(cls, bench: Bench, settings: Settings) -> ClipWish:
        """Give a wish that suits what is set: the last knob that is turned up, from nothing."""
        knobs = knobs_of(bench)
        knob = next((each for each in reversed(knobs) if getattr(settings, each)), knobs[0])
        return cls("sweep", knob, *usual_ends(bench, settings, knob))

    @property
    def query(self) -> str:
        """The same in an address, with a leading "&"."""
        told = {
            "shows": self.shows, "knob": self.knob, "from": repr(self.start),
            "to": repr(self.end), "back": str(self.is_there_and_back).lower(),
            "textbook": str(self.has_textbook).lower(), "seconds": repr(self.form.seconds),
            "rate": str(self.form.rate), "size": self.form.size, "model": self.form.model,
            "file": self.ending,
        }  # fmt: skip
        return f"&{urlencode({CLIP + name: value for name, value in told.items()})}"


def read_clip_wish(query: Mapping[str, str], bench: Bench, settings: Settings) -> ClipWish:
    """Read a wish from an address; what it does not tell, or tells wrongly, is as usual."""
    usual = ClipWish.usual(bench, settings)

    def told(name: str) -> str:
        return query.get(CLIP + name, "")

    try:
        form = ClipForm(
            float(told("seconds")), int(told("rate")), told("size"),  # type: ignore[arg-type]
            "ideal" if told("model") == "ideal" else "bench",
        )  # fmt: skip
        start, end = float(told("from")), float(told("to"))
    except (ValueError, GlowtraceError):
        return usual
    shows = next((each for each in get_args(Shows) if each == told("shows")), usual.shows)
    is_known = told("knob") in knobs_of(bench) and math.isfinite(start) and math.isfinite(end)
    return ClipWish(
        shows,
        *((told("knob"), start, end) if is_known else (usual.knob, usual.start, usual.end)),
        is_there_and_back=told("back") == "true",
        has_textbook=told("textbook") != "false",
        form=form,
        ending=".gif" if told("file") == ".gif" else ".mp4",
    )


def usual_ends(bench: Bench, settings: Settings, knob: str) -> tuple[float, float]:
    """Give the ends of a sweep: from the lowest to what is set, or to the highest."""
    low, high, _ = knob_ranges(bench)[knob]
    value = float(getattr(settings, knob))
    return low, (value if low < value <= high else high)


def build_clip(prepared: PreparedBench, settings: Settings, wish: ClipWish) -> Clip:
    """Build the clip that is wished for; GlowtraceError where it cannot be."""
    if wish.shows == "flight":
        return flight_clip(prepared, settings, form=wish.form)
    if wish.shows == "drift":
        return drift_clip(prepared, settings, form=wish.form)
    return sweep_clip(
        prepared,
        settings,
        wish.knob,
        wish.start,
        wish.end,
        form=wish.form,
        is_there_and_back=wish.is_there_and_back,
        with_textbook=wish.has_textbook,
    )


def still_of(prepared: PreparedBench, settings: Settings, wish: ClipWish) -> bytes:
    """Give one frame from the second half of the clip as a PNG file, small."""
    small = replace(wish, form=replace(wish.form, size=_STILL_SIZE))
    clip = build_clip(prepared, settings, small)
    written = io.BytesIO()
    Image.fromarray(clip.frame(round(0.6 * (clip.count - 1)))[..., :3]).save(written, "PNG")
    return written.getvalue()


def make_clip(
    rack: Rack,
    prepared: PreparedBench,
    settings: Settings,
    wish: ClipWish,
    path: Path,
    note: Progress,
    cancelled: Cancelled,
) -> Clip | None:
    """Make a clip's file, in a thread of its own; None where it was cancelled.

    Frames are computed by the rack's worker, one after the other among all other work, so that
    the pages of everybody stay quick.
    """
    clip = rack.compute_in_turn(partial(build_clip, prepared, settings, wish))

    def frame(number: int) -> Pixels:
        return rack.compute_in_turn(partial(clip.frame, number))

    in_turn = replace(clip, frame=frame)
    return clip if save_clip(path, in_turn, progress=note, cancelled=cancelled) else None
