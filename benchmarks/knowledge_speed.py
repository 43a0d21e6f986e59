"""How long the band, its tables and learning take, beside the picture that they go with.

python benchmarks/knowledge_speed.py
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from band_coverage import KNOBS, known_bench, settings_of
from glowtrace.bench.doubts import Seen
from glowtrace.bench.learning import learn
from glowtrace.bench.number_effects import number_effects
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import prepare
from timing import seconds


def main() -> None:
    bench = known_bench()
    tube = prepare(bench)
    belief, effects = learn(tube).after, tube.effects

    def build() -> None:
        with TemporaryDirectory() as folder:
            number_effects(bench, Path(folder))

    print("| what | time | of the picture's |")
    print("|---|---|---|")
    settings = settings_of(*KNOBS["plates"])
    picture = seconds(lambda: tube.picture(settings), 30)
    _row("picture of 200 electrons", picture, picture)
    for name in ("plates", "crossed", "turn-back", "loops"):
        knobs = settings_of(*KNOBS[name])

        def band(knobs=knobs, checked=False):  # type: ignore[no-untyped-def]
            return predict(tube, knobs, belief=belief, is_checked=checked)

        _row(f"line and band while the knob turns, {name}", seconds(band, 30), picture)
        _row(f"the same at rest, {name}", seconds(lambda: band(checked=True), 3), picture)
    places = (0.05, 0.08, 0.095)
    knobs = [settings_of(*KNOBS[name]) for name in ("plates", "coils", "null", "crossed")]
    seen = [
        Seen(settings=each, x=x, y=tube.line_height(each, x) + 3e-4, uncertainty=5e-4)
        for each in knobs
        for x in places
    ][:10]
    _row(f"learning from {len(seen)} points", seconds(lambda: learn(tube, seen)), picture)
    begun = time.process_time()
    _row(f"tables of {len(effects.names)} numbers, made anew", seconds(build, 1), picture)
    work = time.process_time() - begun
    print(
        f"\ntables: {effects.fields.size / 1e6:.1f} MB, {work:.1f} s of work on all cores together"
    )


def _row(what: str, took: float, picture: float) -> None:
    print(f"| {what} | {1e3 * took:.2f} ms | {took / picture:.1f} |")


if __name__ == "__main__":
    sys.exit(main())
