"""The 3-D view of the tube: electrodes, coils, screen, glass, and the beam.

One unit of the scene is 1 cm. Drawn once for a bench; only the points of the beam change.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, CoilPair, Cylinder, EndFace, GasGlow, LongCoil, Sheet

UNIT = 0.01  # m
SIDES = 64
WARM, METAL, COPPER = "#f0dfc2", "#cdbfa6", "#c9824f"
GROUND = "#0a0908"
THIN = 0.08  # cm: plates and discs are drawn this thick
FIELD_OF_VIEW = 26.0  # degrees, vertical
ASPECT = 1.4

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
                grid=False, camera=camera, background_color=GROUND, width=372, height=268
            )
        with scene:
            _draw_gun(scene, bench)
            _draw_plates(scene, bench)
            _draw_screen(scene, bench)
            _draw_coils(scene, bench)
            _draw_glass(scene, bench)
            self._beam = scene.point_cloud([], [], point_size=0.12)
            self._light = scene.point_cloud([], [], point_size=0.16)
        self._colour = [channel / 255 for channel in glow]
        self._bench = bench
        _look_at(scene, bench)

    def show(self, paths: NDArray[np.float64], landings: NDArray[np.float64]) -> None:
        """Draw some electrons' paths (n, m, 3) and landings (u, v) on the screen, in m."""
        flying = paths.reshape(-1, 3)
        beam = flying[np.isfinite(flying).all(axis=1)]
        is_gas = isinstance(self._bench.screen, GasGlow)
        self._put(self._beam, beam, 0.9 if is_gas else 0.4)
        self._put(self._light, _on_screen(self._bench, landings), 1.0)

    def _put(
        self, cloud: ui.scene.point_cloud, points: NDArray[np.float64], brightness: float
    ) -> None:
        colour = [round(brightness * channel, 3) for channel in self._colour]
        cloud.set_points((points / UNIT).round(3).tolist(), [colour] * len(points))


def _on_screen(bench: Bench, landings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the places (n, 3) in space of places (u, v) on the bench's screen."""
    u, v = landings[:, 0], landings[:, 1]
    screen = bench.screen
    if isinstance(screen, Sheet):
        x = u * math.cos(screen.angle)
        z = screen.z_from + (x - screen.x_from) * math.tan(screen.angle)
        return np.stack([x, v, z], axis=1)
    if isinstance(screen, EndFace):
        return np.stack([np.full_like(u, screen.x), v, u], axis=1)
    return np.empty((0, 3))


def _ring(outer: float, inner: float) -> Outline:
    """Outline of a disc with a hole, cut open along one radius so that it is one line."""
    turns = [2 * math.pi * k / SIDES for k in range(SIDES + 1)]
    outside = [[outer * math.cos(a), outer * math.sin(a)] for a in turns]
    inside = [[inner * math.cos(a), inner * math.sin(a)] for a in reversed(turns)]
    return outside + inside


def _draw_gun(scene: ui.scene, bench: Bench) -> None:
    gun = bench.gun
    radius, hole = gun.anode_radius / UNIT, min(gun.anode_radius, gun.aperture_height) / UNIT / 2
    x = gun.anode_position / UNIT
    _along_x(scene, _ring(radius, hole), x - THIN, THIN, METAL, 0.9)
    can = 0.45 * radius
    _along_x(scene, _ring(can, 0.8 * can), x - THIN - 1.6 * can, 1.6 * can, METAL, 0.75)


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
    screen = bench.screen
    if isinstance(screen, GasGlow):
        return
    half = screen.height / 2
    if isinstance(screen, Sheet):
        low, high = screen.x_from, screen.x_to
    else:
        low, high = -screen.width / 2, screen.width / 2
    corners = np.array([[low, -half], [high, half]])
    if isinstance(screen, Sheet):
        corners[:, 0] /= math.cos(screen.angle)
    for axis in (0, 1):
        for place in _grid_places(corners[0, axis], corners[1, axis], screen.grid_pitch):
            ends = corners.copy()
            ends[:, axis] = place
            start, end = _on_screen(bench, ends).tolist()
            yield start, end


def _grid_places(low: float, high: float, pitch: float) -> list[float]:
    inner = pitch * np.arange(math.ceil(low / pitch), math.floor(high / pitch) + 1)
    return [low, *inner.tolist(), high]


def _draw_coils(scene: ui.scene, bench: Bench) -> None:
    coils = bench.coils
    if isinstance(coils, CoilPair):
        half = coils.winding_depth / 2
        outline = _ring((coils.mean_radius + half) / UNIT, (coils.mean_radius - half) / UNIT)
        width = coils.winding_width / UNIT
        with scene.group() as pair:
            for side in (1, -1):
                winding = scene.extrusion(outline, width).material(COPPER, 0.5 if side > 0 else 0.8)
                winding.move(0, 0, side * coils.spacing / 2 / UNIT - width / 2)
        pair.move(*(c / UNIT for c in coils.centre)).rotate(coils.tilt_x, coils.tilt_y, 0)
    elif isinstance(coils, LongCoil):
        half = coils.winding_depth / 2
        outline = _ring((coils.mean_radius + half) / UNIT, (coils.mean_radius - half) / UNIT)
        length = (coils.x_to - coils.x_from) / UNIT
        winding = _along_x(scene, outline, coils.x_from / UNIT, length, COPPER, 0.22)
        winding.move(coils.x_from / UNIT, coils.shift_y / UNIT, coils.shift_z / UNIT)


def _draw_glass(scene: ui.scene, bench: Bench) -> None:
    glass = bench.envelope
    if isinstance(glass, Cylinder):
        outline = _ring(glass.radius / UNIT, 0.985 * glass.radius / UNIT)
        length = (glass.x_to - glass.x_from) / UNIT
        _along_x(scene, outline, glass.x_from / UNIT, length, WARM, 0.10)
    else:
        bulb = scene.sphere(glass.radius / UNIT, 48, 32).material(WARM, 0.07)
        bulb.move(*(c / UNIT for c in glass.centre))


def _along_x(
    scene: ui.scene, outline: Outline, x: float, length: float, colour: str, opacity: float
) -> ui.scene.extrusion:
    """Extrude an outline along the beam from x (cm)."""
    solid = scene.extrusion(outline, length)
    solid.move(x, 0, 0).rotate(0, math.pi / 2, 0).material(colour, opacity)
    return solid


def _look_at(scene: ui.scene, bench: Bench) -> None:
    """Stand where the whole bench is in view, a little above and to the right of the audience."""
    low, high = _reach(bench)
    middle = (low + high) / 2
    half_height = max((high[1] - low[1]) / 2, (high[0] - low[0]) / 2 / ASPECT)
    distance = 1.12 * half_height / math.tan(math.radians(FIELD_OF_VIEW / 2)) + (
        high[2] - middle[2]
    )
    x, y, z = middle + distance * np.array([0.38, 0.26, 0.89])
    scene.move_camera(
        x, y, z, *middle.tolist(), up_x=0, up_y=1, up_z=0, duration=0
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
