"""Making a clip, against the bare encoder: the same frames, drawn once beforehand.

Run: ``python benchmarks/clip_speed.py [seconds]``; 2 s of clip when left out.
"""

import resource
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.report.clips.clip import ClipForm
from glowtrace.report.clips.drift import drift_clip
from glowtrace.report.clips.file import save_clip
from glowtrace.report.clips.flight import flight_clip
from glowtrace.report.clips.sweep import sweep_clip
from timing import seconds

TURN_BACK = Settings(
    accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.2, coil_reversed=True
)


def peak():
    """Largest memory so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(length=2.0):
    tube = prepare(ready_made("deflection tube"))
    print(f"{length:g} s of clip at 25 frames a second")
    for size in ("720p", "1080p"):
        form = ClipForm(seconds=length, size=size)
        kinds = {
            "sweep": sweep_clip(tube, TURN_BACK, "plate_voltage", 0.0, 2500.0, form=form),
            "flight": flight_clip(tube, TURN_BACK, form=form),
            "drift": drift_clip(tube, TURN_BACK, form=form),
        }
        for name, clip in kinds.items():
            measure(f"{name} {size}", clip)
    before = peak()
    with tempfile.TemporaryDirectory() as folder:
        form = ClipForm(seconds=10 * length, size="1080p")
        save_clip(Path(folder, "long.mp4"), flight_clip(tube, TURN_BACK, form=form))
    print(f"ten times as long at 1080p: {peak() - before:.0f} MB more memory")


def measure(name, clip):
    """Time a clip whole, and its encoding alone."""
    few = [clip.frame(number).copy() for number in range(0, clip.count, 5)]
    drawn = replace(clip, frame=lambda number: few[number // 5])
    with tempfile.TemporaryDirectory() as folder:
        times = {
            ending: (
                seconds(lambda: save_clip(Path(folder, f"clip{ending}"), clip), 1),  # noqa: B023
                seconds(lambda: save_clip(Path(folder, f"clip{ending}"), drawn), 1),  # noqa: B023
            )
            for ending in (".mp4", ".gif")
        }
    for ending, (whole, bare) in times.items():
        print(
            f"  {name}{ending}: {whole:.1f} s, {1e3 * whole / clip.count:.0f} ms a frame; bare "
            f"encoder {bare:.1f} s: {whole / bare:.1f} times as long"
        )


if __name__ == "__main__":
    main(*(float(argument) for argument in sys.argv[1:2]))
