"""What a clip is asked to show, and the making of it beside the page."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Final, Literal

from PIL import Image

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.report.clips.clip import Clip, ClipForm, Pixels
from glowtrace.report.clips.drift import drift_clip
from glowtrace.report.clips.file import save_clip
from glowtrace.report.clips.flight import flight_clip
from glowtrace.report.clips.sweep import sweep_clip
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.address import Word, fragment, read_state, told_state
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
    start: Annotated[float, Word("from")]
    end: Annotated[float, Word("to")]
    is_there_and_back: Annotated[bool, Word("back")] = False
    has_textbook: Annotated[bool, Word("textbook")] = True
    form: ClipForm = field(default_factory=ClipForm)
    ending: Annotated[Ending, Word("file")] = ".mp4"

    @classmethod
    def usual(cls, bench: Bench, settings: Settings) -> ClipWish:
        """Give a wish that suits what is set: the last knob that is turned up, from nothing."""
        knobs = knobs_of(bench)
        knob = next((each for each in reversed(knobs) if getattr(settings, each)), knobs[0])
        return cls("sweep", knob, *usual_ends(bench, settings, knob))


def clip_query(wish: ClipWish, bench: Bench, settings: Settings) -> str:
    """Give the end of a query that tells a wish, as far as it is not as usual."""
    usual = _usual_of(wish.knob, bench, settings)
    told = told_state(wish, usual, CLIP) | told_state(wish.form, usual.form, CLIP)
    return fragment(told)


def read_clip_wish(query: Mapping[str, str], bench: Bench, settings: Settings) -> ClipWish:
    """Read a wish from an address; what it does not tell, or tells wrongly, is as usual."""
    usual = _usual_of(query.get(f"{CLIP}knob", ""), bench, settings)
    wish = read_state(query, usual, CLIP)
    if wish.knob not in knobs_of(bench):
        wish = replace(wish, knob=usual.knob, start=usual.start, end=usual.end)
    return replace(wish, form=read_state(query, usual.form, CLIP))


def _usual_of(knob: str, bench: Bench, settings: Settings) -> ClipWish:
    """Give the usual wish, with the usual ends of a knob where the bench has it."""
    usual = ClipWish.usual(bench, settings)
    if knob not in knobs_of(bench):
        return usual
    start, end = usual_ends(bench, settings, knob)
    return replace(usual, start=start, end=end)


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
