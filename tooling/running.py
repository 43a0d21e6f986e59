"""Running programs, of .venv and others, and telling how it went."""

import os
import subprocess
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
VENV_BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
VENV_PYTHON = VENV_BIN / ("python.exe" if os.name == "nt" else "python")


class TaskError(Exception):
    """A step that cannot go on; the text says what to do."""


def quietly(command: Sequence[str | Path]) -> subprocess.CompletedProcess[str]:
    """Run a command and keep what it prints, for the case that it fails."""
    return subprocess.run(
        command,
        cwd=ROOT,
        text=True,
        errors="replace",
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )


def in_venv(command: Sequence[str]) -> list[str]:
    """The same command, its program taken from .venv."""
    program, *arguments = command
    return [str(VENV_BIN / (f"{program}.exe" if os.name == "nt" else program)), *arguments]


def run(command: Sequence[str]) -> int:
    """Run a program of .venv on this terminal."""
    return subprocess.call(in_venv(command), cwd=ROOT)


def succeeds(command: Sequence[str]) -> bool:
    return run(command) == 0


def step(name: str, work: Callable[[], bool]) -> bool:
    """Do one step and close it with one line that says how it went."""
    start = time.monotonic()
    passed = work()
    word = "ok    " if passed else "FAILED"
    print(f"{word}  {name:<16}{time.monotonic() - start:6.1f} s", flush=True)
    return passed


def side_by_side(steps: dict[str, tuple[str, ...]]) -> bool:
    """Run programs of .venv at once, as each keeps one core busy at most; tell what fails."""
    with ThreadPoolExecutor() as pool:
        running = {name: pool.submit(quietly, in_venv(command)) for name, command in steps.items()}
        passed = [step(name, partial(_passes, done.result)) for name, done in running.items()]
    return all(passed)


def _passes(result: Callable[[], subprocess.CompletedProcess[str]]) -> bool:
    done = result()
    if done.returncode != 0:
        print(done.stdout.rstrip())
    return done.returncode == 0
