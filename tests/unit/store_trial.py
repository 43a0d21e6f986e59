"""What the tests of the store have in common: other programs, and a look at the file itself."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path


def one_line(error) -> str:
    """Give the error's text, having checked that it is one clear line."""
    text = str(error.value)
    assert "\n" not in text
    assert "Traceback" not in text
    assert text.endswith(".")
    return text


def in_a_process(code: str, *arguments: object, **options) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code), *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **options,
    )


def integrity(address: Path | str) -> str:
    """Ask SQLite whether its file is sound; a server looks after its own files."""
    if not isinstance(address, Path):
        return "ok"
    connection = sqlite3.connect(address)
    try:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        return connection.execute("PRAGMA integrity_check").fetchone()[0]
    finally:
        connection.close()
