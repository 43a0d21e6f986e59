"""Who may read and write the file of a database: its owner alone, where Glowtrace makes it."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import quote

from sqlalchemy import make_url
from sqlalchemy.engine import URL

from glowtrace.store.location import usual_folder

_OWNER_FOLDER, _OWNER_FILE = 0o700, 0o600


def make_for_owner(file: Path) -> None:
    """Make the folder and the file where they are missing, for their owner only.

    Where they are there already their rights stay as somebody set them, but for the user's own
    data folder, which nobody else reads.
    """
    if not file.parent.is_dir():
        file.parent.mkdir(parents=True, mode=_OWNER_FOLDER)
    if not file.exists():
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT, _OWNER_FILE))
    if file.parent == usual_folder():
        with suppress(OSError):  # a disk that knows no rights
            file.parent.chmod(_OWNER_FOLDER)
            file.chmod(_OWNER_FILE)


def may_only_be_read(file: Path) -> bool:
    """Say whether a file is there that may be read, in a place that may not be written to."""
    if not file.is_file():
        return False
    return _may(file, os.R_OK) and not (_may(file, os.W_OK) and _may(file.parent, os.W_OK))


def reading_url(file: Path) -> tuple[URL, TemporaryDirectory[str] | None]:
    """Give the URL to read a file that nobody may write, and what to clear away afterwards.

    What still lies in the write-ahead log is read from a copy
    (https://www.sqlite.org/uri.html#uriimmutable).
    """
    log = file.with_name(f"{file.name}-wal")
    if not log.exists() or not log.stat().st_size:
        return make_url(f"sqlite:///file:{quote(str(file))}?immutable=1&mode=ro&uri=true"), None
    folder = TemporaryDirectory(prefix="glowtrace-")
    for each in (file, log):
        shutil.copyfile(each, Path(folder.name, each.name))
    return URL.create("sqlite", database=str(Path(folder.name, file.name))), folder


def _may(path: Path, way: int) -> bool:
    return os.access(path, way, effective_ids=os.access in os.supports_effective_ids)
