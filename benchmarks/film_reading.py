"""How well rendered films are read: line, map, hidden parts, pushes; and how fast.

Run: ``python benchmarks/film_reading.py [frames] [height]``; 100 frames of 720 lines when left out.
Every film goes through H.264 and back. A line is right within 0.2 mm (root mean square over its
frame). A push is bad where a map that is off by more than half a millimetre is called trusted.
"""

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import av
import numpy as np

from film_rendering import RenderedFilm, write_film
from glowtrace.films.following import begin_following, follow_and_read
from glowtrace.films.square_on import VIDEO_RANGE

PUSHES = 12


def kinds(film):
    """Films of every kind, by name."""
    k = film.size[0] / 1280
    return {
        "steady hand": film,
        "three times the shake": replace(film, shake=3.0, seed=2),
        "hand in front": replace(film, hand=(film.count // 4, film.count), seed=3),
        "dim grid": replace(film, room=0.0075, seed=4),
        "room lit": replace(film, room=0.25, seed=5),
        "exposure drifts": replace(film, drift=0.45, seed=6),
        "faint line": replace(film, beam=0.03, seed=7),
        "faint and dim": replace(film, beam=0.03, room=0.01, seed=8),
        "noisy": replace(film, noise=0.01, seed=9),
        "bright print": replace(film, grid_darkness=-0.6, seed=10),
        "strong lens": replace(film, lens=-0.08, seed=11),
        "pushed 30 px": replace(film, push=(film.count // 3, 30 * k, 0.0), seed=12),
    }


def greys(film):
    """The grey of a film's frames after H.264."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "film.mp4")
        write_film(path, film)
        with av.open(str(path)) as file:
            for frame in file.decode(video=0):
                plane = np.frombuffer(frame.planes[0], np.uint8).reshape(frame.height, -1)
                yield plane[:, : frame.width]


def read(film):
    """Readings of a film's frames, and how long each took in s."""
    readings, times, state = [], [], None
    for number, grey in enumerate(greys(film)):
        if number == 0:
            clicked = film.clicked(uncertainty=1.5 * film.size[0] / 1280)
            state = begin_following(grey, clicked, film.grid, curve=VIDEO_RANGE)
        start = time.perf_counter()
        reading, state = follow_and_read(grey, state)
        times.append(time.perf_counter() - start)
        readings.append(reading)
    return readings, times


def map_miss(film, number, reading):
    """Largest distance in mm of a crossing from its place."""
    places = np.array([[u, v] for u in film.grid.u[::2] for v in film.grid.v[::2]])
    there = reading.screen_map.places(film.camera(number).pixels(places))
    return 1e3 * float(np.abs(there - places).max())


def judged(film):
    """Numbers of one film."""
    readings, times = read(film)
    misses, maps, counts = [], [], np.zeros(4, int)
    for number, reading in enumerate(readings):
        if reading.is_lost:
            continue
        maps.append(map_miss(film, number, reading))
        seen = np.isfinite(reading.v)
        off = (reading.v - film.heights(number, reading.u))[seen]
        misses.append(1e3 * np.sqrt(np.mean(off**2)) if len(off) else np.inf)
        low, high = film.hidden(number) or (1.0, 1.0)
        hidden = (reading.u > low) & (reading.u < high)
        counts += [(hidden & ~seen).sum(), hidden.sum(), (~hidden & ~seen).sum(), (~hidden).sum()]
    return readings, np.array(misses), np.array(maps), counts, times


def main(count=100, height=720):
    film = RenderedFilm(size=(height * 16 // 9, height), count=count)
    print(f"{count} frames of {film.size[0]} x {height} each, times at a load that is not known")
    print(
        f"{'film':22} {'line mm':>8} {'95 %':>6} {'right':>6} {'map mm':>7} {'hidden':>7} "
        f"{'wrongly':>8} {'lost':>5} {'ms':>6}"
    )
    for name, each in kinds(film).items():
        readings, misses, maps, counts, times = judged(each)
        lost = sum(reading.is_lost for reading in readings)
        hidden = f"{100 * counts[0] / counts[1]:.1f} %" if counts[1] else "-"
        print(
            f"{name:22} {np.median(misses):8.3f} {np.quantile(misses, 0.95):6.3f} "
            f"{100 * np.mean(misses < 0.2):4.0f} % {maps.max():7.3f} {hidden:>7} "
            f"{100 * counts[2] / counts[3]:6.2f} % {lost:5} {1e3 * np.median(times):6.1f}",
            flush=True,
        )
    pushes(replace(film, count=30))


def pushes(film):
    """Push the camera in all directions, by a little more than follows and up to a square."""
    bad, back, said = 0, [], []
    scale = film.size[0] / 1280
    for n in range(PUSHES):
        size = (30.0, 30.0, 60.0, 96.0)[n % 4] * scale
        angle = 2 * np.pi * n / PUSHES
        pushed = replace(film, seed=50 + n, push=(4, size * np.cos(angle), size * np.sin(angle)))
        readings, _ = read(pushed)
        for number, reading in enumerate(readings):
            bad += not reading.is_lost and map_miss(pushed, number, reading) > 0.5
        lost = [number for number, reading in enumerate(readings) if reading.is_lost]
        said.append(lost[0] - 4 if lost else 0)
        back.append(lost[-1] - 3 if lost else 0)
    print(
        f"{PUSHES} pushes of 30 to 96 px: {bad} frames with a wrong map that is trusted; "
        f"told after at most {max(said)} frames, back after at most {max(back)}"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
