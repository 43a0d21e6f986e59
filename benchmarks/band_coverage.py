"""The band of where the line may lie, against whole benches whose fields are solved anew.

Each drawn bench has all its uncertain numbers moved, its own panels, charges, coils and field map,
and one electron flown through it: nothing of the sensitivities that the band is made of.

    python benchmarks/band_coverage.py [BENCHES] [SEED]
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import replace

import numpy as np

from glowtrace.bench.checking import change
from glowtrace.bench.electron import Launch, fly_paths, launched
from glowtrace.bench.knowledge import knowledge_of, moved
from glowtrace.bench.layout import bench_obstacles, electrode_voltages, field_problem
from glowtrace.bench.learning import prior
from glowtrace.bench.line_response import distances, line_response, shifted_path
from glowtrace.bench.prediction import FACTOR, predict
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.fields.interpolation import Grid
from glowtrace.fields.maps import build_field_map

CHANGES = {
    "plates.gap": "49(1) mm",
    "plates.length": "76(1) mm",
    "plates.start": "9(1) mm",
    "plates.height_offset": "0 mm ± 0.5 mm",
    "plates.tilt_upper": "0 deg ± 0.5 deg",
    "plates.tilt_lower": "0 deg ± 0.5 deg",
    "coils.mean_radius": "73(1) mm",
    "coils.spacing": "73(2) mm",
    "coils.centre": ["49 mm ± 1 mm", "0 mm ± 1 mm", "0 mm"],
}
KNOBS = {
    "plates": (3000.0, 1000.0, 0.0),
    "coils": (3000.0, 0.0, -0.14),
    "null": (3000.0, 1000.0, -0.107),
    "crossed": (2500.0, 1200.0, -0.25),
    "turn-back": (700.0, 0.0, -2.0),
    "loops": (500.0, 2500.0, -1.5),
}
REACH = (math.inf, 0.036, 0.007)
"""How far in m from the axis these lines go."""
PLACES = (0.4, 0.6, 0.8, 0.95)
"""Parts of the path at which the lines are compared."""


def settings_of(voltage: float, plates: float, current: float) -> Settings:
    return Settings(
        accelerating_voltage=voltage,
        plate_voltage=abs(plates),
        plate_reversed=plates < 0,
        coil_current=abs(current),
        coil_reversed=current < 0,
    )


def known_bench():  # type: ignore[no-untyped-def]
    return change(ready_made("deflection tube"), CHANGES)


def whole_bench(bench, names, numbers):  # type: ignore[no-untyped-def]
    """Solve the fields of a bench anew with its numbers moved; what is no field stays aside."""
    off = dict(zip(names, numbers.tolist(), strict=True))
    for name, by in off.items():
        if not name.startswith("slack."):
            bench = moved(bench, name, by)
    stray = np.array([off.get(f"slack.stray_field[{axis}]", 0.0) for axis in range(3)])
    problem = field_problem(bench)
    problem = replace(problem, grids=tuple(_trimmed(grid) for grid in problem.grids))
    return PreparedBench(bench, build_field_map(problem), stray), off


def _trimmed(grid: Grid) -> Grid:
    """Give the part of a grid where these lines fly, with the same nodes."""
    reach, spacing = np.array(REACH), grid.spacing
    low, high = np.array(grid.lowest), np.array(grid.highest)
    cut = np.floor(np.maximum(np.minimum(-reach - low, high - reach), 0.0) / spacing)
    cut[0] = 0.0
    cells = np.array(grid.cells) - 2 * cut.astype(int)
    low, high = low + cut * spacing, high - cut * spacing
    return Grid(tuple(low.tolist()), tuple(high.tolist()), tuple(cells.tolist()))


def flown(tube, off, settings):  # type: ignore[no-untyped-def]
    """Fly its central electron as the meters and the gun of this bench have it."""
    plates, coils = 1.0 + off["slack.plate_meter"], 1.0 + off["slack.coil_meter"]
    voltages = [plates * each for each in electrode_voltages(settings)]
    current = coils * settings.signed_coil_current
    field = tube.fields.field(voltages, current, tube.earth)
    launch = Launch(
        off["slack.beam_height"], off["slack.beam_aside"],
        off["slack.beam_rise"], off["slack.beam_turn"],
    )  # fmt: skip
    voltage = settings.accelerating_voltage * (1.0 + off["slack.accelerating_meter"])
    walls, names = bench_obstacles(tube.bench, has_screen=False)
    states = launched(field, voltage, [launch])
    return fly_paths(field, walls, names, states, longest=0.5, spacing=1e-3)[0]


def main(count: int, seed: int) -> None:
    bench = known_bench()
    tube = prepare(bench)
    known = knowledge_of(bench)
    begun = time.perf_counter()
    size = tube.effects.fields.size / 1e6
    print(f"tables: {size:.1f} MB, {time.perf_counter() - begun:.1f} s")
    responses, places, bands = {}, {}, {}
    for name, knobs in KNOBS.items():
        settings = settings_of(*knobs)
        response = line_response(tube, tube.effects, settings)
        responses[name] = response
        places[name] = np.searchsorted(response.lengths, np.array(PLACES) * response.lengths[-1])
        linear = predict(tube, settings, belief=prior(known), is_checked=False)
        bands[name] = linear, predict(tube, settings, belief=prior(known))
    generator = np.random.default_rng(seed)
    drawn = generator.standard_normal((count, len(known.names))) * known.uncertainties
    lines = {name: np.full((count, len(PLACES)), math.nan) for name in KNOBS}
    begun = time.perf_counter()
    for n, numbers in enumerate(drawn):
        whole, off = whole_bench(bench, known.names, numbers)
        for name, knobs in KNOBS.items():
            path = flown(whole, off, settings_of(*knobs))
            found = distances(responses[name], places[name], path, off["slack.grid_height"])
            lines[name][n] = found
    print(f"{count} whole benches: {time.perf_counter() - begun:.0f} s")
    print("| settings | way | sd of whole benches mm | linear / whole | band / whole | coverage |")
    print("|---|---|---|---|---|---|")
    for name in KNOBS:
        true, at = lines[name], places[name]
        linear, band = bands[name]
        spread = np.nanstd(true, axis=0)
        # The same sample by the linear way: what is left is not its sampling.
        sample = np.std(drawn @ responses[name].across[:, at], axis=0)
        inside = np.abs(true - band.shift[at]) <= FACTOR * band.spread[at]
        inside = np.where(np.isnan(true), np.nan, inside)
        print(
            f"| {name} | {band.way} | {_row(1e3 * spread, 2)} | {_row(sample / spread, 3)} "
            f"| {_row(band.spread[at] / linear.spread[at] * sample / spread, 3)} "
            f"| {_row(np.nanmean(inside, axis=0), 3)} |"
        )

    print("| settings | coverage of 1,000 tubes by electrons in linearised fields |")
    print("|---|---|")
    effects = tube.effects
    lift = effects.names.index("slack.grid_height")
    many = generator.standard_normal((1000, len(known.names))) * known.uncertainties
    for name, knobs in KNOBS.items():
        at, band, response = places[name], bands[name][1], responses[name]
        settings, found = settings_of(*knobs), []
        own = distances(response, at, shifted_path(tube, effects, settings, 0.0 * many[0]), 0.0)
        for each in many:
            path = shifted_path(tube, effects, settings, each)
            found.append(distances(response, at, path, each[lift]) - own)
        off = np.array(found) - band.shift[at]
        inside = np.where(np.isnan(off), np.nan, np.abs(off) <= FACTOR * band.spread[at])
        print(f"| {name} | {_row(np.nanmean(inside, axis=0), 3)} |")


def _row(values: np.ndarray, decimals: int) -> str:
    return " ".join(f"{value:.{decimals}f}" for value in values)


if __name__ == "__main__":
    main(*(int(each) for each in (*sys.argv[1:], *("200", "1")[len(sys.argv) - 1 :])))
