"""A bench in two views with its dimensions, each with a letter: for forms and measuring sheets.

Seen from the audience (x to the right, y up) and from above (x to the right, z towards the reader).
Only the parts that are there are drawn, so that a bench can be drawn while it is described.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import escape
from string import ascii_uppercase
from typing import Final

from glowtrace.bench.conflicts import Assembly
from glowtrace.bench.geometry import plate_edges
from glowtrace.bench.parts import CoilPair, Cylinder, EndFace, GasGlow, LongCoil, Sheet, Sphere
from glowtrace.report.look import DARK, Look

WIDTH: Final = 420.0
"""Of the drawing, in its own units; letters are 12 high."""
_BODY: Final = 300.0
"""Width of the bench in it; the dimension lines stand around."""
_ROW: Final = 19.0
_CAN: Final = 0.45
"""Radius of the gun behind the anode, of the anode's; a picture of it, not a number."""

Point = tuple[float, float]


@dataclass(frozen=True)
class BenchDrawing:
    """A drawing and its letters.

    Attributes
    ----------
    svg
        The drawing. The group of a dimension has the number's path as ``data-number``.
    height
        Of the drawing, where its width is `WIDTH`.
    letters
        The letter of each number that is drawn, by its path in the bench file.
    """

    svg: str
    height: float
    letters: Mapping[str, str]


def draw_bench(
    parts: Assembly, look: Look = DARK, wrong: frozenset[str] = frozenset()
) -> BenchDrawing:
    """Draw the parts of a bench that are there, with a letter at each dimension.

    Parameters
    ----------
    parts
        The parts.
    look
        For the dark room or for paper.
    wrong
        Paths of numbers that contradict others; their dimensions have the class ``is-wrong``.
    """
    low, high = _reach(parts)
    scale = _BODY / max(high - low, 1e-3)
    front, above = _View("from the audience", scale, low), _View("from above", scale, low)
    for draw in (_glass, _coils, _gun, _plates, _screen):
        draw(parts, front, above)
    letters: dict[str, str] = {}
    shapes, height = "", 0.0
    for view in (front, above):
        drawn, tall = view.drawn(letters, look)
        shapes += f'<g transform="translate(0 {height:.1f})">{drawn}</g>'
        height += tall
    for number in wrong & letters.keys():
        plain = f'data-number="{escape(number)}" class="dimension'
        shapes = shapes.replace(plain, f"{plain} is-wrong")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:.1f}" '
        f'role="img" aria-label="The bench in two views, a letter at each dimension" fill="none" '
        f'stroke="{look.ink}" stroke-width="1.2" font-family="DejaVu Sans" font-size="12">'
        f"{shapes}</svg>"
    )
    return BenchDrawing(svg, height, letters)


@dataclass
class _View:
    """One view in the making: shapes and dimensions in m, from left to right and upwards."""

    title: str
    scale: float
    left: float
    shapes: list[tuple[str, list[Point]]] = field(default_factory=list)
    """Each with its style: "part", "glass", "coil", "axis" or "screen"."""
    circles: list[tuple[Point, float, float]] = field(default_factory=list)
    """Rings: centre, outer and inner radius; without an inner one, a circle of glass."""
    across: list[tuple[str, float, float]] = field(default_factory=list)
    """Dimensions along x: path of the number, from, to."""
    upright: list[tuple[str, float, float]] = field(default_factory=list)
    leaders: list[tuple[str, Point, Point]] = field(default_factory=list)
    """Dimensions in their own place, such as radii: path, from, to."""

    def box(self, style: str, x: Point, y: Point) -> None:
        self.line(style, (x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1]), (x[0], y[0]))

    def line(self, style: str, *points: Point) -> None:
        self.shapes.append((style, list(points)))

    def drawn(self, letters: dict[str, str], look: Look) -> tuple[str, float]:
        """Give the SVG of the view and its height; new letters are added to `letters`."""
        low, high = self._heights()
        top = 22.0
        ground = top + (high - low) * self.scale + 8.0
        styles = {
            "part": f'stroke="{look.ink}" stroke-width="2"',
            "glass": f'stroke="{look.quiet}"',
            "coil": f'stroke="{look.quiet}" fill="{look.grid}"',
            "axis": f'stroke="{look.quiet}" stroke-dasharray="7 3 1.5 3" stroke-width="0.8"',
            "screen": f'stroke="{look.ink}" stroke-dasharray="3 2.5"',
        }

        def at(point: Point) -> Point:
            return 14.0 + (point[0] - self.left) * self.scale, top + (high - point[1]) * self.scale

        text = f'<text x="0" y="11" stroke="none" fill="{look.quiet}">{self.title}</text>'
        for centre, outer, inner in self.circles:
            rings = "".join(_circle(at(centre), r * self.scale) for r in (outer, inner) if r > 0.0)
            style = styles["coil" if inner > 0.0 else "glass"]
            text += f'<path d="{rings}" fill-rule="evenodd" {style}/>'
        for style, points in self.shapes:
            path = "L".join(f"{x:.1f} {y:.1f}" for x, y in map(at, points))
            text += f'<path d="M{path}" {styles[style]}/>'
        for row, (number, start, end) in enumerate(sorted(self.across, key=_length)):
            y = ground + _ROW * (row + 0.5)
            ends = (at((start, 0.0))[0], y), (at((end, 0.0))[0], y)
            text += _dimension(number, _letter(number, letters), *ends, look, ground - 8.0)
        column = at((self._right(), 0.0))[0] + 4.0
        for place, (number, start, end) in enumerate(sorted(self.upright, key=_length)):
            x = column + _ROW * (place + 0.5)
            ends = (x, at((0.0, start))[1]), (x, at((0.0, end))[1])
            text += _dimension(number, _letter(number, letters), *ends, look)
        for number, start_at, end_at in self.leaders:
            text += _dimension(number, _letter(number, letters), at(start_at), at(end_at), look)
        return text, ground + _ROW * len(self.across) + 10.0

    def _heights(self) -> Point:
        heights = [y for _, points in self.shapes for _, y in points]
        heights += [y + side * r for (_, y), r, _ in self.circles for side in (-1, 1)]
        return min(heights), max(heights)

    def _right(self) -> float:
        ends = [x for _, points in self.shapes for x, _ in points]
        return max(ends + [x + r for (x, _), r, _ in self.circles])


