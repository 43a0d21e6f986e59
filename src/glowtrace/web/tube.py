"""The 3-D view of the tube: electrodes, coils, screen, glass, and the beam.

One unit of the scene is 1 cm. Drawn once for a bench; only the points of the beam change.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from nicegui import ui
from nicegui.elements.scene.objects import Extrusion, PointCloud
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, CoilPair, Cylinder, LongCoil

UNIT = 0.01  # m
SIDES = 64
WARM, METAL, COPPER = "#f0dfc2", "#b5a88f", "#8f5d3d"
GROUND = "#0a0908"
THIN = 0.08  # cm: plates and discs are drawn this thick
FIELD_OF_VIEW = 26.0  # degrees, vertical
ASPECT = 1.24
VIEW_FROM = (0.38, 0.26, 0.89)

Outline = list[list[float]]


class TubeView(ui.element):
    """The view, with the beam's points on top."""

    def __init__(self) -> None:
        super().__init__("div")
        self.classes("tube").props('role="img" aria-label="The tube in three dimensions"')

    def set_up(self, bench: Bench, glow: tuple[int, int, int]) -> None:
        """Draw another bench."""
        self.clear()
        camera = ui.scene.perspective_camera(fov=FIELD_OF_VIEW, near=1.0, far=500.0)
        with self:
            scene = ui.scene(
                grid=False, camera=camera, background_color=GROUND, width=372, height=300
            )
        with scene:
            _draw_gun(scene, bench)
            _draw_plates(scene, bench)
            _draw_screen(scene, bench)
            _draw_coils(scene, bench)
            _draw_glass(scene, bench)
            # The first points span the bench: the scene never asks again how far they reach.
            corners = [corner.tolist() for corner in _reach(bench)]
            unlit = [[0.0, 0.0, 0.0]] * len(corners)
            self._beam = scene.point_cloud(corners, unlit, point_size=0.12)
            self._light = scene.point_cloud(corners, unlit, point_size=0.16)
        self._colour = [channel / 255 for channel in glow]
        self._bench = bench
        _look_at(scene, bench)

    def show(self, paths: NDArray[np.float64], landings: NDArray[np.float64]) -> None:
        """Draw some electrons' paths (n, m, 3) and landings (u, v) on the screen, in m."""
        flying = paths.reshape(-1, 3)
        beam = flying[np.isfinite(flying).all(axis=1)]
        is_gas = self._bench.plane.glows
        self._put(self._beam, beam, 0.9 if is_gas else 0.4)
        self._put(self._light, self._bench.plane.place_in_space(landings), 1.0)

    def _put(self, cloud: PointCloud, points: NDArray[np.float64], brightness: float) -> None:
        colour = [round(brightness * channel, 3) for channel in self._colour]
        cloud.set_points((points / UNIT).round(3).tolist(), [colour] * len(points))


def _ring(outer: float, inner: float) -> Outline:
    """Outline of a disc with a hole, cut open along one radius so that it is one line."""
    turns = [2 * math.pi * k / SIDES for k in range(SIDES + 1)]
    outside = [[outer * math.cos(a), outer * math.sin(a)] for a in turns]
    inside = [[inner * math.cos(a), inner * math.sin(a)] for a in reversed(turns)]
    return outside + inside


def _draw_gun(scene: ui.scene, bench: Bench) -> None:
    gun = bench.gun
    radius, hole = gun.anode_radius / UNIT, min(gun.anode_radius, gun.aperture_height) / UNIT / 2
    _along_x(scene, _ring(radius, hole), -THIN, THIN, METAL, 0.9)
    can = 0.45 * radius
    _along_x(scene, _ring(can, 0.8 * can), -THIN - 1.6 * can, 1.6 * can, METAL, 0.75)


def _draw_plates(scene: ui.scene, bench: Bench) -> None:
    plates = bench.plates
    if plates is None:
        return
    x = (plates.start + plates.length / 2) / UNIT
    for side, tilt in ((1, plates.tilt_upper), (-1, plates.tilt_lower)):
        y = (plates.height_offset + side * plates.gap / 2) / UNIT
        plate = scene.box(plates.length / UNIT, THIN, plates.width / UNIT)
        plate.move(x, y, 0).rotate(0, 0, tilt).material(METAL, 0.8)


def _draw_screen(scene: ui.scene, bench: Bench) -> None:
    for start, end in _grid_lines(bench):
        edge = scene.line([c / UNIT for c in start], [c / UNIT for c in end])
        edge.material(WARM, 0.22)


def _grid_lines(bench: Bench) -> Iterator[tuple[Sequence[float], Sequence[float]]]:
    """Give the printed grid of a phosphor screen as lines in space, m."""
    plane = bench.plane
    if plane.glows:
        return
    u0, u1, v0, v1 = plane.extent
    upright, level = plane.grid()
    for u in (u0, *upright, u1):
        yield tuple(plane.place_in_space(np.array([[u, v0], [u, v1]])).tolist())
    for v in (v0, *level, v1):
        yield tuple(plane.place_in_space(np.array([[u0, v], [u1, v]])).tolist())


