"""Made-up photographs of gridded screens in every state, and whether their grid is found rightly.

Each trial draws where the camera stands, its lens, the light, the noise, the print and what stands
in the way, all from its seed, so a number of a table is made again by its seed alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from glowtrace.bench.ready_made import ready_made
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_finding import FoundGrid, find_grid
from glowtrace.photographs.grid_lines import PrintedGrid, grey, printed_grid
from glowtrace.photographs.photograph import Photograph
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, Light, take_photograph

Verdict = Literal["right", "refused", "wrong"]
BENCHES = ("deflection tube", "fine-beam bulb")
KINDS = ("sound", "lit room", "cast", "oblique", "dim", "hand", "glare", "cut off")
SOUND = ("sound", "lit room", "cast", "oblique")
"""Kinds of which most must be found; the others may be refused."""
SIZE = (1280, 960)
RIGHT = 0.02
"""A map is right when no crossing lies further off than this, in pitches: 0.2 mm of 10."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A made-up photograph, with all that is known about it."""

    photograph: Photograph
    camera: Camera
    grid: PrintedGrid
    light: Light
    conditions: Conditions


def trial(bench: str, kind: str, seed: int) -> Trial:
    """Make the photograph of a bench's screen in a state, from a seed."""
    number = 100 * BENCHES.index(bench) + KINDS.index(kind)
    rng = np.random.default_rng([number, seed])
    grid = printed_grid(ready_made(bench))
    light = _line(grid, rng) if bench == "deflection tube" else _ring(rng)
    camera = _camera(grid, kind, rng)
    conditions = _conditions(grid, kind, rng, seed)
    return Trial(
        take_photograph(light, camera, grid.rectangle, conditions), camera, grid, light, conditions
    )


def verdict(one: Trial) -> tuple[Verdict, FoundGrid]:
    """Look for the grid and say whether the map is right."""
    found = find_grid(grey(one.photograph), one.grid)
    if found.screen_map is None:
        return "refused", found
    return ("right" if furthest_off(found.screen_map, one) < RIGHT else "wrong"), found


def furthest_off(screen_map: ScreenMap, one: Trial) -> float:
    """Give how far a map is off at the worst crossing that is in the photograph, in pitches."""
    places = np.array([(u, v) for u in one.grid.u for v in one.grid.v])
    seen = one.camera.pixels(places)
    inside = ((seen > 0) & (seen < np.array(one.camera.size) - 1)).all(axis=1)
    off = screen_map.places(seen[inside]) - places[inside]
    return float(np.hypot(*off.T).max()) / one.grid.pitch


def _camera(grid: PrintedGrid, kind: str, rng: np.random.Generator) -> Camera:
    u0, v0, u1, v1 = grid.rectangle
    focal = rng.uniform(1000, 1800)
    filled = rng.uniform(0.6, 0.85) if kind != "cut off" else rng.uniform(1.1, 1.4)
    most = 0.5 if kind == "oblique" else 0.2
    aim = np.array([u0 + u1, v0 + v1]) / 2 + rng.uniform(-0.02, 0.02, 2) * (u1 - u0)
    across = max((u1 - u0) / SIZE[0], (v1 - v0) / SIZE[1])
    return Camera(
        aim=(float(aim[0]), float(aim[1])),
        distance=focal * across / filled,
        turn=rng.uniform(-most, most),
        tilt=rng.uniform(-most, most),
        roll=rng.uniform(-0.1, 0.1),
        focal_length=focal,
        distortion=rng.uniform(-0.08, 0.03),
        size=SIZE,
    )


