"""A made-up photograph of a bench's screen, to try the reading of photographs with."""

from __future__ import annotations

import math

import numpy as np

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.photographs.synthetic import (
    Camera,
    Conditions,
    CurveLight,
    Light,
    picture_light,
    take_photograph,
)
from glowtrace.web.measure.photograph_files import Received, jpeg_of, receive

_ELECTRONS = 20_000
_PIXELS = (1280, 960)
_FOCAL = 1400.0
_FILLED = 0.8
"""Part of the photograph that the screen takes."""


def invented_photograph(prepared: PreparedBench, settings: Settings) -> Received:
    """Give a photograph of the picture at some settings, taken a little from the side."""
    u0, v0, u1, v1 = rectangle = prepared.plane.rectangle
    across = max((u1 - u0) / _PIXELS[0], (v1 - v0) / _PIXELS[1])
    camera = Camera(
        aim=((u0 + u1) / 2, (v0 + v1) / 2),
        distance=_FOCAL * across / _FILLED,
        turn=math.radians(4.0),
        tilt=math.radians(-3.0),
        roll=math.radians(1.0),
        focal_length=_FOCAL,
        size=_PIXELS,
    )
    conditions = Conditions(grid_pitch=prepared.bench.screen.grid_pitch, room_light=0.03)
    taken = take_photograph(_light(prepared, settings), camera, rectangle, conditions)
    return receive(jpeg_of(taken), is_invented=True)


def _light(prepared: PreparedBench, settings: Settings) -> Light:
    if prepared.bench.plane.glows:
        path = prepared.central_ray(settings, samples=600).position[:, :2]
        seen = path[np.isfinite(path).all(axis=1)]
        return CurveLight(seen, 0.9e-3)
    return picture_light(prepared.picture(settings, electrons=_ELECTRONS))
