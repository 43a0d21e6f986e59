"""Frames into files: MP4 with H.264 and a captions track, or GIF; one frame in memory at a time.

The MP4 has what every player wants: 4:2:0 samples, the colours of ITU-R BT.709 in the limited
range and tagged so, its index in front. The captions are 3GPP timed text (3GPP TS 26.245): each
sample is the length of its text in two bytes, then the text in UTF-8. The GIF has one palette for
all frames, taken from frames spread over the clip.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import av
import numpy as np
from av.video.reformatter import ColorRange, Colorspace
from PIL import Image
from scipy.spatial import cKDTree

from glowtrace.report.clips.clip import Caption, Clip, Pixels

_MILLISECONDS: Final = Fraction(1, 1000)
_BT709: Final = 1  # number of these primaries, transfer and matrix in ISO/IEC 23091-2
_VIDEO: Final = {"crf": "17", "preset": "veryfast", "tune": "animation"}
_STYLE: Final = b"""[Script Info]
ScriptType: v4.00+

[V4+ Styles]
Format: Name, Fontname, Fontsize, PrimaryColour, BackColour, Alignment
Style: Default,Sans,18,&Hffffff,&H0,2

[Events]
Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text
"""
"""What the encoder of timed text wants to know before it writes the track's description."""
_COLOURS: Final = 256
_STEPS: Final = 64  # of red, green and blue in the table from colours to places in the palette


def write_mp4(path: Path, clip: Clip, frames: Iterable[Pixels]) -> None:
    """Write an MP4 file.

    Parameters
    ----------
    path
        The file.
    clip
        Its size (both numbers even), rate, title and captions are taken.
    frames
        Its frames (h, w, 4) in their order.
    """
    options = {"movflags": "+faststart"}
    with av.open(str(path), "w", format="mp4", options=options) as file:
        file.metadata["title"] = clip.title
        video = _video_stream(file, clip)
        if clip.captions:
            write_captions(file, clip.captions)
        for pixels in frames:
            frame = av.VideoFrame.from_ndarray(pixels, format="rgba")
            file.mux(video.encode(_to_bt709(frame)))
        file.mux(video.encode())


def _to_bt709(frame: av.VideoFrame) -> av.VideoFrame:
    return frame.reformat(
        format="yuv420p", dst_colorspace=Colorspace.ITU709, dst_color_range=ColorRange.MPEG
    )


def _video_stream(file: Any, clip: Clip) -> Any:
    video = file.add_stream("libx264", rate=clip.rate, options=_VIDEO)
    video.width, video.height = clip.size
    video.pix_fmt = "yuv420p"
    context = video.codec_context
    context.gop_size = 2 * clip.rate
    context.color_primaries = context.color_trc = context.colorspace = _BT709
    context.color_range = ColorRange.MPEG
    return video


def write_captions(file: Any, captions: Sequence[Caption]) -> None:
    """Write a captions track, before the first frame."""
    track = file.add_stream("mov_text")
    track.codec_context.subtitle_header = _STYLE
    track.codec_context.time_base = track.time_base = _MILLISECONDS
    track.metadata["language"] = "eng"
    file.start_encoding()
    for caption in captions:
        text = caption.text.encode()
        packet = av.Packet(struct.pack(">H", len(text)) + text)
        packet.stream, packet.time_base = track, _MILLISECONDS
        packet.pts = packet.dts = round(1000 * caption.start)
        packet.duration = round(1000 * caption.end) - packet.pts
        file.mux(packet)


def write_gif(path: Path, clip: Clip, frames: Iterable[Pixels]) -> None:
    """Write a GIF file that runs for ever; it has no place for captions.

    Parameters
    ----------
    path, clip, frames
        As for `write_mp4`.
    """
    palette = Palette.of([clip.frame(number) for number in _spread(clip.count)])
    with av.open(str(path), "w", format="gif") as file:
        picture = file.add_stream("gif", rate=clip.rate)
        picture.width, picture.height = clip.size
        picture.pix_fmt = "pal8"
        for pixels in frames:
            content: Any = palette.places(pixels), palette.colours
            frame = av.VideoFrame.from_ndarray(content, format="pal8")
            file.mux(picture.encode(frame))
        file.mux(picture.encode())


@dataclass(frozen=True, eq=False)
class Palette:
    """The colours of a GIF, and a table from any colour to the nearest of them."""

    colours: Pixels
    """(256, 4): alpha, red, green, blue."""
    table: Pixels
    """(`_STEPS`, `_STEPS`, `_STEPS`): place in `colours` by red, green and blue."""

    @classmethod
    def of(cls, samples: Sequence[Pixels]) -> Palette:
        """Choose the colours that show some frames (h, w, 4) best (median cut)."""
        thinned = np.vstack([sample[::2, ::2, :3] for sample in samples])
        chosen = Image.fromarray(thinned).quantize(_COLOURS, Image.Quantize.MEDIANCUT)
        flat = chosen.getpalette() or []
        rgb = np.zeros((_COLOURS, 3), np.uint8)
        rgb.reshape(-1)[: len(flat)] = flat
        step = 256 // _STEPS
        middles = step * np.arange(_STEPS) + step // 2
        asked = np.stack(np.meshgrid(middles, middles, middles, indexing="ij"), axis=-1)
        _, nearest = cKDTree(rgb.astype(float)).query(asked.reshape(-1, 3))
        opaque = np.full((_COLOURS, 1), 255, np.uint8)
        table = np.asarray(nearest, dtype=np.uint8).reshape(asked.shape[:3])
        return cls(np.hstack([opaque, rgb]), table)

    def places(self, pixels: Pixels) -> Pixels:
        """Give the place of each pixel's colour (h, w) for a frame (h, w, 4)."""
        red, green, blue = np.moveaxis(pixels[..., :3] // (256 // _STEPS), -1, 0)
        return np.asarray(self.table[red, green, blue])


def _spread(count: int) -> tuple[int, ...]:
    """Give the numbers of a few frames spread over a clip."""
    return tuple(sorted({round(share * (count - 1)) for share in (0.0, 0.5, 1.0)}))