def _conditions(grid: PrintedGrid, kind: str, rng: np.random.Generator, seed: int) -> Conditions:
    u0, v0, u1, v1 = grid.rectangle
    print_kind = rng.integers(4)
    look: dict[str, float | bool] = [
        {"grid_darkness": rng.uniform(0.25, 0.5)},
        {"grid_darkness": rng.uniform(0.25, 0.5), "has_border": True},
        {"grid_darkness": -rng.uniform(0.4, 1.0), "zero_line": 1.6, "surround": 1.0},
        {"grid_darkness": -rng.uniform(0.4, 1.0), "surround": rng.uniform(0.1, 0.9)},
    ][print_kind]
    state: dict[str, object] = {
        "room_light": rng.uniform(0.03, 0.1),
        "blur": rng.uniform(0.8, 1.6),
        "full_electrons": rng.uniform(2000, 8000),
        "jpeg_quality": int(rng.integers(75, 95)),
        "gradient": rng.uniform(-0.8, 0.8),
        "grid_line": rng.uniform(0.25e-3, 0.5e-3),
        "clutter": int(rng.integers(0, 6)),
    }
    if kind == "lit room":
        state |= {"room_light": rng.uniform(0.1, 0.35), "exposure": rng.uniform(0.2, 0.6)}
    elif kind == "cast":
        casts = [(1.0, 0.55, 0.2), (0.3, 0.6, 1.0), (0.6, 1.0, 0.5)]
        state |= {"room_colour": casts[rng.integers(3)], "room_light": rng.uniform(0.03, 0.2)}
    elif kind == "dim":
        state |= {"room_light": rng.uniform(0.004, 0.02), "full_electrons": rng.uniform(500, 3000)}
        look = {**look, "grid_darkness": 0.5 * float(look["grid_darkness"])}
    elif kind == "hand":
        state |= {"hand": _fingers(grid, rng), "hand_light": rng.uniform(0.05, 1.5)}
    elif kind == "glare":
        at = rng.uniform(u0, u1), rng.uniform(v0, v1)
        size = rng.uniform(0.05, 0.2) * (u1 - u0)
        state |= {"glare": (*at, size, rng.uniform(0.1, 2.0))}
    return Conditions(grid_pitch=grid.pitch, seed=seed, **look, **state)


def _fingers(grid: PrintedGrid, rng: np.random.Generator) -> tuple[tuple[float, ...], ...]:
    """One to three fingers that reach in from a side of the screen."""
    u0, v0, u1, v1 = grid.rectangle
    wide, high = u1 - u0, v1 - v0
    half = rng.uniform(0.006, 0.011)
    fingers = []
    side = rng.integers(4)
    along, deep = rng.uniform(0.1, 0.9), rng.uniform(0.2, 0.8)
    for n in range(int(rng.integers(1, 4))):
        shift = 1.9 * half * n
        if side < 2:  # from the left or from the right
            v = v0 + along * high + shift
            far, tip = (u0 - 0.05, u0 + deep * wide / 2) if side == 0 else (
                u1 + 0.05, u1 - deep * wide / 2)  # fmt: skip
            fingers.append((far, v, tip, v + rng.uniform(-0.004, 0.004), half))
        else:
            u = u0 + along * wide + shift
            far, tip = (v0 - 0.05, v0 + deep * high) if side == 2 else (v1 + 0.05, v1 - deep * high)
            fingers.append((u, far, u + rng.uniform(-0.004, 0.004), tip, half))
    return tuple(fingers)


def _line(grid: PrintedGrid, rng: np.random.Generator) -> Light:
    u = np.linspace(0.0, grid.rectangle[2] + 0.01, 400)
    bend = rng.uniform(-2.0, 2.0)
    v = bend * np.clip(u - 0.012, 0.0, None) ** 2 + rng.uniform(-0.002, 0.002)
    return CurveLight(np.column_stack([u, v]), rng.uniform(0.35e-3, 0.8e-3))


def _ring(rng: np.random.Generator) -> Light:
    angle = np.linspace(-math.pi / 2, 1.45 * math.pi, 600)
    radius = rng.uniform(0.03, 0.055)
    curve = radius * np.column_stack([np.cos(angle), 1.0 + np.sin(angle)])
    return CurveLight(curve, rng.uniform(0.5e-3, 1.0e-3))
