"""Symbols of circuit diagrams as fragments of SVG: black on white, sizes in the drawing's units."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

HOP = 6.0
"""Radius of the bow with which one wire passes over another that it does not touch."""
SMALL = 15.7
"""Smallest letters: 9 points where the drawing is as wide as a page of A4 between its margins."""
_LABEL = SMALL
_LETTER_WIDTH = 0.62
"""Width of a letter as a share of its size, on the wide side."""


def wire(points: Sequence[Point], hops: Sequence[Point] = ()) -> str:
    """A wire along straight pieces, with a bow over another wire at each hop on a level piece."""
    x, y = points[0]
    path = f"M{_n(x)} {_n(y)}"
    for to_x, to_y in points[1:]:
        way = 1.0 if to_x > x else -1.0
        crossed = [h for h in hops if h[1] == y == to_y and min(x, to_x) < h[0] < max(x, to_x)]
        for hop_x, hop_y in sorted(crossed, reverse=way < 0):
            sweep = 1 if way > 0 else 0
            path += f"L{_n(hop_x - way * HOP)} {_n(hop_y)}"
            path += f"A{_n(HOP)} {_n(HOP)} 0 0 {sweep} {_n(hop_x + way * HOP)} {_n(hop_y)}"
        path += f"L{_n(to_x)} {_n(to_y)}"
        x, y = to_x, to_y
    return f'<path d="{path}"/>'


def joint(at: Point) -> str:
    """A dot where wires are joined."""
    return f'<circle cx="{_n(at[0])}" cy="{_n(at[1])}" r="3.2" fill="#000"/>'


def terminal(at: Point, name: str) -> str:
    """A terminal on the upper edge of a box, with its name beside the wire."""
    x, y = at
    ring = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="4" fill="#fff"/>'
    return ring + label((x + 8, y - 7), name, size=SMALL)


def number(at: Point, value: int) -> str:
    """The number of a lead, in a ring on its wire."""
    x, y = at
    ring = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="13" fill="#fff" stroke-width="1"/>'
    return ring + label((x, y + 5.5), str(value), anchor="middle", size=SMALL)


def meter(at: Point, letter: str) -> str:
    """A meter: V for a voltage, A for a current."""
    x, y = at
    ring = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="16" fill="#fff"/>'
    return ring + label((x, y + 5.5), letter, anchor="middle", size=16.0)


def earth(at: Point) -> str:
    """The protective earth, hanging from a point."""
    x, y = at
    bars = "".join(f"M{_n(x - w)} {_n(y + d)}H{_n(x + w)}" for w, d in ((14, 12), (9, 18), (4, 24)))
    return f'<path d="M{_n(x)} {_n(y)}V{_n(y + 12)}{bars}"/>'


def coil(x: float, top: float, bottom: float) -> str:
    """A coil, upright, as a row of four half rounds."""
    radius = (bottom - top) / 8
    arcs = "".join(f"a{_n(radius)} {_n(radius)} 0 0 1 0 {_n(2 * radius)}" for _ in range(4))
    return f'<path d="M{_n(x)} {_n(top)}{arcs}"/>'


def resistor(x: float, top: float, bottom: float) -> str:
    """A resistor, upright."""
    return (
        f'<rect x="{_n(x - 7)}" y="{_n(top)}" width="14" height="{_n(bottom - top)}" fill="#fff"/>'
    )


def arrow(start: Point, end: Point) -> str:
    """A level arrow, such as the tap of a divider."""
    (x, y), (to_x, to_y) = start, end
    back = 8 if to_x < x else -8
    return (
        f'<path d="M{_n(x)} {_n(y)}H{_n(to_x)}m{_n(back)} -5L{_n(to_x)} {_n(to_y)}l{_n(back)} 5"/>'
    )


def box(left: float, top: float, right: float, bottom: float, lines: Sequence[str]) -> str:
    """A supply as a box with its name and what is set on it."""
    middle = (left + right) / 2
    frame = (
        f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(right - left)}" '
        f'height="{_n(bottom - top)}" rx="3" fill="#fff"/>'
    )
    first = (top + bottom) / 2 + 5 - 9 * (len(lines) - 1)
    return frame + "".join(
        label((middle, first + 18 * n), line, anchor="middle") for n, line in enumerate(lines)
    )


def label(at: Point, text: str, *, anchor: Anchor = "start", size: float = _LABEL) -> str:
    """Text, standing on a point."""
    return (
        f'<text x="{_n(at[0])}" y="{_n(at[1])}" text-anchor="{anchor}" '
        f'font-size="{_n(size)}">{escape(text)}</text>'
    )


def shortened(text: str, width: float, size: float = _LABEL) -> str:
    """Give a text that fits a width, cut with an ellipsis where it must be."""
    letters = int(width / (size * _LETTER_WIDTH))
    return text if len(text) <= letters else text[: max(letters - 1, 1)] + "…"


def drawing(width: float, height: float, title: str, parts: Sequence[str]) -> str:
    """The whole drawing: white ground, black lines."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
        f'width="{_n(width)}" height="{_n(height)}" role="img">'
        f"<title>{escape(title)}</title>"
        '<rect width="100%" height="100%" fill="#fff"/>'
        '<g fill="none" stroke="#000" stroke-width="1.6" stroke-linejoin="round">'
        "<style>text{fill:#000;stroke:none;font-family:'DejaVu Sans',Arial,sans-serif}</style>"
        + "\n".join(parts)
        + "</g></svg>\n"
    )


def _n(value: float) -> str:
    """A coordinate, as short as it can be."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
