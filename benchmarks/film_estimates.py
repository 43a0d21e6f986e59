"""How often the interval of a knob that is estimated from a film's line holds the true value.

Run: ``python benchmarks/film_estimates.py [films]``; 60 when left out. Each film has a camera, a
light, an exposure, a hand or none and a true plate voltage of its own, and its line is that of the
same bench: what is wrong about a bench is not in the interval. Each gives one frame to the count,
because frames of one film share the errors of its map.
"""

import sys

import numpy as np

from film_rendering import RenderedFilm
from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.films.following import begin_following, follow_and_read
from glowtrace.films.knob_estimate import estimate, knob_table

BASE = Settings(accelerating_voltage=3000.0)
FRAMES = 4


def table_for(prepared, u):
    """Lines of the plate voltage."""
    return knob_table(prepared, BASE, "plate_voltage", u)


def trial(prepared, seed, table=None):
    """True value, estimate, half its interval, and the table of lines."""
    rng = np.random.default_rng(seed)
    true = float(rng.uniform(-1100, 1100))
    line = computed_line(prepared, BASE.turned(plate_voltage=true))

    def heights(_time, u):
        known = np.isfinite(line.at(u))
        return np.interp(u, u[known], line.at(u)[known])

    film = RenderedFilm(
        size=(640, 360),
        count=FRAMES,
        line=heights,
        seed=seed,
        shake=float(rng.uniform(0.3, 2)),
        room=float(rng.uniform(0.01, 0.08)),
        beam=float(rng.uniform(0.2, 0.7)),
        noise=float(rng.uniform(0.002, 0.006)),
        lens=float(rng.uniform(-0.05, 0.02)),
        hand=(1, FRAMES) if rng.random() < 0.3 else (0, 0),
        sigma=float(rng.uniform(0.5e-3, 0.9e-3)),
    )
    state = begin_following(film.luma(0), film.clicked(uncertainty=0.7), film.grid)
    reading = None
    for number in range(1, FRAMES):
        reading, state = follow_and_read(film.luma(number), state)
    table = table or table_for(prepared, reading.u)
    found = estimate(reading.u, reading.v, table, reading.scatter)
    return true, found.value, found.half, table


def main(films=60):
    prepared, table = prepare(ready_made("deflection tube")), None
    rows = []
    for seed in range(films):
        *row, table = trial(prepared, seed, table)
        rows.append(row)
    true, value, half = np.array(rows).T
    told = np.isfinite(value)
    z = (value - true)[told] / (half[told] / 1.96)
    print(
        f"{films} films: told in {told.sum()}, interval held "
        f"{100 * np.mean(np.abs(z) < 1.96):.0f} %,"
        f" spread of the error in standard uncertainties {z.std():.2f}, mean {z.mean():+.2f},"
        f" half interval {np.median(half[told]):.1f} V"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
