"""Pictures and tables on disk: right endings, and one clear line where they cannot be written."""

from __future__ import annotations

from pathlib import Path

from glowtrace.disk import write_whole
from glowtrace.errors import GlowtraceError

PICTURE_ENDINGS = (".png", ".svg", ".pdf")
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
            f'"{path}" cannot be written: its name must end in {_either(endings)}.'
        )
    return ending


def _either(endings: tuple[str, ...]) -> str:
    *first, last = endings
    return f"{', '.join(first)} or {last}" if first else last


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
        raise refusal(path, error) from error


def refusal(path: Path, error: OSError) -> GlowtraceError:
    """Give the error that says why a file cannot be written."""
    reason = (error.strerror or str(error)).lower()
    return GlowtraceError(
        f'"{path}" cannot be written: {reason}. Give a place that can be written to.'
    )
