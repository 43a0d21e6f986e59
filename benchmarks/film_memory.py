"""Whether memory stays flat over a long film: read, drawn, encoded and written as a table.

Run: ``python benchmarks/film_memory.py [minutes]``; 60 minutes of film when left out. A short film
of 320 x 180 is repeated, so that nothing but the length is large. Told at each tenth of the work:
memory of the program's own (RssAnon) and all of it, with the files that are looked into (VmRSS).
"""

import sys
import tempfile
import time
from pathlib import Path

import av

from film_rendering import RenderedFilm, write_film
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.films.film_file import open_film
from glowtrace.films.film_reading import read_film
from glowtrace.films.knob_times import KnobTimes
from glowtrace.report.films.annotated import write_annotated
from glowtrace.report.films.film_table import save_film_table
from glowtrace.report.films.overlay import FilmOverlay
from glowtrace.watching import Watch

RENDERED = RenderedFilm(size=(320, 180), count=150, shake=0.0)


def repeat(path, short, times):
    """Write a film that is a short one many times over."""
    with (
        av.open(str(path), "w", options={"movflags": "+faststart"}) as file,
        av.open(str(short)) as source,
    ):
        like = source.streams.video[0]
        stream = file.add_stream_from_template(like)
        packets = [packet for packet in source.demux(like) if packet.size]
        stamps = [(packet.pts, packet.dts) for packet in packets]
        length = round(RENDERED.count / RENDERED.rate / like.time_base)
        for n in range(times):
            for packet, (pts, dts) in zip(packets, stamps, strict=True):
                packet.stream = stream
                packet.pts, packet.dts, packet.time_base = (
                    pts + n * length,
                    dts + n * length,
                    like.time_base,
                )
                file.mux_one(packet)


def memory():
    """Own memory and all of it, MB."""
    told = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return tuple(int(told[name].split()[0]) / 1024 for name in ("RssAnon", "VmRSS"))


class Tenths:
    """Prints the memory at each tenth of some work."""

    def __init__(self, what):
        self.what, self.next, self.began = what, 0.0, time.perf_counter()

    def note(self, share, _words):
        """Take down how far it is."""
        if share >= self.next:
            own, whole = memory()
            took = time.perf_counter() - self.began
            print(f"{self.what} {share:4.0%} {took:6.0f} s  own {own:5.0f} MB  all {whole:5.0f} MB")
            sys.stdout.flush()
            self.next += 0.1


def main(minutes=60.0):
    tube = prepare(ready_made("deflection tube"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_film(folder / "short.mp4", RENDERED)
        times = round(60 * minutes * RENDERED.rate / RENDERED.count)
        repeat(folder / "long.mp4", folder / "short.mp4", times)
        film = open_film(folder / "long.mp4")
        print(f"{film.seconds / 60:.1f} min, {film.size[0]} x {film.size[1]}")
        points = RENDERED.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
        readings = read_film(
            film,
            RENDERED.grid,
            points=points,
            folder=folder / "kept",
            progress=Tenths("reading").note,
        )
        moments = ((0.0, {"plate_voltage": 0.0}), (film.seconds, {"plate_voltage": 1000.0}))
        knobs = KnobTimes(Settings(accelerating_voltage=3000.0), moments)
        overlay = FilmOverlay(tube, readings, knobs, ("computed", "read", "difference", "numbers"))
        watch = Watch(Tenths("writing").note)
        write_annotated(folder / "out.mp4", readings, overlay.draw, folder / "drawn", watch=watch)
        save_film_table(folder / "line.csv", overlay)
        Tenths("table").note(1.0, "")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
