"""Files written whole or not at all: an older file stays until the new one is complete."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from glowtrace.errors import GlowtraceError


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
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(name).chmod(_usual_mode())
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GlowtraceError(
            f'"{path}" cannot be written: {reason}. Give a place that can be written to.'
        ) from error


def _usual_mode() -> int:
    """Give the permissions of an ordinary new file: temporary files are private otherwise."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
