"""The tasks of the task file, one function each."""

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from tooling import system_packages
from tooling.running import ROOT, TaskError, in_venv, run, side_by_side, step, succeeds
from tooling.set_up import LOCKED_GROUPS, get_ready, install, set_up

EXTRAS = ("clips", "photographs")  # what the task file sets up lacks nothing
LINT_STEPS = {
    "ruff check": ("ruff", "check", "--no-cache", "."),  # import order depends on what is there
    "ruff format": ("ruff", "format", "--check", "."),
    "mypy": ("mypy",),
    "import layers": ("lint-imports", "--no-logo"),
    "site": ("python", "docs/site/build.py"),
}
# One process for each core, the first with the first half of the tests; one that has done its part
# takes over from the other's end, so that files stay whole but for one or two.
SPREAD = ("-n", "auto", "--dist", "worksteal", "-m")
WITH_COVERAGE = ("--cov", "--cov-append", "--cov-report=term:skip-covered")
TESTS, BROWSER_TESTS, WHEEL = "tests", "browser tests", "wheel"
# Browser tests one after another: a page and its browser keep two cores busy.
CHECKS: dict[str, dict[str, tuple[str, ...]]] = {
    # What is run for each part of `check`, by the option that chooses the size.
    "--quick": {
        TESTS: ("pytest", *SPREAD, "not browser and not thorough and not slow", "tests/unit")
    },
    "": {
        TESTS: ("pytest", *SPREAD, "not browser and not thorough"),
        BROWSER_TESTS: ("pytest", "-m", "browser and not thorough", "tests/web"),
    },
    "--full": {
        TESTS: ("pytest", *SPREAD, "not browser", "--cov", "--cov-report="),
        BROWSER_TESTS: ("pytest", "-m", "browser", *WITH_COVERAGE, "tests/web"),
        WHEEL: ("python", "tooling/wheel_trial.py"),
    },
}


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
    parts = dict(CHECKS[size])
    wanted = (system_packages.BROWSER, system_packages.POSTGRES) if BROWSER_TESTS in parts else ()
    notes: list[str] = []

    def fetch_system_packages() -> None:
        notes.append(system_packages.install(system_packages.missing(wanted)))

    is_new = install("dev", wanted, beside=fetch_system_packages)
    lacking = system_packages.missing(wanted)
    notes += [system_packages.told(lacking)] if lacking else []
    for note in filter(None, notes):
        print(note, flush=True)
    if any(each.needed_by == system_packages.BROWSER for each in lacking):
        del parts[BROWSER_TESTS]
    with ThreadPoolExecutor() as pool:
        ready = pool.submit(get_ready if is_new else lambda: None)
        passed = [side_by_side(LINT_STEPS)]
        ready.result()
    passed += [step(name, partial(succeeds, command)) for name, command in parts.items()]
    for part in sorted({each.needed_by for each in lacking}):
        print(f"Left out: {part}. {system_packages.told(lacking)}")
    return 0 if all(passed) else 1


def test(arguments: list[str]) -> int:
    set_up("dev")
    return run(["pytest", *arguments])


def lint(arguments: list[str]) -> int:
    set_up("dev")
    return 0 if side_by_side(LINT_STEPS) else 1


def docs(arguments: list[str]) -> int:
    set_up("dev")
    return run(["python", "docs/generate.py", *arguments])


def pictures(arguments: list[str]) -> int:
    set_up("dev")
    return run(["python", "docs/pictures/take_pictures.py", *arguments])


def site(arguments: list[str]) -> int:
    set_up("dev")
    return run(["python", "docs/site/build.py", *arguments])


def bench(arguments: list[str]) -> int:
    programs = {path.stem: path for path in (ROOT / "benchmarks").glob("*.py") if _runs(path)}
    chosen = arguments or sorted(programs)
    if unknown := set(chosen) - set(programs):
        names = ", ".join(sorted(programs))
        raise TaskError(f"No benchmark {', '.join(sorted(unknown))}; there are: {names}.")
    set_up("bench")
    return max([run(["python", str(programs[name])]) for name in chosen], default=0)


def _runs(path: Path) -> bool:
    return "__main__" in path.read_text(encoding="utf-8")


def lock(arguments: list[str]) -> int:
    """Write the lock files: every platform, hashes, and no package index named."""
    set_up("dev")
    compile_lock = ["uv", "pip", "compile", "--quiet", "--universal", "--generate-hashes"]
    compile_lock += ["--python-version", "3.11"]
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


TASKS = {
    task.__name__: task for task in (page, check, test, lint, docs, site, pictures, bench, lock)
}


def main(arguments: list[str], told: str | None) -> int:
    """Do the task that the first argument names; `told` is what --help prints."""
    name, rest = (arguments[0], arguments[1:]) if arguments else ("check", [])
    if name in ("-h", "--help", "help"):
        print(told)
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
