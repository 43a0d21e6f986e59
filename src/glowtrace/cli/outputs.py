"""The files that a command is asked to write: one rule for all of them.

Every name is looked at before anything is computed. A file that is there already stays unless
--overwrite is given; `-` stands for standard output, and what is told goes to stderr then.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import typer

from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from typing import Self

STANDARD_OUTPUT = Path("-")


class Outputs:
    """The files of one command, in the order in which they were asked for.

    Parameters
    ----------
    overwrite
        Whether files that are there may be replaced.
    as_json
        Whether standard output is taken by the command's JSON.
    """

    def __init__(self, *, overwrite: bool = False, as_json: bool = False) -> None:
        self._overwrite = overwrite
        self._as_json = as_json
        self._wanted: list[Path] = []
        self._for_stdout: tuple[TemporaryDirectory[str], Path] | None = None
        self.written: list[str] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *failure: object) -> None:
        if self._for_stdout is not None:
            self._for_stdout[0].cleanup()

    def want(self, option: str, path: Path | None, endings: tuple[str, ...] = ()) -> Path | None:
        """Check a file that is asked for, and give the path to write it at; None where it is not.

        Parameters
        ----------
        option
            As it was typed, for the error's text.
        path
            What was told.
        endings
            Those that its name may have; standard output gets what the first one stands for.

        Raises
        ------
        GlowtraceError
            It could not be written, is there already, or is asked for twice.
        """
        if path is None:
            return None
        if path == STANDARD_OUTPUT:
            return self._standard_output(option, endings)
        if endings:
            from glowtrace.report.output import require_ending

            require_ending(path, endings)
        if any(_same(path, other) for other in self._wanted):
            wanted = "this file is to hold something else already: give it a file of its own"
            raise BenchError("files", [Problem(option, f'"{path}"', wanted)])
        require_new(path, self._overwrite)
        require_place(path)
        self._wanted.append(path)
        return path

    def require(self, option: str, path: Path, endings: tuple[str, ...] = ()) -> Path:
        """Check a file that is always written, as `want` does."""
        place = self.want(option, path, endings)
        assert place is not None
        return place

    def note(self, path: Path | None) -> None:
        """Take down that a file was written."""
        if path is not None and (self._for_stdout is None or path != self._for_stdout[1]):
            self.written.append(str(path))

    def _tell_written(self) -> None:
        for path in self.written:
            typer.echo(f"written: {path}")

    def _standard_output(self, option: str, endings: tuple[str, ...]) -> Path:
        if self._as_json or self._for_stdout is not None:
            wanted = "standard output is taken already: give the name of a file"
            raise BenchError("files", [Problem(option, '"-"', wanted)])
        folder = TemporaryDirectory(prefix="glowtrace-")
        path = Path(folder.name, f"output{endings[0] if endings else ''}")
        self._for_stdout = folder, path
        return path

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Let words be told: on stdout, or on stderr where stdout carries a file."""
        if self._for_stdout is None:
            yield
            self._tell_written()
            return
        with redirect_stdout(sys.stderr):
            yield
            self._tell_written()
        path = self._for_stdout[1]
        if path.exists():
            typer.echo(path.read_bytes(), nl=False)


def require_new(path: Path, overwrite: bool) -> None:
    """Refuse a file that is there already, unless it may be replaced."""
    if is_there(path) and not overwrite:
        raise GlowtraceError(
            f'"{path}" exists already and was left as it is; '
            "give another name, or --overwrite to replace it."
        )


def require_place(path: Path) -> None:
    """Refuse a file in a folder that is not there or may not be written to, and a folder."""
    folder = path.parent
    try:
        reason = (
            "it is a folder: give the name of a file"
            if path.is_dir()
            else f'there is no folder "{folder}": make it first, or give another one'
            if not folder.is_dir()
            else f'the folder "{folder}" may not be written to: give another one'
            if not os.access(folder, os.W_OK)
            else None
        )
    except (OSError, ValueError):
        reason = "there can be no file of this name: give another one"
    if reason is not None:
        raise GlowtraceError(f'"{path}" cannot be written: {reason}.')


def is_there(path: Path) -> bool:
    """Say whether something has this path; what can be no path (too long) has nothing."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _same(path: Path, other: Path) -> bool:
    try:
        return path.resolve() == other.resolve()
    except (OSError, RuntimeError, ValueError):
        return path == other
