"""Clips as files: decoded again by the library's decoders, with the right frames and captions."""

from __future__ import annotations

import re
import weakref
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from glowtrace.errors import GlowtraceError
from glowtrace.report.clips.clip import Caption, Clip, ClipForm, captions_of, captions_vtt
from glowtrace.report.clips.file import save_clip

SIZE = (320, 240)
COUNT, RATE = 23, 20
COLOURS = {"red": (200, 30, 20), "green": (40, 190, 60), "blue": (30, 60, 210)}


def bar(number: int) -> NDArray[np.uint8]:
    """A white bar that stands further to the right in each frame, over three colours."""
    frame = np.full((SIZE[1], SIZE[0], 4), 255, np.uint8)
    for n, colour in enumerate(COLOURS.values()):
        frame[80 * n : 80 * (n + 1), :, :3] = colour
    frame[:, 10 * number : 10 * number + 12, :3] = 255
    return frame


def place_of_bar(frame: NDArray[np.uint8]) -> float:
    """Column in the middle of what is white."""
    return float(np.flatnonzero((frame.min(axis=2) > 200).all(axis=0)).mean())


@pytest.fixture
def clip() -> Clip:
    captions = (Caption(0.0, 0.55, "plates 0.5 kV: up"), Caption(0.55, 1.15, "µ, ’ and – too"))
    return Clip("a bar", SIZE, RATE, COUNT, bar, captions)


def test_mp4_decodes_with_every_frame_in_its_place(clip: Clip, tmp_path: Path) -> None:
    assert save_clip(tmp_path / "bar.mp4", clip)
    with av.open(str(tmp_path / "bar.mp4")) as file:
        frames = [frame.to_ndarray(format="rgb24") for frame in file.decode(video=0)]
    assert len(frames) == COUNT
    for number, frame in enumerate(frames):
        assert frame.shape == (SIZE[1], SIZE[0], 3)
        assert place_of_bar(frame) == pytest.approx(10 * number + 5.5, abs=1.0)


def test_mp4_says_how_it_is_made_and_lasts_as_long_as_it_should(clip: Clip, tmp_path: Path) -> None:
    """The tags are numbers of ISO/IEC 23091-2: 1 is ITU-R BT.709, and so is the matrix."""
    save_clip(tmp_path / "bar.mp4", clip)
    with av.open(str(tmp_path / "bar.mp4")) as file:
        video = file.streams.video[0]
        context = video.codec_context
        assert (context.name, context.pix_fmt) == ("h264", "yuv420p")
        tags = context.color_primaries, context.color_trc, context.colorspace
        assert tags == (1, 1, 1)
        assert context.color_range == 1  # limited
        assert video.average_rate == RATE
        assert file.duration == pytest.approx(1e6 * COUNT / RATE, abs=1e3)
        assert file.metadata["title"] == "a bar"


def test_colours_come_back_as_they_went_in(clip: Clip, tmp_path: Path) -> None:
    """By the matrix of ITU-R BT.709 (from memory), worked out here from the file's own samples."""
    save_clip(tmp_path / "bar.mp4", clip)
    with av.open(str(tmp_path / "bar.mp4")) as file:
        frame = next(iter(file.decode(video=0)))
    y, u, v = (np.asarray(plane, dtype=float) for plane in np.split(frame.to_ndarray(), (240, 300)))
    u, v = u.reshape(120, 160), v.reshape(120, 160)
    for n, colour in enumerate(COLOURS.values()):
        luma = (y[80 * n + 40, 250] - 16) / 219
        blue, red = ((chroma[40 * n + 20, 125] - 128) / 224 for chroma in (u, v))
        red, blue = luma + 1.5748 * red, luma + 1.8556 * blue
        green = (luma - 0.2126 * red - 0.0722 * blue) / 0.7152
        assert 255 * np.array([red, green, blue]) == pytest.approx(np.array(colour), abs=4)


def test_captions_are_a_track_of_their_own(clip: Clip, tmp_path: Path) -> None:
    save_clip(tmp_path / "bar.mp4", clip)
    with av.open(str(tmp_path / "bar.mp4")) as file:
        track = file.streams.subtitles[0]
        assert track.codec_context.name == "mov_text"
        assert track.metadata["language"] == "eng"
        told = [
            (float(packet.pts * packet.time_base), float(packet.duration * packet.time_base),
             packet.stream.decode(packet)[0].dialogue.decode())
            for packet in file.demux(track) if packet.size > 2
        ]  # fmt: skip
    assert told == [
        (0.0, pytest.approx(0.55), "plates 0.5 kV: up"),
        (pytest.approx(0.55), pytest.approx(0.6), "µ, ’ and – too"),
    ]


