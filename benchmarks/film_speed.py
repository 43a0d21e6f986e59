"""How fast films are read and annotated, and whether memory stays flat.

Run: ``python benchmarks/film_speed.py [seconds]``; 6 s of film when left out. Processor seconds a
frame beside the frames a second, because other work slows only the latter.
"""

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

from film_rendering import RenderedFilm, write_film
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.films.film_file import film_frames, open_film
from glowtrace.films.film_reading import read_film
from glowtrace.films.knob_times import KnobTimes
from glowtrace.report.films.annotated import write_annotated
from glowtrace.report.films.overlay import FilmOverlay
from glowtrace.watching import UNWATCHED

SIZES = {"720p": (1280, 720), "1080p": (1920, 1080)}


def timed(task):
    """Give the result, wall seconds and processor seconds of a task."""
    wall, cpu = time.perf_counter(), time.process_time()
    result = task()
    return result, time.perf_counter() - wall, time.process_time() - cpu


def peak():
    """Largest memory so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def tell(name, count, wall, cpu):
    """Print one line."""
    print(
        f"{name:28} {count / wall:6.1f} frames/s {1e3 * cpu / count:7.1f} ms of processor a frame"
    )


def measure(name, size, length, folder):
    """Time the passes over one film."""
    path = Path(folder, f"{name}.mp4")
    rendered = RenderedFilm(size=size, count=round(25 * length))
    write_film(path, rendered)
    film, count = open_film(path), rendered.count
    points = rendered.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    _, *times = timed(lambda: sum(1 for _ in film_frames(film)))
    tell(f"{name} decoding", count, *times)
    read_film(film, rendered.grid, points=points)  # compiles
    readings, *read = timed(lambda: read_film(film, rendered.grid, points=points))
    tell(f"{name} decoding and reading", count, *read)
    moments = ((0.0, {"plate_voltage": 0.0}), (length, {"plate_voltage": 1000.0}))
    knobs = KnobTimes(Settings(accelerating_voltage=3000.0), moments)
    tube = prepare(ready_made("deflection tube"))
    shows = ("computed", "textbook", "read", "difference", "numbers")
    overlay = FilmOverlay(tube, readings, knobs, shows)
    overlay.draw(0)
    _, *drawn = timed(lambda: [overlay.draw(n) for n in range(count)])
    tell(f"{name} drawing alone", count, *drawn)
    before = peak()
    _, *written = timed(
        lambda: write_annotated(
            Path(folder, "out.mp4"), readings, overlay.draw, Path(folder, name), watch=UNWATCHED
        )
    )
    tell(f"{name} drawing and encoding", count, *written)
    tell(f"{name} whole", count, read[0] + written[0], read[1] + written[1])
    print(f"{name} memory while writing: {peak() - before:+.0f} MB")


def main(length=6.0):
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        for name, size in SIZES.items():
            measure(name, size, length, folder)
    print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