def _draw_coils(scene: ui.scene, bench: Bench) -> None:
    coils = bench.coils
    if coils is None:
        return
    inner = (coils.mean_radius - coils.winding_depth / 2) / UNIT
    outer = (coils.mean_radius + coils.winding_depth / 2) / UNIT
    if isinstance(coils, CoilPair):
        width = coils.winding_width / UNIT
        with scene.group() as pair:
            for side in (1, -1):
                winding = scene.extrusion(_ring(outer, inner), width).material(COPPER, 0.55)
                winding.move(0, 0, side * coils.spacing / 2 / UNIT - width / 2)
        pair.move(*(c / UNIT for c in coils.centre)).rotate(coils.tilt_x, coils.tilt_y, 0)
    else:
        ends = coils.x_from / UNIT, coils.x_to / UNIT
        middle = coils.shift_y / UNIT, coils.shift_z / UNIT
        _draw_shell(scene, ends, outer, COPPER, 0.45, middle)
        for x in ends:
            rim = scene.ring(inner, outer, SIDES).material(COPPER, 0.5, side="both")
            rim.move(x, *middle).rotate(0, math.pi / 2, 0)


def _draw_glass(scene: ui.scene, bench: Bench) -> None:
    glass = bench.envelope
    if isinstance(glass, Cylinder):
        ends = glass.x_from / UNIT, glass.x_to / UNIT
        _draw_shell(scene, ends, glass.radius / UNIT, WARM, 0.10)
        for x in ends:
            _draw_circle(scene, (x, 0.0, 0.0), glass.radius / UNIT, (0, 1, 0), (0, 0, 1))
        return
    centre = tuple(c / UNIT for c in glass.centre)
    radius = glass.radius / UNIT
    scene.sphere(radius, 48, 32).material(WARM, 0.08, side="back").move(*centre)
    _draw_circle(scene, centre, radius, (1, 0, 0), (0, 1, 0))
    _draw_circle(scene, centre, radius, (1, 0, 0), (0, 0, 1))


def _draw_shell(
    scene: ui.scene,
    ends: tuple[float, float],
    radius: float,
    colour: str,
    opacity: float,
    middle: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Draw a tube along the beam (cm), cut away on the side of the eye."""
    shell = scene.cylinder(radius, radius, ends[1] - ends[0], SIDES)
    shell.material(colour, opacity, side="back")
    shell.move((ends[0] + ends[1]) / 2, *middle).rotate(0, 0, math.pi / 2)


def _draw_circle(
    scene: ui.scene,
    centre: Sequence[float],
    radius: float,
    across: Sequence[float],
    up: Sequence[float],
) -> None:
    """Draw a thin circle (cm) in the plane of two unit vectors, as four cubic curves."""
    reach = 4 / 3 * (math.sqrt(2) - 1)  # handle of the cubic that follows a quarter of a circle
    axes = radius * np.array([across, up], dtype=float)
    for quarter in range(4):
        turn = math.pi / 2 * quarter
        c, s = math.cos(turn), math.sin(turn)
        start, end = c * axes[0] + s * axes[1], -s * axes[0] + c * axes[1]
        bends = start + reach * end, end + reach * start
        points = [(np.array(centre) + point).tolist() for point in (start, *bends, end)]
        scene.curve(points[0], points[1], points[2], points[3]).material(WARM, 0.3)


def _along_x(
    scene: ui.scene, outline: Outline, x: float, length: float, colour: str, opacity: float
) -> Extrusion:
    """Extrude an outline along the beam from x (cm)."""
    solid = scene.extrusion(outline, length)
    solid.move(x, 0, 0).rotate(0, math.pi / 2, 0).material(colour, opacity)
    return solid


def _look_at(scene: ui.scene, bench: Bench) -> None:
    """Stand where the whole bench is in view, a little above and to the right of the audience."""
    low, high = _reach(bench)
    middle = (low + high) / 2
    towards_eye = np.array(VIEW_FROM) / np.linalg.norm(VIEW_FROM)
    right = np.cross([0.0, 1.0, 0.0], towards_eye)
    right /= np.linalg.norm(right)
    up = np.cross(towards_eye, right)
    corners = np.array(list(product(*zip(low - middle, high - middle, strict=True))))
    slope = math.tan(math.radians(FIELD_OF_VIEW / 2))
    needed = np.maximum(np.abs(corners @ up), np.abs(corners @ right) / ASPECT) / slope
    eye = middle + (needed + corners @ towards_eye).max() * towards_eye
    (x, y, z), (look_at_x, look_at_y, look_at_z) = eye.tolist(), middle.tolist()
    scene.move_camera(
        x,
        y,
        z,
        look_at_x,
        look_at_y,
        look_at_z,
        up_x=0.0,
        up_y=1.0,
        up_z=0.0,
        duration=0.0,
    )


def _reach(bench: Bench) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the corners of a box around glass and coils, cm."""
    glass = bench.envelope
    if isinstance(glass, Cylinder):
        low = np.array([glass.x_from, -glass.radius, -glass.radius])
        high = np.array([glass.x_to, glass.radius, glass.radius])
    else:
        low, high = (np.array(glass.centre) + side * glass.radius for side in (-1, 1))
    coils = bench.coils
    if isinstance(coils, CoilPair):
        outer = coils.mean_radius + coils.winding_depth / 2
        size = np.array([outer, outer, coils.spacing / 2 + coils.winding_width / 2])
        low = np.minimum(low, np.array(coils.centre) - size)
        high = np.maximum(high, np.array(coils.centre) + size)
    elif isinstance(coils, LongCoil):
        outer = coils.mean_radius + coils.winding_depth / 2
        low = np.minimum(low, [coils.x_from, -outer, -outer])
        high = np.maximum(high, [coils.x_to, outer, outer])
    return low / UNIT, high / UNIT