def _circle(centre: Point, radius: float) -> str:
    """Give a circle as a path."""
    x, half, across = centre[0] - radius, f"a{radius:.1f} {radius:.1f} 0 1 0", 2 * radius
    return f"M{x:.1f} {centre[1]:.1f}{half} {across:.1f} 0{half} {-across:.1f} 0"


def _length(dimension: tuple[str, float, float]) -> float:
    return abs(dimension[2] - dimension[1])


def _letter(number: str, letters: dict[str, str]) -> str:
    """Give a number's letter; after Z come AA, AB and so on."""
    if number not in letters:
        rounds, place = divmod(len(letters), 26)
        letters[number] = (ascii_uppercase[rounds - 1] if rounds else "") + ascii_uppercase[place]
    return letters[number]


def _dimension(
    number: str, letter: str, start: Point, end: Point, look: Look, rise: float | None = None
) -> str:
    """Draw a dimension line with its letter; `rise`: y up to which its ends are drawn out."""
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0)
    ends = ""
    if length > 0.5:
        along = ((x1 - x0) / length, (y1 - y0) / length)
        reach = min(5.0, length / 3)
        for (x, y), way in ((start, 1), (end, -1)):
            tip = [
                (reach * along[0] * way, reach * along[1] * way),
                (along[1] * 2.2, -along[0] * 2.2),
            ]
            for side in (1, -1):
                dx, dy = tip[0][0] + side * tip[1][0], tip[0][1] + side * tip[1][1]
                ends += f"M{x:.1f} {y:.1f}l{dx:.1f} {dy:.1f}"
    if rise is not None:
        ends += "".join(f"M{x:.1f} {y0 + 3:.1f}V{rise:.1f}" for x in (x0, x1))
    beside = length < 16.0
    x, y = (x1 + 9.0, y1 + 4.0) if beside else ((x0 + x1) / 2, (y0 + y1) / 2 + 4.0)
    return (
        f'<g data-number="{escape(number)}" class="dimension" stroke="{look.quiet}" '
        f'stroke-width="0.8"><path d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}{ends}"/>'
        f'<circle cx="{x:.1f}" cy="{y - 4:.1f}" r="8" stroke="none" fill="{look.ground}"/>'
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" stroke="none" fill="{look.ink}">'
        f"{letter}</text></g>"
    )


def _reach(parts: Assembly) -> Point:
    """Give the leftmost and the rightmost x of the parts, m."""
    ends = [0.0, 0.01]
    glass, coils, screen = parts.envelope, parts.coils, parts.screen
    if isinstance(glass, Sphere):
        ends += [glass.centre[0] - glass.radius, glass.centre[0] + glass.radius]
    if isinstance(glass, Cylinder):
        ends += [glass.x_from, glass.x_to]
    if isinstance(coils, CoilPair):
        outer = coils.mean_radius + coils.winding_depth / 2
        ends += [coils.centre[0] - outer, coils.centre[0] + outer]
    if isinstance(coils, LongCoil):
        ends += [coils.x_from, coils.x_to]
    if parts.plates:
        ends += [parts.plates.start, parts.plates.start + parts.plates.length]
    if screen:
        ends += [screen.x] if isinstance(screen, EndFace) else [screen.x_from, screen.x_to]
    if parts.gun:
        ends.append(-1.6 * _CAN * parts.gun.anode_radius)
    return min(ends), max(ends)


def _gun(parts: Assembly, front: _View, above: _View) -> None:
    low, high = _reach(parts)
    gun = parts.gun
    for view in (front, above):
        view.line("axis", (low, 0.0), (high, 0.0))
    if gun is None:
        return
    x, radius = 0.0, gun.anode_radius
    for view, hole in ((front, gun.aperture_height), (above, gun.aperture_width)):
        for side in (1, -1):
            view.line("part", (x, side * hole / 2), (x, side * radius))
        view.box("glass", (x - 1.6 * _CAN * radius, x), (-_CAN * radius, _CAN * radius))
    front.leaders.append(
        ("gun.anode_radius", (x - 0.15 * radius, 0.0), (x - 0.15 * radius, radius))
    )


