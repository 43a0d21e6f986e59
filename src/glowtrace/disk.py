"""Files written whole or not at all, and arrays kept in them."""

from __future__ import annotations

import errno
import io
import os
import re
import secrets
import time
import warnings
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from glowtrace.errors import GlowtraceWarning

if TYPE_CHECKING:
    from numpy.typing import NDArray

Kept = TypeVar("Kept")

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


def read_at_most(path: Path, most: int) -> bytes:
    """Give a file's content; a device or a pipe that never ends is too large, too.

    Raises
    ------
    OSError
        The file cannot be read, or has more than so many bytes (EFBIG).
    """
    with path.open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"it is too large; give at most {most // 10**6} MB")
    return content


def read_arrays(path: Path, read: Callable[[dict[str, NDArray[Any]]], Kept]) -> Kept | None:
    """Give what ``read`` makes of the arrays of a file, see `write_arrays`.

    None for a file that is missing, cut short or damaged, or that lacks what is read.
    """
    import numpy as np  # nothing else here needs it

    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as stored:
            return read(dict(stored))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def write_arrays(
    path: Path, arrays: Mapping[str, NDArray[Any]], *, what: str, is_packed: bool = False
) -> None:
    """Keep arrays by name, with their folder; with a `GlowtraceWarning` where that fails.

    Parameters
    ----------
    path, arrays
        Where, and what.
    what
        What they are, as the warning begins: "The field map".
    is_packed
        Whether the file is to be small rather than quick to read.
    """
    import numpy as np

    content = io.BytesIO()
    save: Callable[..., None] = np.savez_compressed if is_packed else np.savez
    save(content, **arrays)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content.getvalue())
    except OSError as failure:
        warnings.warn(
            f"{what} could not be kept in {path.parent} ({failure.strerror}); it will be computed "
            "again next time. Free some space or choose another cache folder.",
            GlowtraceWarning,
            stacklevel=3,
        )


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
