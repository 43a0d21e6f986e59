"""What the tests of the store have in common: other programs, and a look at the file itself."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest


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


def let_go(processes: Sequence[subprocess.Popen[str]]) -> None:
    """Wait until all are ready, and let them begin at the same moment."""
    for process in processes:
        assert process.stdout.readline() == "ready\n"
    for process in processes:
        process.stdin.write("go\n")
        process.stdin.flush()


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[Path]:
    """Give a disk of its own that is soon full; the test is skipped where none can be mounted."""
    disk = folder / "small disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(disk)]
    if subprocess.run(mount, check=False).returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)