def _plates(parts: Assembly, front: _View, above: _View) -> None:
    plates = parts.plates
    if plates is None:
        return
    start, end = plates.start, plates.start + plates.length
    for edge in plate_edges(plates):
        front.line("part", (edge.x_near, edge.y_near), (edge.x_far, edge.y_far))
    above.box("part", (start, end), (-plates.width / 2, plates.width / 2))
    front.across += [("plates.length", start, end), ("plates.start", 0.0, start)]
    middle = plates.height_offset
    front.upright.append(("plates.gap", middle - plates.gap / 2, middle + plates.gap / 2))
    above.upright.append(("plates.width", -plates.width / 2, plates.width / 2))


def _screen(parts: Assembly, front: _View, above: _View) -> None:
    screen = parts.screen
    if isinstance(screen, Sheet):
        x, half = (screen.x_from, screen.x_to), screen.height / 2
        front.box("screen", x, (-half, half))
        # From above, z towards the reader points down the page.
        above.line("screen", (screen.x_from, -screen.z_from), (screen.x_to, -screen.z_to))
        front.across += [("screen.x_from", 0.0, x[0]), ("screen.x_to", 0.0, x[1])]
        front.upright.append(("screen.height", -half, half))
        for name, place, z in (("z_from", x[0], screen.z_from), ("z_to", x[1], screen.z_to)):
            above.leaders.append((f"screen.{name}", (place, 0.0), (place, -z)))
    if isinstance(screen, EndFace):
        for view, size, name in ((front, screen.height, "height"), (above, screen.width, "width")):
            view.line("screen", (screen.x, -size / 2), (screen.x, size / 2))
            view.upright.append((f"screen.{name}", -size / 2, size / 2))
        front.across.append(("screen.x", 0.0, screen.x))
    if isinstance(screen, GasGlow):
        front.box("screen", (screen.x_from, screen.x_to), (screen.y_from, screen.y_to))


def _glass(parts: Assembly, front: _View, above: _View) -> None:
    glass = parts.envelope
    if isinstance(glass, Sphere):
        x, y, z = glass.centre
        for view, height in ((front, y), (above, -z)):
            view.circles.append(((x, height), glass.radius, 0.0))
        slant = glass.radius / math.sqrt(2)
        front.leaders.append(("envelope.radius", (x, y), (x - slant, y + slant)))
    if isinstance(glass, Cylinder):
        for view in (front, above):
            view.box("glass", (glass.x_from, glass.x_to), (-glass.radius, glass.radius))
        front.across += [("envelope.x_from", glass.x_from, 0.0), ("envelope.x_to", 0.0, glass.x_to)]
        middle = glass.x_from + 0.35 * (glass.x_to - glass.x_from)
        above.leaders.append(("envelope.radius", (middle, 0.0), (middle, glass.radius)))


def _coils(parts: Assembly, front: _View, above: _View) -> None:
    coils = parts.coils
    if isinstance(coils, CoilPair):
        x, y, z = coils.centre
        inner, outer = _radii(coils)
        front.circles.append(((x, y), outer, inner))
        slant = coils.mean_radius / math.sqrt(2)
        front.leaders.append(("coils.mean_radius", (x, y), (x + slant, y + slant)))
        half = coils.winding_width / 2
        for level in (-z + coils.spacing / 2, -z - coils.spacing / 2):
            for side in (1, -1):
                ends = sorted((x + side * inner, x + side * outer))
                above.box("coil", (ends[0], ends[1]), (level - half, level + half))
        level = -z - coils.spacing / 2 - half
        above.upright.append(("coils.spacing", -z - coils.spacing / 2, -z + coils.spacing / 2))
        above.across.append(("coils.winding_depth", x + inner, x + outer))
        above.across.append(("coils.centre", 0.0, x))
        edge = x - outer - 0.04 * outer
        above.leaders.append(("coils.winding_width", (edge, level), (edge, level + 2 * half)))
    if isinstance(coils, LongCoil):
        inner, outer = _radii(coils)
        for view, shift in ((front, coils.shift_y), (above, -coils.shift_z)):
            for side in (1, -1):
                walls = sorted((shift + side * inner, shift + side * outer))
                view.box("coil", (coils.x_from, coils.x_to), (walls[0], walls[1]))
        front.across += [("coils.x_from", coils.x_from, 0.0), ("coils.x_to", 0.0, coils.x_to)]
        middle = coils.x_from + 0.6 * (coils.x_to - coils.x_from)
        mean = coils.shift_y + coils.mean_radius
        front.leaders.append(("coils.mean_radius", (middle, coils.shift_y), (middle, mean)))


def _radii(coils: CoilPair | LongCoil) -> Iterator[float]:
    """Give the inner and the outer radius of a winding, m."""
    yield coils.mean_radius - coils.winding_depth / 2
    yield coils.mean_radius + coils.winding_depth / 2
