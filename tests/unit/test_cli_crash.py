"""When the program itself is at fault: one line, a file to keep, and an exit code of its own.

70 is EX_SOFTWARE, "an internal software error", of sysexits.h (BSD).
"""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest


@pytest.fixture
def failing(monkeypatch, tmp_path):
    def fail(_):
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr("glowtrace.cli.bench.find_bench", fail)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path


def test_a_fault_is_one_line_with_a_file_for_its_owner_only(glowtrace, failing):
    code, out, err = glowtrace("bench", "check", "x")
    assert (code, out) == (70, "")
    assert len(err.splitlines()) == 1
    assert "ZeroDivisionError" in err
    kept = Path(re.search(r"(\S+\.txt)$", err.strip())[1])
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    text = kept.read_text()
    assert "Traceback" in text
    assert "['bench', 'check', 'x']" in text


def test_a_fault_that_cannot_be_kept_is_told_all_the_same(glowtrace, failing, monkeypatch):
    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("glowtrace.cli.crash.os.open", refuse)
    code, _, err = glowtrace("bench", "check", "x")
    assert code == 70
    assert len(err.splitlines()) == 1
