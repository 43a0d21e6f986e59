"""How fast the beam is traced: ratios against general-purpose solvers, in one run.

All of them fly the same electrons through the outermost box of the field map of the ready-made
deflection tube to the plane x = 100 mm. Run with ``python benchmarks/beam_speed.py``.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from typing import Any

import numpy as np
from numba import njit
from rich.console import Console
from rich.table import Table
from scipy.integrate import solve_ivp

from general_solvers import jax_flight, numpy_flight, outermost
from glowtrace import PreparedBench, Settings, prepare, ready_made
from glowtrace.beam.bundle import fly_electrons
from glowtrace.beam.obstacles import Obstacles, Rectangle, obstacles
from glowtrace.beam.pusher import _acceleration
from glowtrace.beam.source import emit, sequence_shifts
from glowtrace.fields.interpolation import Field
from timing import seconds

SETTINGS = Settings(
    accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.2, coil_reversed=True
)
FACE = 0.1
"""x in m of the plane at which the traces end."""
MANY = 10_000
FLOPS_PER_STEP = 6 * (104 * 4 * 2 + 7 * 7 + 3 * 38 + 40) + 21 * 6 * 2 + 7 * 6 * 2
"""Floating-point operations of one step: six field values (104 four-lane fused multiply-adds, the
sums over lanes, three sets of weights, the force) and the sums of the Runge-Kutta tableau."""


def main() -> None:
    """Measure everything and print it."""
    console = Console(width=100)
    tube = prepare(ready_made("deflection tube"))
    field, walls, states = bundle(tube, MANY)
    fly_electrons(field, walls, states[:2])
    console.print(picture_table(tube))
    console.print(solver_table(field, walls, states))
    console.print(floor_table(field, walls, states))
    console.print(growth_table())


def bundle(tube: PreparedBench, count: int) -> tuple[Field, Obstacles, np.ndarray[Any, Any]]:
    """Give the field, the plane that ends the traces, and the starts of some electrons."""
    field, source = outermost(tube.field(SETTINGS)), tube.source(SETTINGS)
    states = np.zeros((count, 6))
    for n in range(count):
        emit(source, sequence_shifts(0), n, field, False, states[n])
    walls, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.2, 0), (0, 0, 0.2)), None)
    return field, walls, states


def picture_table(tube: PreparedBench) -> Table:
    """Time one step of a knob: 200 electrons to a new picture, a new field each time."""
    table = Table(title="200 electrons, real fields, to a picture", title_justify="left")
    table.add_column("bench")
    table.add_column("median / ms", justify="right")
    table.add_column("worst of 200 / ms", justify="right")
    knobs = {
        "deflection tube": (tube, 3000.0, 0.14),
        "fine-beam bulb": (prepare(ready_made("fine-beam bulb")), 200.0, 1.5),
        "axial coil tube": (prepare(ready_made("axial coil tube")), 500.0, 0.3),
    }
    for name, (prepared, voltage, current) in knobs.items():
        times = []
        for n in range(203):
            settings = Settings(
                accelerating_voltage=voltage,
                plate_voltage=5.0 * n if prepared.bench.plates else 0.0,
                coil_current=current,
            )
            begin = time.perf_counter()
            prepared.picture(settings, electrons=200)
            times.append(time.perf_counter() - begin)
        times = times[3:]
        table.add_row(name, f"{1e3 * statistics.median(times):.2f}", f"{1e3 * max(times):.2f}")
    return table


def solver_table(field: Field, walls: Obstacles, states: np.ndarray[Any, Any]) -> Table:
    """Time the same flights with general-purpose solvers, at equal accuracy."""
    exact = np.array([dop853(field, state, 1e-12) for state in states[:20]])

    def error(ends: np.ndarray[Any, Any]) -> float:
        return float(np.abs(ends[:20, :3] - exact[:, :3]).max())

    ours = fly_electrons(field, walls, states)
    own_time = seconds(lambda: fly_electrons(field, walls, states), 5) / MANY
    rows = [("this tracer", own_time, error(ours.states), f"{ours.steps.mean():.0f} steps")]

    begin = time.perf_counter()
    loose = np.array([dop853(field, state, 1e-8) for state in states[:20]])
    each = (time.perf_counter() - begin) / 20
    rows.append(("scipy solve_ivp, DOP853, compiled right-hand side", each, error(loose), ""))

    for name, flight in (("NumPy, all electrons at once", numpy_flight), ("JAX, jit", jax_flight)):
        run, steps = flight(field, FACE, states[:20], error)
        ends = run(states)
        each = seconds(lambda run=run: run(states), 3) / MANY
        rows.append((name, each, error(ends), f"RK4, {steps} steps"))

    table = Table(title=f"{MANY:,} electrons to x = 100 mm, 2 cores", title_justify="left")
    for heading in ("solver", "us an electron", "ratio", "error / um", "method"):
        table.add_column(heading, justify="left" if heading in ("solver", "method") else "right")
    for name, each, wrong, method in rows:
        table.add_row(
            name, f"{1e6 * each:.2f}", f"{each / own_time:.0f}", f"{1e6 * wrong:.3f}", method
        )
    return table


@njit
def _slope(field: Field, state: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    slope = np.empty(6)
    slope[:3] = state[3:]
    slope[3], slope[4], slope[5], _ = _acceleration(
        field, False, state[0], state[1], state[2], state[3], state[4], state[5]
    )
    return slope


def dop853(field: Field, state: np.ndarray[Any, Any], rtol: float) -> np.ndarray[Any, Any]:
    """Fly one electron with scipy to the plane."""

    def at_face(_: float, state: np.ndarray[Any, Any]) -> float:
        return float(state[0] - FACE)

    at_face.terminal = True  # type: ignore[attr-defined]
    span = 2.0 * FACE / state[3]
    atol = rtol * np.array([FACE] * 3 + [state[3]] * 3)
    flown = solve_ivp(
        lambda _, y: _slope(field, y), (0.0, span), state,
        method="DOP853", rtol=rtol, atol=atol, events=at_face,
    )  # fmt: skip
    return np.asarray(flown.y_events[0][0])


def floor_table(field: Field, walls: Obstacles, states: np.ndarray[Any, Any]) -> Table:
    """Compare a step of one electron with the fewest nanoseconds its arithmetic can take.

    The floor is what the step's operations take at the rate at which this machine multiplies large
    matrices, which is as near to its peak as real programs come.
    """
    size = 1500
    matrix = np.random.default_rng(0).random((size, size))
    peak = 2.0 * size**3 / seconds(lambda: matrix @ matrix, 5)
    steps = int(fly_electrons(field, walls, states).steps.sum())
    each = seconds(lambda: fly_electrons(field, walls, states), 5) / steps
    floor = FLOPS_PER_STEP / peak
    table = Table(title="One step of one electron, 2 cores", title_justify="left")
    for heading in ("ns a step", "floor / ns", "ratio", "matrix product / GFlop/s"):
        table.add_column(heading, justify="right")
    table.add_row(
        f"{1e9 * each:.0f}", f"{1e9 * floor:.0f}", f"{each / floor:.1f}", f"{peak / 1e9:.0f}"
    )
    return table


def growth_table() -> Table:
    """Time and memory of pictures of more and more electrons, each in a process of its own."""
    table = Table(title="A picture of many electrons, 2 cores", title_justify="left")
    for heading in ("electrons", "s", "us an electron", "memory beyond 10,000 / MiB"):
        table.add_column(heading, justify="right")
    base = None
    for count in (10_000, 100_000, 1_000_000):
        output = subprocess.run(
            [sys.executable, __file__, str(count)], capture_output=True, text=True, check=True
        ).stdout.split()
        took, peak = float(output[0]), int(output[1])
        base = peak if base is None else base
        table.add_row(
            f"{count:,}", f"{took:.2f}", f"{1e6 * took / count:.2f}", f"{(peak - base) / 1024:.0f}"
        )
    return table


def one_picture(count: int) -> None:
    """Print the time of one picture in s and the peak memory of this process in KiB."""
    tube = prepare(ready_made("deflection tube"))
    tube.picture(SETTINGS, electrons=200)
    begin = time.perf_counter()
    tube.picture(SETTINGS, electrons=count)
    took = time.perf_counter() - begin
    print(took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        one_picture(int(sys.argv[1]))
    else:
        main()
