"""The wheel in a fresh environment: installed without extras and with them, its faces tried.

Run by `python3 tasks.py check --full`; it fetches the packages as `pip install` would.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parent.parent
SETTINGS = ("deflection tube", "--accelerating", "3 kV")
LEFT_OUT = {
    # What names its extra where that is not installed.
    "clips": ("clip", "sweep", *SETTINGS, "--turn", "plate", "--out", "first.mp4"),
    "photographs": ("photograph", "line.heic", *SETTINGS),
}
HEIC_HEAD = b"\0\0\0\x18ftypheic\0\0\0\0"
FACES = {
    "library": ("python", "-c", "import glowtrace; print(glowtrace.__version__)"),
    "version": ("glowtrace", "--version"),
    "trace": ("glowtrace", "trace", "deflection tube", "--picture", "first.pdf"),
    "clip": ("glowtrace", *LEFT_OUT["clips"]),
}
MADE = ("first.pdf", "first.mp4")
PORT = 18480


def main() -> int:
    """Build, install and try; the first command that fails ends it."""
    with tempfile.TemporaryDirectory(prefix="glowtrace-wheel-") as folder:
        place = Path(folder)
        run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", place, at=ROOT)
        (wheel,) = place.glob("*.whl")
        run(sys.executable, "-m", "venv", place / "env", at=place)
        programs = place / "env" / ("Scripts" if os.name == "nt" else "bin")
        install = (programs / "python", "-m", "pip", "install", "-q", "--no-compile")
        run(*install, wheel, at=place)
        print(f"without extras: {size_of(place / 'env'):.0f} MB")
        (place / "line.heic").write_bytes(HEIC_HEAD)
        for extra, arguments in LEFT_OUT.items():
            require_named(extra, programs / "glowtrace", *arguments, at=place)
        try_page(programs / "glowtrace", place)
        run(*install, f"{wheel}[{','.join(LEFT_OUT)}]", at=place)
        print(f"with extras: {size_of(place / 'env'):.0f} MB")
        for program, *rest in FACES.values():
            run(programs / program, *rest, at=place)
        if empty := [name for name in MADE if not (place / name).stat().st_size]:
            raise SystemExit(f"empty: {', '.join(empty)}")
        try_page(programs / "glowtrace", place)
    print(f"{wheel.name}: library, command line and page work in a fresh environment")
    return 0


def run(*command: str | Path, at: Path) -> None:
    done = subprocess.run(command, cwd=at, capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"{' '.join(map(str, command))}:\n{done.stdout}{done.stderr}")


def require_named(extra: str, *command: str | Path, at: Path) -> None:
    """Run a command that lacks an extra; it has to end as after bad input, and to name it."""
    done = subprocess.run(command, cwd=at, capture_output=True, text=True)
    if done.returncode != 2 or f'pip install "glowtrace[{extra}]"' not in done.stderr:
        raise SystemExit(f"{' '.join(map(str, command))} does not name {extra}:\n{done.stderr}")


def size_of(folder: Path) -> float:
    """Megabytes of the packages, without what Python compiles of them when they are used."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".pyc")
    return sum(path.lstat().st_size for path in files) / 1e6


def try_page(program: Path, folder: Path) -> None:
    """Serve the page, with data of its own, and ask for it."""
    data = {**os.environ, "GLOWTRACE_DATA": str(folder / "data")}
    server = subprocess.Popen([program, "page", "--serve", "--port", str(PORT)], env=data)
    try:
        for _ in range(600):
            try:
                with urlopen(f"http://127.0.0.1:{PORT}/") as answer:
                    if b"Glowtrace" not in answer.read():
                        raise SystemExit("the page is not Glowtrace's")
                    return
            except URLError:
                time.sleep(0.2)
        raise SystemExit("the page did not come")
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    sys.exit(main())
