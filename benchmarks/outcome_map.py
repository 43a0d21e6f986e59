"""A full outcome map, against one central ray a point and against the kernel's arithmetic.

Run: ``python benchmarks/outcome_map.py [columns rows]``; 200 x 200 points when left out.
"""

import os
import sys
import time

import numpy as np

from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import suitable_goals
from glowtrace.plan import outcome_map, plan_goal

ELECTRONS = 32
SAMPLE = 200
"""Points at which single rays are timed."""


def seconds(task, repeats=1):
    task()
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        best = min(best, time.perf_counter() - start)
    return best


def main(columns=200, rows=200):
    tube = prepare(ready_made("deflection tube"))
    settings = Settings(accelerating_voltage=1600.0, coil_reversed=True)
    knobs = ("plate_voltage", "coil_current")
    asked = {"y_range": (0.0, 1.0), "electrons": ELECTRONS}
    outcome_map(tube, settings, *knobs, size=(2, 2), **asked)  # compile

    start, busy = time.perf_counter(), time.process_time()
    found = outcome_map(tube, settings, *knobs, size=(columns, rows), **asked)
    whole, work = time.perf_counter() - start, time.process_time() - busy
    points = columns * rows
    print(f"{columns} x {rows} points of {ELECTRONS} electrons: {whole:.2f} s on "
          f"{os.cpu_count()} cores, {work:.2f} s of arithmetic")  # fmt: skip
    print(f"  {1e6 * work / (points * ELECTRONS):.2f} us of one core an electron")

    rng = np.random.default_rng(0)
    sample = [
        settings.model_copy(update={"plate_voltage": x, "coil_current": y})
        for x, y in zip(rng.uniform(0, 5000, SAMPLE), rng.uniform(0, 1, SAMPLE), strict=True)
    ]
    ray = seconds(lambda: [tube.central_ray(each) for each in sample]) / SAMPLE
    picture = seconds(lambda: [tube.picture(each, electrons=ELECTRONS) for each in sample]) / SAMPLE
    print(f"  one central ray a point would take {points * ray:.1f} s: "
          f"{points * ray / whole:.1f} times as long")  # fmt: skip
    print(f"  one picture of {ELECTRONS} electrons a point would take {points * picture:.1f} s: "
          f"{points * picture / whole:.1f} times as long")  # fmt: skip
    for label, share in found.shares.items():
        print(f"  {100 * share:5.1f} % {label}")

    for name in ("deflection tube", "fine-beam bulb", "axial coil tube"):
        bench = prepare(ready_made(name))
        for goal in suitable_goals(bench.bench):
            taken = seconds(lambda goal=goal, bench=bench: plan_goal(bench, goal))
            print(f"plan: {name}, {goal.name}: {taken:.2f} s")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
