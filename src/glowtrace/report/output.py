"""Pictures and tables on disk: right endings, and one clear line where they cannot be written."""

from __future__ import annotations

from pathlib import Path

from glowtrace.disk import write_whole
from glowtrace.errors import GlowtraceError

PICTURE_ENDINGS = (".png", ".svg")
TABLE_ENDINGS = (".csv", ".json")


def require_ending(path: Path, endings: tuple[str, ...]) -> str:
    """Give the ending of a file's name in small letters, or refuse another one.

    Raises
    ------
    GlowtraceError
        The ending is none of `endings`.
    """
    ending = path.suffix.lower()
    if ending not in endings:
        raise GlowtraceError(
            f'"{path}" cannot be written: its name must end in {" or ".join(endings)}.'
        )
    return ending


def write_output(path: Path, content: bytes) -> None:
    """Write a file in one step; where that fails, an older file of that name stays as it was.

    Raises
    ------
    GlowtraceError
        The file cannot be written: the text says why.
    """
    try:
        write_whole(path, content)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GlowtraceError(
            f'"{path}" cannot be written: {reason}. Give a place that can be written to.'
        ) from error
