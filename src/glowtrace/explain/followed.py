"""The one electron that is followed: where it leaves the aperture, and the path that it takes.

It stands for the whole trace. On a grazed sheet and in gas it is the beam's axis; the sheet, which
each electron of a flat beam meets at another place, is taken out of its way, so that it runs along
the whole trace. In a long coil the axis has nothing to show, as no force acts along it: there an
electron at the edge of the diverging beam is followed.
"""

from __future__ import annotations

from glowtrace.beam.obstacles import SCREEN
from glowtrace.bench.flight import AXIS, Start, follow, leave
from glowtrace.bench.model import Bench, EndFace, LongCoil, Sheet
from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

_SAMPLES = 400


def usual_start(bench: Bench) -> Start:
    """Give the start of the electron that shows what this bench does; see the module."""
    if isinstance(bench.coils, LongCoil) and isinstance(bench.screen, EndFace):
        return Start(up=bench.gun.divergence_vertical)
    return AXIS


def followed_ray(
    prepared: PreparedBench,
    settings: Settings,
    *,
    model: Model = "bench",
    start: Start | None = None,
    samples: int = _SAMPLES,
) -> Ray:
    """Follow one electron from the aperture to its end.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs. The electron has the accelerating voltage, and the potential at
        its starting point, without spread and ripple.
    model
        See `Model`.
    start
        How it leaves; `usual_start` of the bench when left out.
    samples
        Points on the path, at equal distances, 3 or more.

    Returns
    -------
    Ray
        Without any points where the electron does not leave the gun: the heater is off, or there
        is no accelerating voltage.
    """
    walls = prepared.walls
    if isinstance(prepared.bench.screen, Sheet):
        walls = walls._replace(flat=walls.flat[walls.flat[:, -1] != SCREEN])
    field = prepared.field(settings, model)
    return follow(
        field,
        walls,
        prepared.end_names,
        leave(field, settings, start or usual_start(prepared.bench)),
        model=model,
        longest=prepared.longest,
        samples=samples,
    )
