"""The last resort: what to do when the program itself is at fault."""

from __future__ import annotations

import os
import platform
import sys
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import gettempdir

CRASHED = 70
"""Exit code of a fault of the program (EX_SOFTWARE of sysexits.h, BSD)."""


def report_crash(error: BaseException, arguments: list[str]) -> str:
    """Keep what is needed to find the fault in a file, and give the one line that says so."""
    name = f"glowtrace-fault-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}.txt"
    what = f"{type(error).__name__}: {next(iter(str(error).splitlines()), '')}"[:200]
    kept = next(
        filter(None, (_keep(folder, name, error, arguments) for folder in _folders())), None
    )
    return f"this is a fault of Glowtrace, not yours ({what}). " + (
        f"Please keep this file and give it to those who look after the program: {kept}"
        if kept is not None
        else "Please tell those who look after the program what you typed."
    )


def _folders() -> tuple[Path, ...]:
    from platformdirs import user_log_dir

    return Path(user_log_dir("glowtrace", False)), Path(gettempdir())


def _keep(folder: Path, name: str, error: BaseException, arguments: list[str]) -> Path | None:
    """Write the file for its owner only; None where it cannot be written."""
    text = "\n".join((
        f"Glowtrace {_version()}, Python {sys.version}, {platform.platform()}",
        f"arguments: {arguments!r}",
        "",
        *traceback.format_exception(error),
    ))  # fmt: skip
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        path = folder / name
        opened = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(opened, "w", encoding="utf-8", errors="replace") as file:
            file.write(text)
        return path
    return None


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("glowtrace")
    except PackageNotFoundError:
        return "(not installed)"