def test_gif_decodes_with_every_frame_in_its_place(clip: Clip, tmp_path: Path) -> None:
    assert save_clip(tmp_path / "bar.gif", clip)
    with Image.open(tmp_path / "bar.gif") as image:
        assert image.n_frames == COUNT
        assert image.info["loop"] == 0  # for ever
        for number in range(COUNT):
            image.seek(number)
            assert image.info["duration"] == 1000 // RATE
            frame = np.asarray(image.convert("RGB"))
            assert place_of_bar(frame) == pytest.approx(10 * number + 5.5, abs=0.6)
            for n, colour in enumerate(COLOURS.values()):
                assert frame[80 * n + 40, 300] == pytest.approx(np.array(colour), abs=6)


@pytest.mark.parametrize("ending", [".mp4", ".gif"])
def test_a_cancelled_clip_leaves_nothing_behind(clip: Clip, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"bar{ending}"
    path.write_bytes(b"an older file")
    done: list[float] = []
    written = save_clip(
        path, clip, progress=lambda share, _: done.append(share), cancelled=lambda: len(done) == 7
    )
    assert not written
    assert len(done) == 7
    assert path.read_bytes() == b"an older file"
    assert list(tmp_path.iterdir()) == [path]


def test_a_clip_that_cannot_be_drawn_leaves_nothing_behind(clip: Clip, tmp_path: Path) -> None:
    def breaks(number: int) -> NDArray[np.uint8]:
        if number == 5:
            raise ValueError("no more")
        return bar(number)

    broken = Clip("broken", SIZE, RATE, COUNT, breaks)
    with pytest.raises(ValueError, match="no more"):
        save_clip(tmp_path / "bar.mp4", broken)
    assert list(tmp_path.iterdir()) == []


def test_progress_is_told_frame_by_frame(clip: Clip, tmp_path: Path) -> None:
    told: list[tuple[float, str]] = []
    save_clip(tmp_path / "bar.gif", clip, progress=lambda *each: told.append(each))
    assert [share for share, _ in told] == pytest.approx([(n + 1) / COUNT for n in range(COUNT)])
    assert told[4][1] == f"frame 5 of {COUNT}"


def test_frames_are_not_kept(tmp_path: Path) -> None:
    """However long the clip: a few frames are alive at a time, not all."""
    most = 0

    def drawn(number: int) -> NDArray[np.uint8]:
        nonlocal most
        frame = bar(number % COUNT)
        references.append(weakref.ref(frame))
        most = max(most, sum(reference() is not None for reference in references))
        return frame

    references: list[weakref.ref[NDArray[np.uint8]]] = []
    save_clip(tmp_path / "bar.mp4", Clip("long", SIZE, RATE, 60, drawn))
    assert len(references) == 60
    assert most <= 4


@pytest.mark.parametrize(
    ("path", "message"),
    [("bar.avi", r"must end in \.mp4 or \.gif"), ("missing/bar.mp4", "cannot be written")],
)
def test_a_place_that_cannot_be_written_to_is_told(
    clip: Clip, tmp_path: Path, path: str, message: str
) -> None:
    with pytest.raises(GlowtraceError, match=message):
        save_clip(tmp_path / path, clip)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"seconds": 0.2}, "seconds: 0.2 s is not allowed; give from 1 s to 120 s"),
        ({"seconds": float("nan")}, "give from 1 s to 120 s"),
        ({"rate": 24}, "frames a second: 24 is not allowed; choose 10, 20, 25, 50"),
        ({"size": "8k"}, 'size: "8k" is not allowed; choose 480p, 720p, 1080p'),
    ],
)
def test_what_is_not_allowed_is_named(wrong: dict[str, object], message: str) -> None:
    with pytest.raises(GlowtraceError, match=re.escape(message)):
        ClipForm(**wrong)  # type: ignore[arg-type]


def test_captions_cover_the_clip_without_a_gap() -> None:
    captions = captions_of(151, 25, lambda number: f"frame {number}")
    assert captions[0].start == 0.0
    assert captions[-1].end == pytest.approx(151 / 25)
    assert all(a.end == b.start for a, b in pairwise(captions))
    for caption in captions:
        number = int(caption.text.split()[1])
        assert caption.start <= number / 25 < caption.end


def test_captions_as_webvtt() -> None:
    """The form is that of the W3C's WebVTT: a head, then times with thousandths and the words."""
    text = captions_vtt((Caption(0.0, 1.5, "first"), Caption(61.25, 3723.004, "two\nlines")))
    assert text == (
        "WEBVTT\n\n00:00:00.000 --> 00:00:01.500\nfirst\n"
        "\n00:01:01.250 --> 01:02:03.004\ntwo lines\n"
    )
