"""Getting ready before the first start: rules of the project, no outside source."""

from __future__ import annotations

from pathlib import Path

import pytest

from glowtrace.bench import first_use


def test_kernels_are_there_or_not(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(first_use, "kernel_cache_dir", lambda: tmp_path / "kernels")
    assert not first_use.is_compiled()
    (tmp_path / "kernels" / "fields").mkdir(parents=True)
    (tmp_path / "kernels" / "fields" / "a.nbc").touch()
    assert first_use.is_compiled()


def test_a_long_start_says_why(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = tmp_path / "kernels"
    monkeypatch.setattr(first_use, "kernel_cache_dir", lambda: folder)
    assert first_use.what_takes_long() == first_use.FIRST_START
    (folder / "a.nbc").touch()
    assert first_use.what_takes_long() == ""
    (tmp_path / "file").touch()
    folder = tmp_path / "file" / "kernels"  # no folder can be made in a file
    told = first_use.what_takes_long()
    assert str(folder) in told
    assert "Make that folder writable" in told


def test_each_ready_made_bench_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    told: list[str] = []
    first_use.get_ready(told.append)
    assert len(told) == 3
    assert "deflection tube" in "".join(told)


def test_a_computer_that_keeps_nothing_is_no_failure(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(tell: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(first_use, "get_ready", refuse)
    assert first_use.main() == 0
    assert "No space left on device" in capsys.readouterr().out
