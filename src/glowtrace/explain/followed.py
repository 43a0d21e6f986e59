"""The one electron that is followed: where it leaves the aperture, and the path that it takes.

It stands for the whole trace. In gas it is the beam's axis; on a sheet, which each electron of a
flat beam meets at another place, it is the one that draws the line's far end, and it flies through
the sheet along the whole line. In a long coil the axis has nothing to show, as no force acts along
it: there an electron at the edge of the diverging beam is followed.
"""

from __future__ import annotations

from glowtrace.bench.electron import AXIS, Launch, drawing
from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

_SAMPLES = 400


def usual_launch(bench: Bench) -> Launch:
    """Give the launch of the electron that shows what this bench does; see the module."""
    if not bench.plane.is_spot:
        return drawing(bench, bench.plane.x_to)
    return Launch(up=bench.gun.divergence_vertical) if isinstance(bench.coils, LongCoil) else AXIS


def followed_ray(
    prepared: PreparedBench,
    settings: Settings,
    *,
    model: Model = "bench",
    launch: Launch | None = None,
    samples: int = _SAMPLES,
) -> Ray:
    """Follow one electron from the aperture to its end, through a sheet: `PreparedBench.ray`.

    It leaves as `usual_launch` of the bench says where ``launch`` is left out.
    """
    launch = launch or usual_launch(prepared.bench)
    return prepared.ray(settings, launch, model=model, through="sheet", samples=samples)
