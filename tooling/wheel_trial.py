"""The wheel in a fresh environment: built, installed with its extras, and its three faces tried.

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
FACES = {
    "library": ("python", "-c", "import glowtrace; print(glowtrace.__version__)"),
    "version": ("glowtrace", "--version"),
    "trace": ("glowtrace", "trace", "deflection tube", "--picture", "first.pdf"),
    "clip": ("glowtrace", "clip", "--help"),
}
PORT = 18480


def main() -> int:
    """Build, install and try; the first command that fails ends it."""
    with tempfile.TemporaryDirectory(prefix="glowtrace-wheel-") as folder:
        place = Path(folder)
        run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", place, at=ROOT)
        (wheel,) = place.glob("*.whl")
        run(sys.executable, "-m", "venv", place / "env", at=place)
        programs = place / "env" / ("Scripts" if os.name == "nt" else "bin")
        run(programs / "python", "-m", "pip", "install", "-q", f"{wheel}[clips,photographs]",
            at=place)  # fmt: skip
        for program, *arguments in FACES.values():
            run(programs / program, *arguments, at=place)
        if not (place / "first.pdf").stat().st_size:
            raise SystemExit("the picture is empty")
        try_page(programs / "glowtrace", place)
    print(f"{wheel.name}: library, command line and page work in a fresh environment")
    return 0


def run(*command: str | Path, at: Path) -> None:
    done = subprocess.run(command, cwd=at, capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"{' '.join(map(str, command))}:\n{done.stdout}{done.stderr}")


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
