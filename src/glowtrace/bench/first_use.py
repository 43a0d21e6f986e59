"""What the first start would wait for, done beforehand: `python -m glowtrace.bench.first_use`.

The kernels are compiled once for a computer (some twenty seconds) and the fields of the ready-made
benches are computed; both are kept in the user's cache folder.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import monotonic
from typing import Literal

from glowtrace.compiled import kernel_cache_dir

FIRST_START = "First start on this computer: Glowtrace compiles itself, about half a minute ..."


def is_compiled() -> bool:
    """Tell whether the kernels of this version are in the cache folder."""
    return any(kernel_cache_dir().rglob("*.nbc"))


def what_takes_long() -> str:
    """Say why the start that follows takes longer than a few seconds; empty where it does not."""
    if is_compiled():
        return ""
    folder = kernel_cache_dir()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        return (
            "Glowtrace compiles itself, about half a minute at each start, as nothing can be kept "
            f"in {folder} ({error.strerror}). Make that folder writable."
        )
    return FIRST_START


def get_ready(tell: Callable[[str], None]) -> None:
    """Compile what pictures need, and compute the fields of the ready-made benches."""
    from glowtrace.bench.prepared import prepare
    from glowtrace.bench.ready_made import ready_made, ready_made_names
    from glowtrace.bench.settings import Settings

    names = ready_made_names()
    for number, name in enumerate(names):
        tell(f"Getting ready, {number} of {len(names)}: {name} ...")
        tube = prepare(ready_made(name))
        settings = Settings(accelerating_voltage=1000.0, coil_current=0.1)
        models: tuple[Literal["bench", "ideal"], ...] = ("bench", "ideal")
        for model in models:
            tube.picture(settings, model=model, paths=8)
        tube.central_ray(settings)


def main() -> int:
    """Get ready with a line of progress; a computer that keeps nothing is told and no failure."""
    start = monotonic()
    is_terminal = sys.stdout.isatty()

    def tell(line: str) -> None:
        print(f"\r\x1b[K{line}" if is_terminal else line, end="" if is_terminal else "\n")
        sys.stdout.flush()

    try:
        get_ready(tell)
    except (OSError, RuntimeError) as error:
        tell(f"Nothing could be kept for later starts ({error}); each start will take longer.\n")
        return 0
    tell(f"Ready after {monotonic() - start:.0f} s.\n" if is_terminal else "Ready.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
