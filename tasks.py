"""The one task file of Glowtrace; it needs nothing but Python 3.11 or newer.

    python3 tasks.py                    the same as `check`
    python3 tasks.py page [ARGS]        set up what is missing, then open the page
    python3 tasks.py check              set up what is missing, then all that CI does
    python3 tasks.py check --quick      the same without browser and slow tests: two minutes
    python3 tasks.py check --full       the same with statistics over many seeds, every walk through
                                        the page, and coverage: an hour or two
    python3 tasks.py test [ARGS]        pytest alone; the arguments go to pytest
    python3 tasks.py lint               ruff, mypy and import-linter alone
    python3 tasks.py docs [--check]     bring README and docs in step with the program
    python3 tasks.py bench [NAMES]      the benchmarks, or those named (such as beam_speed)
    python3 tasks.py lock [ARGS]        resolve the dependencies anew; --upgrade takes newer ones

Everything is installed into `.venv` in this folder, from the lock files in `requirements/`, and
only when a lock file or pyproject.toml has changed since the last time.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

OLDEST_PYTHON = (3, 11)
if sys.version_info < OLDEST_PYTHON:  # before anything that an older Python cannot read
    sys.exit(
        "Glowtrace needs Python %d.%d or newer; this is Python %d.%d (%s).\n"  # noqa: UP031
        "Install a newer Python and start it by name, for example: python3.12 tasks.py page"
        % (*OLDEST_PYTHON, *sys.version_info[:2], sys.executable)
    )

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
VENV_BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
VENV_PYTHON = VENV_BIN / ("python.exe" if os.name == "nt" else "python")
LOCKED_GROUPS = {
    # What each lock file holds; each holds everything of the one before.
    "run": ("build",),
    "dev": ("build", "dev"),
    "bench": ("build", "dev", "bench"),
}
EXTRAS = ("clips", "photographs")  # what the task file sets up lacks nothing
LINT_STEPS = {
    "ruff check": ("ruff", "check", "--no-cache", "."),  # import order depends on what is there
    "ruff format": ("ruff", "format", "--check", "."),
    "mypy": ("mypy",),
    "import layers": ("lint-imports", "--no-logo"),
}
# One process for each core, the first with the first half of the tests; one that has done its part
# takes over from the other's end, so that files stay whole but for one or two.
SPREAD = ("-n", "auto", "--dist", "worksteal", "-m")
# Browser tests one after another: a page and its browser keep two cores busy.
CHECKS: dict[str, dict[str, tuple[str, ...]]] = {
    # What pytest is given for each part of `check`, by the option that chooses the size.
    "--quick": {"tests": (*SPREAD, "not browser and not thorough and not slow", "tests/unit")},
    "": {
        "tests": (*SPREAD, "not browser and not thorough"),
        "browser tests": ("-m", "browser and not thorough"),
    },
    "--full": {
        "tests": (*SPREAD, "not browser", "--cov", "--cov-report="),
        "browser tests": (
            "-m",
            "browser",
            "--cov",
            "--cov-append",
            "--cov-report=term:skip-covered",
        ),
    },
}
NO_NETWORK = (
    "The packages could not be fetched. The first set-up needs a network connection, or a pip\n"
    "that is set up for a mirror within reach. Afterwards Glowtrace works without any network.\n"
    "Connect, then run the same command again."
)


class TaskError(Exception):
    """A step that cannot go on; the text says what to do."""


# ---------------------------------------------------------------- set-up


def lock_file(kind: str) -> Path:
    return ROOT / "requirements" / f"{kind}.txt"


def fingerprint(kind: str) -> str:
    """Hash of all that decides what is installed; the folder too, as the install points into it."""
    parts = [lock_file(kind).read_bytes(), (ROOT / "pyproject.toml").read_bytes(), bytes(ROOT)]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def stamp_file(kind: str) -> Path:
    return VENV / f"installed-{kind}"


def is_installed(kind: str) -> bool:
    """True when `kind`, or a larger set that includes it, is installed as locked today."""
    kinds = list(LOCKED_GROUPS)
    return VENV_PYTHON.exists() and any(
        stamp_file(larger).exists() and stamp_file(larger).read_text() == fingerprint(larger)
        for larger in kinds[kinds.index(kind) :]
    )


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


def make_venv() -> None:
    print("Making the virtual environment .venv ...", flush=True)
    made = quietly([sys.executable, "-m", "venv", "--clear", VENV])
    if made.returncode == 0:
        return
    shutil.rmtree(VENV, ignore_errors=True)
    if "ensurepip" in made.stdout:
        raise TaskError(
            f"{sys.executable} cannot make virtual environments: its venv package is missing.\n"
            "On Debian and Ubuntu: sudo apt install python3-venv. Then run the same command again."
        )
    raise TaskError(f"The virtual environment {VENV} could not be made:\n{made.stdout.strip()}")


def pip_install(*arguments: str | Path) -> None:
    # -qq: pip says only what stops it.
    pip = ("-m", "pip", "install", "-qq", "--disable-pip-version-check")
    installed = quietly([VENV_PYTHON, *pip, *arguments])
    if installed.returncode == 0:
        return
    said = installed.stdout.strip()
    if "from versions: none" in said or "connection broken" in said:
        raise TaskError(f"{said.splitlines()[-1]}\n\n{NO_NETWORK}")
    raise TaskError(f"{said}\n\nThe set-up stopped here; pip's words are above.")


def set_up(kind: str) -> None:
    """Install Glowtrace and the packages of a lock file into .venv, unless they are there."""
    if is_installed(kind):
        return
    if not (VENV_PYTHON.exists() and quietly([VENV_PYTHON, "-m", "pip", "-V"]).returncode == 0):
        make_venv()
    print(f"Installing from requirements/{kind}.txt (a minute or two, once) ...", flush=True)
    pip_install("--require-hashes", "-r", lock_file(kind))
    # The build back end is locked too, so the install of Glowtrace itself fetches nothing.
    pip_install("--no-deps", "--no-build-isolation", "--editable", ROOT)
    stamp_file(kind).write_text(fingerprint(kind))


def is_debian() -> bool:
    release = Path("/etc/os-release")
    return release.exists() and "ID=debian" in release.read_text().splitlines()


def set_up_debian() -> bool:
    """Install Debian's Chromium and PostgreSQL where they are missing and can be.

    Gives whether there is a browser; without PostgreSQL its tests skip by themselves.
    """
    missing = []
    if not shutil.which("chromium"):
        missing += ["chromium", "fonts-liberation"]
    if not Path("/usr/lib/postgresql").exists():
        missing.append("postgresql")
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    if missing and is_debian() and is_root:
        print(f"Installing for the tests, from Debian: {', '.join(missing)} ...", flush=True)
        for command in (
            ["apt-get", "update", "-qq"],
            ["apt-get", "install", "-qq", "-y", "--no-install-recommends", *missing],
        ):
            done = quietly(command)
            if done.returncode != 0:
                raise TaskError(f"{' '.join(command)} failed:\n{done.stdout.strip()}")
    if not shutil.which("chromium"):
        print("No Chromium found: the browser tests are left out. (Debian: apt install chromium)")
        return False
    return True


# ---------------------------------------------------------------- running


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


def lint_steps() -> bool:
    """Run the checks without the tests side by side, as each keeps one core busy at most."""
    with ThreadPoolExecutor() as pool:
        running = {
            name: pool.submit(quietly, in_venv(command)) for name, command in LINT_STEPS.items()
        }
        passed = [step(name, partial(passes, done.result)) for name, done in running.items()]
    return all(passed)


def passes(result: Callable[[], subprocess.CompletedProcess[str]]) -> bool:
    done = result()
    if done.returncode != 0:
        print(done.stdout.rstrip())
    return done.returncode == 0


# ---------------------------------------------------------------- tasks


def page(arguments: list[str]) -> int:
    set_up("run")
    command = in_venv(["glowtrace", "page", *arguments])
    # From the folder that the user is in, so that `--bench my-tube.toml` finds the file there.
    if os.name != "nt":
        os.execv(command[0], command)  # in our place, so that a signal reaches the page
    return subprocess.call(command)


def check(arguments: list[str]) -> int:
    size = " ".join(arguments)
    if size not in CHECKS:
        raise TaskError(f"check: {size} is not allowed; give --quick, --full, or neither.")
    set_up("dev")
    parts = dict(CHECKS[size])
    if "browser tests" in parts and not set_up_debian():
        del parts["browser tests"]
    passed = [lint_steps()]
    for name, options in parts.items():
        passed += [step(name, partial(succeeds, ["pytest", *options]))]
    return 0 if all(passed) else 1


def test(arguments: list[str]) -> int:
    set_up("dev")
    return run(["pytest", *arguments])


def lint(arguments: list[str]) -> int:
    set_up("dev")
    return 0 if lint_steps() else 1


def docs(arguments: list[str]) -> int:
    set_up("dev")
    return run(["python", "docs/generate.py", *arguments])


def bench(arguments: list[str]) -> int:
    programs = {path.stem: path for path in (ROOT / "benchmarks").glob("*.py") if is_program(path)}
    chosen = arguments or sorted(programs)
    if unknown := set(chosen) - set(programs):
        names = ", ".join(sorted(programs))
        raise TaskError(f"No benchmark {', '.join(sorted(unknown))}; there are: {names}.")
    set_up("bench")
    return max([run(["python", str(programs[name])]) for name in chosen], default=0)


def is_program(path: Path) -> bool:
    return "__main__" in path.read_text(encoding="utf-8")


def lock(arguments: list[str]) -> int:
    """Write the lock files: every platform, hashes, and no package index named."""
    set_up("dev")
    compile_lock = ["uv", "pip", "compile", "--quiet", "--universal", "--generate-hashes"]
    compile_lock += ["--python-version", "%d.%d" % OLDEST_PYTHON]  # noqa: UP031
    # Extras stay: pip with hashes takes `coverage[toml]` as pinned only where the pin names it so.
    compile_lock += ["--no-emit-index-url", "--no-emit-find-links", "--no-strip-extras"]
    compile_lock += ["--custom-compile-command", "python3 tasks.py lock", *arguments]
    compile_lock += [part for extra in EXTRAS for part in ("--extra", extra)]
    agree: list[str] = []  # a larger set takes the versions of the smaller one
    for kind, groups in LOCKED_GROUPS.items():
        chosen = [part for group in groups for part in ("--group", group)]
        target = f"requirements/{kind}.txt"
        if run([*compile_lock, *agree, "pyproject.toml", *chosen, "-o", target]) != 0:
            raise TaskError(f"uv could not resolve {target}; its words are above.")
        agree = ["--constraint", target]
        print(f"wrote {target}")
    set_up("dev")
    return 0


TASKS = {task.__name__: task for task in (page, check, test, lint, docs, bench, lock)}


def main(arguments: list[str]) -> int:
    name, rest = (arguments[0], arguments[1:]) if arguments else ("check", [])
    if name in ("-h", "--help", "help"):
        print(__doc__)
        return 0
    if name not in TASKS:
        print(f"There is no task {name!r}; the tasks are: {', '.join(TASKS)}.", file=sys.stderr)
        return 2
    try:
        return TASKS[name](rest)
    except TaskError as error:
        print(error, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
