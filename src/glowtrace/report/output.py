"""Files written whole or not at all: an older file stays until the new one is complete."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

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


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in one step; where that fails, an older file of that name stays as it was.

    Raises
    ------
    GlowtraceError
        The file cannot be written: the text says why.
    """
    try:
        _replace(path.resolve(), content)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GlowtraceError(
            f'"{path}" cannot be written: {reason}. Give a place that can be written to.'
        ) from error


def _replace(path: Path, content: bytes) -> None:
    temporary = path.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
