"""Files written whole or not at all."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in one step: beside its place first, made sure of, and then put there.

    An older file of that name stays as it was until then, and keeps its permissions; a link is
    followed. Two programs may do this at once.

    Raises
    ------
    OSError
        The file cannot be written; nothing has changed.
    """
    target = path.resolve()
    temporary = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            temporary.chmod(target.stat().st_mode)
        temporary.replace(target)
    except BaseException:
        with suppress(OSError):
            temporary.unlink()
        raise
