"""Files written whole or not at all."""

from __future__ import annotations

import os
import re
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_PART = re.compile(r"\.[0-9a-f]{16}\.part")
_LONG_AGO_S = 24 * 3600.0  # longer than anything is written


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in one step; see `new_whole`.

    Raises
    ------
    OSError
        The file cannot be written; nothing has changed.
    """
    with new_whole(path) as temporary, temporary.open("xb") as file:
        file.write(content)


@contextmanager
def new_whole(path: Path) -> Iterator[Path]:
    """Give a place beside a file to write at, which becomes that file when all went well.

    An older file of that name stays as it was until then, and keeps its permissions; a link is
    followed. Two programs may do this at once. What is written is made sure of first.

    Raises
    ------
    OSError
        The file cannot be written; nothing has changed, nor has it where the writing itself fails.
    """
    target = path.resolve()
    _clear_left_over(target.parent)
    temporary = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        yield temporary
        with temporary.open("rb+") as file:
            os.fsync(file.fileno())
        if target.exists():
            temporary.chmod(target.stat().st_mode)
        temporary.replace(target)
    except BaseException:
        with suppress(OSError):
            temporary.unlink()
        raise


def _clear_left_over(folder: Path) -> None:
    """Remove what programs that were killed long ago have left half written."""
    with suppress(OSError):
        for path in folder.glob(".*.part"):
            if _PART.fullmatch(path.name):
                with suppress(OSError):
                    if time.time() - path.stat().st_mtime > _LONG_AGO_S:
                        path.unlink()
