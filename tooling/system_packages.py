"""What the system must bring beside Python, as Debian and Ubuntu name it."""

import ctypes
import importlib.util
import os
import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from tooling.running import quietly

SET_UP = "the set-up"
BROWSER = "the browser tests"
POSTGRES = "the tests with PostgreSQL"


@dataclass(frozen=True)
class SystemPackage:
    """A package, what needs it, and how to tell that it is there."""

    name: str
    needed_by: str
    is_there: Callable[[], bool]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _has_font() -> bool:
    fonts = Path("/usr/share/fonts")
    return any(fonts.rglob("*.ttf")) or any(fonts.rglob("*.otf"))


PACKAGES = (
    SystemPackage(
        "python3-venv", SET_UP, lambda: importlib.util.find_spec("ensurepip") is not None
    ),
    SystemPackage("chromium", BROWSER, lambda: shutil.which("chromium") is not None),
    SystemPackage("fonts-liberation", BROWSER, _has_font),
    # The program that drives the browser is linked with it.
    SystemPackage("libatomic1", BROWSER, lambda: _loads("libatomic.so.1")),
    SystemPackage("postgresql", POSTGRES, lambda: Path("/usr/lib/postgresql").exists()),
)


def missing(needed_by: Iterable[str]) -> list[SystemPackage]:
    """Give the packages that are not there, of those that these parts need."""
    if os.name == "nt":
        return []
    return [each for each in PACKAGES if each.needed_by in needed_by and not each.is_there()]


def is_debian() -> bool:
    release = Path("/etc/os-release")
    if not release.exists():
        return False
    return "ID=debian" in release.read_text(encoding="utf-8").splitlines()


def install(packages: list[SystemPackage]) -> str:
    """Install packages where that is allowed: as root on Debian. Gives what went wrong, or ''."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    if not (packages and is_debian() and is_root):
        return ""
    names = [each.name for each in packages]
    print(f"Installing from Debian: {', '.join(names)} ...", flush=True)
    for command in (
        ["apt-get", "update", "-qq"],
        ["apt-get", "install", "-qq", "-y", "--no-install-recommends", *names],
    ):
        done = quietly(["env", "DEBIAN_FRONTEND=noninteractive", *command])
        if done.returncode != 0:
            said = done.stdout.strip().splitlines()[-1:] or ["no reason given"]
            return f"{' '.join(command[:2])} failed: {said[0]}"
    importlib.invalidate_caches()
    return ""


def told(packages: list[SystemPackage]) -> str:
    """Name what is missing, what for, and how to get it, in one line."""
    parts: dict[str, list[str]] = {}
    for each in packages:
        parts.setdefault(each.needed_by, []).append(each.name)
    lacking = "; ".join(f"{', '.join(names)} for {part}" for part, names in parts.items())
    every = " ".join(each.name for each in packages)
    return f"Missing: {lacking}. Debian and Ubuntu: sudo apt install {every}"
