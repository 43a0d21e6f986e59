"""The virtual environment: made once, filled from a lock file, renewed when that changes."""

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tooling import system_packages
from tooling.running import ROOT, VENV, VENV_PYTHON, TaskError, quietly

LOCKED_GROUPS = {
    # What each lock file holds; each holds everything of the one before.
    "run": ("build",),
    "dev": ("build", "dev"),
    "bench": ("build", "dev", "bench"),
}
SIZES = {"run": 1.0, "dev": 1.8, "bench": 2.3}
"""GB on the disk, with what pip needs while it works."""
AGAIN = "Then run the same command again."


def lock_file(kind: str) -> Path:
    return ROOT / "requirements" / f"{kind}.txt"


def set_up(kind: str) -> None:
    """Install what a lock file names, unless it is there, and get it ready."""
    if install(kind):
        get_ready()


def install(
    kind: str, parts: tuple[str, ...] = (), beside: Callable[[], None] = lambda: None
) -> bool:
    """Install Glowtrace and the packages of a lock file into .venv, unless they are there.

    Gives whether it is new, so that `get_ready` has still to be called.

    Parameters
    ----------
    kind
        Which lock file.
    parts
        What else will be done, so that all that the system lacks is told at once.
    beside
        What is done while pip works, or without it.
    """
    if _is_installed(kind):
        beside()
        return False
    _require_room(kind)
    if not (VENV_PYTHON.exists() and quietly([VENV_PYTHON, "-m", "pip", "-V"]).returncode == 0):
        _make_venv(parts)
    print(f"Installing from requirements/{kind}.txt (a minute or two, once) ...", flush=True)
    # What is used is compiled when it is first imported; to compile all of it takes half a minute.
    with ThreadPoolExecutor() as pool:
        done = pool.submit(beside)
        _pip_install(kind, "--no-compile", "--require-hashes", "-r", lock_file(kind))
        # The build back end is locked too, so the install of Glowtrace itself fetches nothing.
        _pip_install(kind, "--no-deps", "--no-build-isolation", "--editable", ROOT)
        done.result()
    _stamp_file(kind).write_text(_fingerprint(kind), encoding="utf-8")
    return True


def get_ready() -> None:
    """Do what the first start would wait for; it may fail here, as that start does it again."""
    # Where Python is told to keep nothing, every start would compile every module that it loads.
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    load_page = [str(VENV_PYTHON), "-c", "import glowtrace.web.page"]
    modules = subprocess.Popen(load_page, cwd=ROOT, env=kept)
    subprocess.call([VENV_PYTHON, "-m", "glowtrace.bench.first_use"], cwd=ROOT, env=kept)
    modules.wait()


def _fingerprint(kind: str) -> str:
    """Hash of all that decides what is installed; the folder too, as the install points into it."""
    parts = [lock_file(kind).read_bytes(), (ROOT / "pyproject.toml").read_bytes(), bytes(ROOT)]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _stamp_file(kind: str) -> Path:
    return VENV / f"installed-{kind}"


def _is_installed(kind: str) -> bool:
    """True when `kind`, or a larger set that includes it, is installed as locked today."""
    kinds = list(LOCKED_GROUPS)
    return VENV_PYTHON.exists() and any(
        _stamp_file(each).exists()
        and _stamp_file(each).read_text(encoding="utf-8") == _fingerprint(each)
        for each in kinds[kinds.index(kind) :]
    )


def _require_room(kind: str) -> None:
    if not os.access(ROOT, os.W_OK):
        raise TaskError(
            f"The folder {ROOT} cannot be written, and .venv is to be made in it.\n"
            "Copy the project into a folder of your own and run the same command there."
        )
    free = shutil.disk_usage(ROOT).free / 1e9
    if not VENV.exists() and free < SIZES[kind]:
        raise TaskError(_full_disk(kind))


def _full_disk(kind: str) -> str:
    free = shutil.disk_usage(ROOT).free / 1e9
    return (
        f"The disk is full: {free:.1f} GB are free at {ROOT}, and the set-up needs "
        f"{SIZES[kind]:.1f} GB.\nMake room, or move the project to another disk. {AGAIN}"
    )


def _make_venv(parts: tuple[str, ...]) -> None:
    lacking = system_packages.missing([system_packages.SET_UP])
    trouble = system_packages.install(lacking)
    if lacking and (trouble or system_packages.missing([system_packages.SET_UP])):
        every = system_packages.missing([system_packages.SET_UP, *parts])
        told = f"{trouble}\n" if trouble else ""
        raise TaskError(
            f"{told}{sys.executable} cannot make virtual environments. "
            f"{system_packages.told(every)}\n{AGAIN}"
        )
    print("Making the virtual environment .venv ...", flush=True)
    made = quietly([sys.executable, "-m", "venv", "--clear", VENV])
    if made.returncode != 0:
        shutil.rmtree(VENV, ignore_errors=True)
        raise TaskError(f"The virtual environment {VENV} could not be made:\n{made.stdout.strip()}")


def _pip_install(kind: str, *arguments: str | Path) -> None:
    # -qq: pip says only what stops it.
    pip = ("-m", "pip", "install", "-qq", "--disable-pip-version-check")
    installed = quietly([VENV_PYTHON, *pip, *arguments])
    if installed.returncode != 0:
        said = installed.stdout.strip()
        raise TaskError(f"{said.splitlines()[-1] if said else ''}\n\n{_what_to_do(said, kind)}")


def _what_to_do(said: str, kind: str) -> str:
    """Say what to do about an install that failed, after what pip said."""
    if "No space left on device" in said or "Disk quota exceeded" in said:
        return _full_disk(kind)
    if re.search(r"ProxyError|Cannot connect to proxy|proxy", said):
        return (
            f"pip goes through a proxy that does not let it through{_pip_settings()}.\n"
            f"Set the right one (pip config set global.proxy http://HOST:PORT), or none. {AGAIN}"
        )
    if "DO NOT MATCH THE HASHES" in said:
        return (
            f"A package is not the one that was locked{_pip_settings()}. A mirror or a proxy has "
            f"changed it, or it came damaged.\nTake another mirror or network. {AGAIN}"
        )
    if re.search(r"Failed (building wheel|to build)|error: command .*(gcc|cc|cl\.exe)", said):
        version = ".".join(map(str, sys.version_info[:2]))
        return (
            f"A package has no ready-made build for Python {version} on this kind of computer, "
            "and there is no compiler to make one.\nTake Python 3.11 to 3.13 for it, or install "
            f"a compiler (Debian: sudo apt install build-essential python3-dev). {AGAIN}"
        )
    if re.search(r"from versions: none|connection broken|Max retries|name resolution", said):
        return (
            "The packages could not be fetched. The first set-up needs a network connection, or a "
            f"mirror within pip's reach{_pip_settings()}.\nAfterwards Glowtrace works without any "
            f"network. Connect, and run the same command again."
        )
    return f"{said}\n\nThe set-up stopped here; pip's words are above."


def _pip_settings() -> str:
    """Tell how pip is set up for another place than the usual one."""
    python = VENV_PYTHON if VENV_PYTHON.exists() else sys.executable
    listed = quietly([python, "-m", "pip", "config", "list"]).stdout
    told = [line for line in listed.splitlines() if re.search(r"index-url|proxy|no-index", line)]
    told += [f"{name}={value}" for name, value in os.environ.items() if "_proxy" in name.lower()]
    shown = re.sub(r"//[^/@\s']+@", "//...@", ", ".join(told))  # a name and a password stay here
    return f" (set up: {shown})" if told else ""
