"""Clips become files that are whole or not there at all, with progress, and can be given up."""

from __future__ import annotations

from collections.abc import Generator
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import Final

from glowtrace.disk import new_whole
from glowtrace.errors import MissingPackageError
from glowtrace.report.clips.clip import Clip, Pixels
from glowtrace.report.output import refusal, require_ending
from glowtrace.watching import Cancelled, Progress

CLIP_ENDINGS: Final = (".mp4", ".gif")


def save_clip(
    path: Path,
    clip: Clip,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> bool:
    """Write a clip to an MP4 file (H.264, captions track) or a GIF file; the ending says which.

    Frames are drawn and written one by one, so that memory does not grow with the length.

    Parameters
    ----------
    path
        The file.
    clip
        What to write.
    progress
        Called after each frame with the fraction done (0 to 1) and a few words.
    cancelled
        Asked before each frame; where it says True the clip is given up.

    Returns
    -------
    bool
        Whether the clip was written. One that was cancelled leaves no file, and an older file of
        that name as it was.

    Raises
    ------
    GlowtraceError
        The ending is another one, the encoder is not installed, or the file cannot be written.
    """
    ending, encoding = require_ending(path, CLIP_ENDINGS), _encoding()
    write = encoding.write_mp4 if ending == ".mp4" else encoding.write_gif
    frames = _frames(clip, progress or _tell_nobody, cancelled or _never)
    try:
        with new_whole(path) as temporary, closing(frames):
            write(temporary, clip, frames)
    except _Cancelled:
        return False
    except OSError as error:
        raise refusal(path, error) from error
    return True


def _encoding() -> ModuleType:
    try:
        from glowtrace.report.clips import encoding as clip_encoding
    except ModuleNotFoundError as error:
        raise MissingPackageError("Clips", "av", "clips") from error
    return clip_encoding


class _Cancelled(Exception):  # noqa: N818 - no error: it only ends the writing
    pass


def _frames(clip: Clip, progress: Progress, cancelled: Cancelled) -> Generator[Pixels]:
    for number in range(clip.count):
        if cancelled():
            raise _Cancelled
        yield clip.frame(number)
        progress((number + 1) / clip.count, f"frame {number + 1} of {clip.count}")


def _never() -> bool:
    return False


def _tell_nobody(_share: float, _words: str) -> None:
    pass
