"""Made-up films of a gridded screen with everything known about each frame.

The camera is the one of `glowtrace.photographs.synthetic`, which shares no code with the maps that
are fitted; here it shakes. A frame is made from its number and the film's seed alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numba
import numpy as np
from scipy import ndimage

from glowtrace.photographs.grid import ScreenMap, fit_map
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import stored_light
from glowtrace.photographs.synthetic import Camera

_MESH = 8  # pixels between places that the camera's optics are asked for
_CURVE = stored_light(np.arange(4096) / 4095)
GRID = PrintedGrid(
    tuple(0.01 * n for n in range(2, 11)),
    tuple(0.01 * n for n in range(-2, 3)),
    0.01,
    (0.0121, -0.022, 0.1047, 0.022),
)
"""The screen of the ready-made deflection tube."""


@dataclass(frozen=True)
class RenderedFilm:
    """A film whose every frame can be made, and its truth; lengths in m, pixels of the frame."""

    size: tuple[int, int] = (640, 360)
    count: int = 20
    rate: float = 25.0
    grid: PrintedGrid = GRID
    shake: float = 1.0
    """In units of a steady hand: 2 px rms of a frame of 1280, a tenth of a degree."""
    lens: float = -0.02
    drift: float = 0.25
    """Relative change of the exposure over seconds."""
    room: float = 0.03
    """Room light on the screen, of full light."""
    beam: float = 0.5
    """Light of the line at its beginning."""
    grid_darkness: float = 0.45
    noise: float = 0.0025
    """Of reading out, of full light; photons give their own, with 4000 electrons at full light."""
    hand: tuple[int, int] = (0, 0)
    """First frame with a hand over 18 mm, and the frame after the last."""
    push: tuple[int, float, float] | None = None
    """Frame from which the camera stands elsewhere, and by how many pixels."""
    swing: float = 0.014
    """How far up and down the end of the line goes."""
    seconds: float = 6.0
    """In which it does so once."""
    end: Callable[[float], float] | None = None
    """Height of the end by time, instead of the swing."""
    line: Callable[[float, np.ndarray], np.ndarray] | None = None
    """Heights by time and place, instead of a parabola with a straight end."""
    sigma: float = 0.7e-3
    seed: int = 7

    @cached_property
    def _moves(self) -> np.ndarray:
        """Shift in columns and rows, roll, turn, tilt and nearness (count, 6)."""
        rng = np.random.default_rng(self.seed)

        def wander(size: float, smooth: float) -> np.ndarray:
            raw = rng.normal(size=self.count + 400)
            x = ndimage.gaussian_filter1d(raw, smooth * self.rate)[200:-200]
            return size * x / max(np.std(ndimage.gaussian_filter1d(raw, smooth * self.rate)), 1e-12)

        scale = self.shake * self.size[0] / 1280
        columns, rows = (wander(2 * scale, 0.5) + wander(0.5 * scale, 0.08) for _ in range(2))
        roll, turn, tilt, near = (
            wander(self.shake * size, 0.6) for size in (0.002, 0.001, 0.001, 0.0012)
        )
        moves = np.column_stack([columns, rows, roll, turn, tilt, near])
        if self.push is not None:
            moves[self.push[0] :, :2] += self.push[1:]
        return moves

    def camera(self, number: int) -> Camera:
        """Where the camera stands at a frame."""
        u0, v0, u1, v1 = self.grid.rectangle
        width, height = self.size
        column, row, roll, turn, tilt, near = self._moves[number]
        per_m = 0.72 * min(width / (u1 - u0), height / (v1 - v0))
        aim = ((u0 + u1) / 2 - column / per_m, (v0 + v1) / 2 + row / per_m)
        focal = 1.2 * width
        return Camera(
            aim,
            focal / per_m * (1 + near),
            0.2 + turn,
            -0.12 + tilt,
            0.03 + roll,
            focal,
            self.lens,
            self.size,
        )

    def heights(self, number: int, u: np.ndarray) -> np.ndarray:
        """Height of the middle of the line at places u."""
        time = number / self.rate
        if self.line is not None:
            return self.line(time, u)
        end = self.end(time) if self.end else self.swing * np.sin(2 * np.pi * time / self.seconds)
        return end * self._shape(u)

    def _shape(self, u: np.ndarray) -> np.ndarray:
        """Height of a line whose end is 1: bent within the plates, straight behind."""
        x, last, plates = u - 0.009, self.grid.rectangle[2] - 0.009, 0.076

        def bent(at: np.ndarray) -> np.ndarray:
            inside = np.minimum(np.maximum(at, 0.0), plates)
            return inside**2 + 2 * plates * np.maximum(at - plates, 0.0)

        return bent(np.asarray(x)) / bent(np.asarray(last))

    def hidden(self, number: int) -> tuple[float, float] | None:
        """From where to where along u the hand covers the line."""
        if not self.hand[0] <= number < self.hand[1]:
            return None
        middle = 0.05 + 0.012 * (number - self.hand[0]) / self.rate
        return middle - 0.009, middle + 0.009

    def frame(self, number: int) -> np.ndarray:
        """Red, green and blue as stored (rows, columns, 3)."""
        width, height = self.size
        rng = np.random.default_rng([self.seed, number])
        row, column = np.mgrid[0 : height + _MESH : _MESH, 0 : width + _MESH : _MESH]
        mesh = self.camera(number).places(np.column_stack([column.ravel(), row.ravel()]))
        u0, _, u1, _ = self.grid.rectangle
        # A height for each tenth of a millimetre; the slope comes from neighbours.
        u = np.linspace(u0, u1, 2048)
        time = number / self.rate
        exposure = 1 + self.drift * (np.sin(2 * np.pi * time / 7.3) + 0.4 * np.sin(time / 0.27))
        hand = self.hidden(number) or (1e3, 1e3)
        noise = rng.standard_normal((height, width, 3), dtype=np.float32)
        out = np.empty((height, width, 3), np.uint8)
        _draw(
            out,
            noise,
            mesh.reshape(*row.shape, 2),
            np.array(self.grid.rectangle),
            self.grid.pitch,
            self.heights(number, u),
            np.array(
                [*hand, self.room, self.beam, self.grid_darkness, exposure, self.noise, self.sigma]
            ),
            _CURVE,
        )
        return out

    def luma(self, number: int) -> np.ndarray:
        """The grey of a frame in the full range (rows, columns)."""
        weights = np.array([0.2126, 0.7152, 0.0722], np.float32)  # ITU-R BT.709
        return np.rint(self.frame(number) @ weights).astype(np.uint8)

    def clicked(self, number: int = 0, *, uncertainty: float = 0.0) -> ScreenMap:
        """Give the map from crossings clicked with errors of that size in pixels."""
        places = [(u, v) for u in self.grid.u[::2] for v in self.grid.v[::2]]
        points: tuple[GridPoint, ...] = self.camera(number).clicks(
            places, uncertainty=uncertainty, seed=self.seed
        )
        points = tuple(replace(each, uncertainty=max(uncertainty, 0.1)) for each in points)
        return fit_map(self.size, points, self.grid.rectangle, lens=True)

    def frames(self) -> Iterator[np.ndarray]:
        """All frames."""
        return (self.frame(n) for n in range(self.count))


@numba.njit(parallel=True, cache=True)
def _draw(out, noise, mesh, rectangle, pitch, heights, how, curve):
    u0, v0, u1, v1 = rectangle
    hand0, hand1, room_light, beam, darkness, exposure, read, sigma = how
    rows, columns, _ = out.shape
    for y in numba.prange(rows):
        for x in range(columns):
            i, j = y // _MESH, x // _MESH
            a, b = (y % _MESH) / _MESH, (x % _MESH) / _MESH
            place = (1 - a) * ((1 - b) * mesh[i, j] + b * mesh[i, j + 1]) + a * (
                (1 - b) * mesh[i + 1, j] + b * mesh[i + 1, j + 1]
            )
            u, v = place[0], place[1]
            room, glow, through = 0.25 * room_light, 0.0, 1.0
            if u0 <= u <= u1 and v0 <= v <= v1:
                along = (u - u0) / (u1 - u0)
                room = room_light * (1 + 0.4 * (along - 0.5))
                at = along * (len(heights) - 1.001)
                k = int(at)
                step = heights[k + 1] - heights[k]
                slope = step * (len(heights) - 1) / (u1 - u0)
                off = (v - heights[k] - (at - k) * step) / np.sqrt(1 + slope * slope) / sigma
                glow = (
                    beam
                    * (1 - 0.45 * along)
                    * (np.exp(-0.5 * off * off) + 0.05 * np.exp(-0.5 * (off / 6) ** 2))
                )
                gu = abs((u / pitch + 0.5) % 1.0 - 0.5) * pitch
                gv = abs((v / pitch + 0.5) % 1.0 - 0.5) * pitch
                printed = 1 / (1 + np.exp(min((min(gu, gv) - 0.18e-3) / 0.06e-3, 50.0)))
                through = 1 - darkness * printed
            middle, half = (hand0 + hand1) / 2, (hand1 - hand0) / 2
            if hand0 < u < hand1:
                part = (u - middle) / half
                if v < v1 - 3e-3 - 10e-3 * part * part:
                    room, glow, through = 1.5 * room_light, 0.0, 1.0
            for c in range(3):
                colour = (0.25, 0.95, 0.6)[c]
                lamp = (1.0, 0.85, 0.65)[c]
                light = exposure * (colour * glow + lamp * room) * through
                light += noise[y, x, c] * np.sqrt(max(light, 0.0) / 4000 + read * read)
                out[y, x, c] = curve[min(max(int(light * 4095 + 0.5), 0), 4095)]


def write_film(path: Path, film: RenderedFilm, *, codec: str = "libx264", crf: int = 19) -> None:
    """Write a film to a file as telephones do, without sound."""
    import av

    with av.open(str(path), "w") as file:
        options = {"preset": "veryfast", "crf": str(crf)}
        stream = file.add_stream(codec, rate=round(film.rate), options=options)
        stream.width, stream.height = film.size
        stream.pix_fmt = "yuv420p"
        for pixels in film.frames():
            file.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgb24")))
        file.mux(stream.encode())
