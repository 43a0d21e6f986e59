"""Sweeps and studies: how quickly, on how many cores, and the same rows wherever they run.

Run with ``python benchmarks/studies.py [PART ...]``; the parts are settings, geometries, cores,
clusters, memory. Everything runs on 127.0.0.1 and stops what it began.
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pyarrow
import pyarrow.parquet
from rich.console import Console
from rich.table import Table

from glowtrace import Settings, prepare, ready_made, sweep
from glowtrace.bench.checking import change
from glowtrace.bench.series import BenchSeries
from glowtrace.studies import Around, Between, Measurement, Study, run_study
from glowtrace.studies.kept import KeptRows
from timing import seconds

SETTINGS = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
BULB = Settings(accelerating_voltage=200.0)
CORES = os.cpu_count() or 1
AT = 0.06
ROWS = 100_000
"""Of the study that is killed."""
FEW, MANY = 40, 1000
"""Geometries that are prepared one after the other, and in a study."""


def bench():  # type: ignore[no-untyped-def]
    return ready_made("deflection tube")


def geometries(rows: int) -> Study:
    plates = {
        "plates.gap": Around(0.049, 1e-3),
        "plates.length": Around(0.076, 1e-3),
        "plates.tilt_upper": Around(0.0, 0.008),
        "plates.start": Around(0.009, 5e-4),
    }
    return Study(bench=bench(), settings=SETTINGS, vary=plates, rows=rows, at=AT)


def knobs(rows: int, electrons: int = 200) -> Study:
    turned = {"plate_voltage": Between(0.0, 1500.0), "coil_current": Between(0.0, 0.05)}
    return Study(
        bench=bench(), settings=SETTINGS, vary=turned, rows=rows, electrons=electrons, at=AT,
    )  # fmt: skip


def hidden_truth(rows: int) -> Study:
    own = ready_made("fine-beam bulb")
    vary = {"coils.mean_radius": Around(own.coils.mean_radius, 1e-3)}
    return Study(
        bench=own, settings=BULB, plan="hidden truth", vary=vary, rows=rows,
        measurement=Measurement("circle"),
    )  # fmt: skip


def timed(study: Study, folder: Path, **where: object) -> tuple[float, KeptRows]:
    """Give the time of a study without the start of its workers: from file to file."""
    kept = run_study(study, folder, **where)  # type: ignore[arg-type]
    written = sorted(path.stat().st_mtime for path in kept.rows_folder.iterdir())
    begun = min(CORES, len(written) - 1)  # by then each has done one
    return (written[-1] - written[begun - 1]) * len(written) / (len(written) - begun), kept


def settings_part(console: Console, folder: Path) -> None:
    """1,000 settings of one bench by a sweep, 200 electrons each."""
    tube = prepare(bench())
    volts = np.linspace(0.0, 1500.0, 1000)
    sweep(tube, SETTINGS, plate_voltage=volts[:20])
    table = _table("1,000 settings, 200 electrons each", "threads", "s", "times one")
    one = 0.0
    for workers in _doubling(CORES):
        taken = seconds(lambda w=workers: sweep(tube, SETTINGS, plate_voltage=volts, workers=w), 3)
        one = one or taken
        table.add_row(f"{workers}", f"{taken:.2f}", f"{one / taken:.2f}")
    console.print(table)


def geometries_part(console: Console, folder: Path) -> None:
    """1,000 different plate geometries, against ``prepare`` one after the other."""
    study = geometries(MANY)
    tube = prepare(bench())
    some = [_bench_of(study, row) for row in range(FEW)]
    settings = SETTINGS
    with tempfile.TemporaryDirectory() as cache:
        begun = time.perf_counter()
        alone = [prepare(each, cache_dir=Path(cache)) for each in some]
        pictures = [each.picture(settings) for each in alone]
        each_alone = (time.perf_counter() - begun) / FEW
    taken, kept = timed(study, folder / "geometries")
    heights = kept.read(("height_m",))["height_m"][:FEW]
    true = np.array([each.line_height(settings, AT) for each in alone])
    stated = max(each.fields.accuracy.electric_typical for each in alone)
    series = BenchSeries(tube)
    widths = [
        float(
            np.nanmedian(
                series.prepare(b).picture(settings).mean_trace.width_v / p.mean_trace.width_v
            )
        )
        for b, p in zip(some[:5], pictures, strict=False)
    ]
    table = _table(f"{MANY:,} plate geometries to a picture", "way", "s each", "times")
    table.add_row("prepare, one after the other", f"{each_alone:.3f}", "1")
    table.add_row(f"study, {CORES} processes", f"{taken / MANY:.3f}",
                  f"{each_alone * MANY / taken:.1f}")  # fmt: skip
    console.print(table)
    off = np.abs(heights / true - 1.0)
    console.print(f"heights differ by {np.nanmax(off):.1e} of themselves at most, median "
                  f"{np.nanmedian(off):.1e}; stated error of E {stated:.1e}; widths by "
                  f"{max(abs(w - 1) for w in widths):.0e}")  # fmt: skip


def cores_part(console: Console, folder: Path) -> None:
    """The curve over cores, what limits it, and what that would mean for more of them."""
    study = knobs(6000)
    table = _table("6,000 settings as a study", "processes", "s", "times one")
    times = {}
    for workers in _doubling(CORES):
        times[workers], _ = timed(study, folder / f"cores-{workers}", workers=workers)
        table.add_row(f"{workers}", f"{times[workers]:.2f}", f"{times[1] / times[workers]:.2f}")
    console.print(table)
    chunk_s = times[1] / (6000 / 333)
    kept = KeptRows(folder / "cores-1", 6000, 333)
    columns = pyarrow.parquet.read_table(next(kept.rows_folder.glob("*.parquet")))
    arrays = {name: columns[name].to_numpy() for name in columns.column_names}
    write_s = seconds(lambda: kept.write(999, arrays), 9)
    console.print(f"a stretch of 333 rows: computed in {chunk_s:.2f} s, {columns.nbytes / 1e3:.0f} "
                  f"kB, written in {1e3 * write_s:.1f} ms by the one that asks")  # fmt: skip
    worked_out(console, chunk_s, {"processes": write_s})


def clusters_part(console: Console, folder: Path) -> None:
    """The same rows by processes, a local cluster, and a scheduler with workers of their own."""
    from distributed import Client, LocalCluster

    rows = 330 * CORES * 8
    study = knobs(rows)
    others = {"geometries": geometries(24), "hidden truth": hidden_truth(24)}
    found: dict[str, tuple[float, KeptRows]] = {}
    also: dict[str, list[KeptRows]] = {}

    def measure(name: str, **where: object) -> None:
        found[name] = timed(study, folder / name, **where)
        also[name] = [
            run_study(each, folder / f"{name}, {kind}", **where)  # type: ignore[arg-type]
            for kind, each in others.items()
        ]

    measure("processes")
    with LocalCluster(
        n_workers=CORES, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    ) as cluster, Client(cluster) as client:  # fmt: skip
        measure("local cluster", cluster=client)
        small = seconds(lambda: client.submit(int, pure=False).result(), 50)
    with scheduler_and_workers(CORES, folder) as address:
        measure("scheduler and workers", cluster=address)
    title = f"{rows:,} settings, stretches of about a second"
    table = _table(title, "where", "s", "over", "rows", *others)
    first_s, first = found["processes"]
    for name, (taken, kept) in found.items():
        pairs = zip((kept, *also[name]), (first, *also["processes"]), strict=True)
        same = ("identical" if _same(a, b) else "DIFFERENT" for a, b in pairs)
        table.add_row(name, f"{taken:.2f}", f"{100 * (taken / first_s - 1):+.0f} %", *same)
    console.print(table)
    console.print(f"a task that does nothing, there and back: {1e3 * small:.1f} ms")
    worked_out(console, first_s * CORES / len(first.there()), {"a Dask task there and back": small})


def memory_part(console: Console, folder: Path) -> None:
    """100,000 settings, killed and resumed five times; the memory of the program that asks."""
    rows = ROWS
    code = "\n".join((
        "import sys; sys.path.insert(0, sys.argv[1])",
        "from pathlib import Path",
        "from studies import knobs",
        "from glowtrace.studies import run_study",
        f"if __name__ == '__main__': run_study(knobs({rows}, 20), Path(sys.argv[2]))",
    ))  # fmt: skip
    program = folder / "program.py"
    program.write_text(code)
    command = [sys.executable, str(program), str(Path(__file__).parent), str(folder / "rows")]
    peaks, kills = [], 0
    begun = time.perf_counter()
    while True:
        process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        there, until = _count(folder), time.perf_counter() + 600.0
        goal = (kills + 1) * rows // 6 if kills < 5 else 2 * rows
        while process.poll() is None and time.perf_counter() < until:
            time.sleep(0.1)
            if (peak := _resident_mb(process.pid)) is not None:
                peaks.append((_count(folder), peak))
            if _count(folder) >= goal:
                process.send_signal(signal.SIGKILL)
        process.wait()
        if process.returncode == 0:
            break
        kills += 1
        if _count(folder) <= there:
            raise SystemExit("it does not get on")
    table = pyarrow.parquet.read_table(folder / "rows" / "rows", columns=["row"])
    numbers = np.sort(table["row"].to_numpy())
    right = "each once" if (numbers == np.arange(rows)).all() else "WRONG"
    tenth = [mb for count, mb in peaks if 0 < count <= rows // 10]
    last = [mb for count, mb in peaks if count > 9 * rows // 10]
    console.print(
        f"{rows:,} settings (20 electrons), killed {kills} times: rows {right}, "
        f"{time.perf_counter() - begun:.0f} s; memory of the one that asks {max(tenth):.0f} MB at "
        f"the first tenth, {max(last):.0f} MB at the last; largest process "
        f"{resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3:.0f} MB"
    )


def worked_out(console: Console, chunk_s: float, one_at_a_time: dict[str, float]) -> None:
    """Tell what the measured times would mean for more workers; nothing of it is measured."""
    table = _table("worked out from these times, NOT measured", "workers", "limit", "times one")
    for workers in (16, 64, 256):
        for name, each_s in one_at_a_time.items():
            most = min(workers, chunk_s / each_s)
            table.add_row(f"{workers}", name if most < workers else "the workers", f"{most:.0f}")
    console.print(table)


@contextmanager
def scheduler_and_workers(count: int, folder: Path) -> Iterator[str]:
    """Start a scheduler and workers as the documents say, and stop these processes."""
    programs = Path(sys.executable).parent
    told = folder / "scheduler.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "start_new_session": True}
    scheduler = subprocess.Popen(
        [programs / "dask", "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
         "--scheduler-file", told], **quiet,
    )  # fmt: skip
    worker = subprocess.Popen(
        [programs / "dask", "worker", "--scheduler-file", told, "--nworkers", f"{count}",
         "--nthreads", "1", "--no-dashboard", "--local-directory", folder], **quiet,
    )  # fmt: skip
    try:
        from distributed import Client

        with Client(scheduler_file=str(told), timeout=60) as client:
            client.wait_for_workers(count, timeout=60)
            address = client.scheduler.address
        yield address
    finally:
        for process in (worker, scheduler):
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGTERM)
            process.wait()


def _bench_of(study: Study, row: int):  # type: ignore[no-untyped-def]
    values = study.values(range(row, row + 1))[0].tolist()
    return change(study.bench, dict(zip(study.names, values, strict=True)))


def _same(first: KeptRows, second: KeptRows) -> bool:
    one, other = (pyarrow.parquet.read_table(kept.rows_folder) for kept in (first, second))
    return one.schema == other.schema and all(
        np.array_equal(a.to_numpy(), b.to_numpy(), equal_nan=a.type == pyarrow.float64())
        for a, b in zip(one.columns, other.columns, strict=True)
    )


def _count(folder: Path) -> int:
    return 333 * len(list(folder.glob("rows/rows/*.parquet")))


def _resident_mb(pid: int) -> float | None:
    with suppress(OSError, StopIteration, IndexError):
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
        return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1e3
    return None


def _doubling(most: int) -> list[int]:
    return sorted({2**n for n in range(most.bit_length()) if 2**n < most} | {most})


def _table(title: str, *heads: str) -> Table:
    table = Table(title=title, title_justify="left", min_width=len(title) + 2)
    for head in heads:
        table.add_column(head, justify="left" if head in ("way", "where", "limit") else "right")
    return table


PARTS: dict[str, Callable[[Console, Path], None]] = {
    "settings": settings_part,
    "geometries": geometries_part,
    "cores": cores_part,
    "clusters": clusters_part,
    "memory": memory_part,
}


def main(chosen: list[str]) -> None:
    """Measure the parts that are named, or all of them, and print each."""
    console = Console(width=100)
    for name in chosen or PARTS:
        with tempfile.TemporaryDirectory() as folder:
            PARTS[name](console, Path(folder))


if __name__ == "__main__":
    main(sys.argv[1:])
