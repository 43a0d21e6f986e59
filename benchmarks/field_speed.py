"""How long fields and starts take: cold, cached, and in a fresh process.

Run with ``python benchmarks/field_speed.py``. Cold builds are made in an empty folder, with the
kernels compiled beforehand; ratios compare with the cached start of the same bench.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from rich.console import Console
from rich.table import Table

from glowtrace import prepare, ready_made, ready_made_names
from timing import seconds

FIRST_PICTURE = """
import time
begin = time.perf_counter()
from glowtrace import Settings, prepare, ready_made
tube = prepare(ready_made("deflection tube"))
tube.picture(Settings(accelerating_voltage=3000.0))
print(time.perf_counter() - begin)
"""


def main() -> None:
    """Measure everything and print it."""
    console = Console(width=100)
    console.print(field_table())
    console.print(start_table())


def field_table() -> Table:
    """Time the field maps of the ready-made benches."""
    table = Table(title="Fields of a bench", title_justify="left")
    for heading in (
        "bench",
        "cells",
        "cold / s",
        "cached / s",
        "ratio",
        "error of E",
        "error of B",
    ):
        table.add_column(heading, justify="left" if heading == "bench" else "right")
    for name in ready_made_names():
        bench = ready_made(name)
        tube = prepare(bench)

        def cold(bench=bench) -> None:
            with tempfile.TemporaryDirectory() as folder:
                prepare(bench, cache_dir=Path(folder))

        build, load = seconds(cold), seconds(lambda bench=bench: prepare(bench))
        cells = sum(math.prod(grid.cells) for grid in tube.fields.grids)
        table.add_row(
            name, f"{cells:,}", f"{build:.2f}", f"{load:.3f}", f"{build / load:.0f}",
            f"{tube.fields.accuracy.electric_typical:.1e}",
            f"{tube.fields.accuracy.flux_typical:.1e}",
        )  # fmt: skip
    return table


def start_table() -> Table:
    """Time starts of whole processes."""
    table = Table(title="Starts, each a process of its own", title_justify="left")
    table.add_column("what")
    table.add_column("s", justify="right")
    program = Path(sys.executable).parent / "glowtrace"
    help_time = seconds(lambda: subprocess.run([program, "--help"], capture_output=True), 5)
    table.add_row("glowtrace --help", f"{help_time:.2f}")
    table.add_row("library to first picture, all cached", f"{first_picture(os.environ):.2f}")
    with tempfile.TemporaryDirectory() as empty:
        fresh = os.environ | {"XDG_CACHE_HOME": empty}
        table.add_row("the same, first time ever (compiles)", f"{first_picture(fresh):.2f}")
        table.add_row("the same, second time", f"{first_picture(fresh):.2f}")
    return table


def first_picture(environment: dict[str, str] | os._Environ[str]) -> float:
    """Give the seconds from importing the library to the first picture in a fresh process."""
    output = subprocess.run(
        [sys.executable, "-c", FIRST_PICTURE],
        env=environment, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    return float(output)


if __name__ == "__main__":
    main()
