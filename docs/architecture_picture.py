"""Draw the architecture as SVG: from bench and settings to a picture, and who may import whom.

The layers are read from the contract in pyproject.toml that import-linter enforces, so the drawing
cannot claim what the code does not keep.
"""

from __future__ import annotations

import tomllib
from html import escape
from pathlib import Path

WIDTH = 940
INK, GROUND, FRAME, GLOW = "#2b2320", "#fffaf2", "#a08f7e", "#a34a00"
FONT = "font-family='system-ui, sans-serif'"

PIPELINE = (
    ("bench + settings", "apparatus, place, knobs and switches"),
    ("fields", "electrodes, coils, Earth"),
    ("bundle", "electrons from the gun"),
    ("trace", "each one to its end"),
    ("picture", "light on the screen"),
)
MOST_SIDE_BY_SIDE = 3
TELLS = {
    "errors": "the hierarchy of everything raised on purpose",
    "version": "its number",
    "units": "“3.2 kV” to volts",
    "constants": "CODATA values",
    "compiled": "machine code that is kept",
    "disk": "files written whole",
    "findings": "keys and numbers",
    "shown": "pictures in notebooks, by name",
    "watching": "how far long work is",
    "fields": "surface charge of the electrodes, coils, Earth’s field, the compiled field map",
    "beam": "gun, tracing kernel, screens: arrays and SI numbers only",
    "bench": "the frozen description, its files and ratings, the one forward model",
    "demos": "what each demonstration shows: its goal, its closed forms, its cautions",
    "plan": "settings for a goal, wiring",
    "safety": "limits, heat, stray field",
    "measure": "e/m, with uncertainty",
    "faults": "which fault looks like it",
    "light": "brightness and camera",
    "sweeps": "what changes with a knob",
    "studies": "many imagined benches at once",
    "explain": "forces, energy, frames",
    "shots": "how it is filmed: frame, exposure, leads",
    "photographs": "a screen in a photograph: its grid, its line, how well each is known",
    "films": "the same in every frame of a film or a live camera",
    "words": "findings in words, in the reader’s language",
    "report": "figures, sheets, clips",
    "store": "benches, settings, logbook",
    "lesson": "questions to learners, their answers and readings, and what these mean",
    "web": "the page",
    "cli": "the command line",
}


def layers_of(pyproject: Path) -> list[list[str]]:
    """Read the layers, highest first, each a list of names side by side; only what there is."""
    contracts = tomllib.loads(pyproject.read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    (layers,) = [contract["layers"] for contract in contracts if contract["type"] == "layers"]
    package = pyproject.parent / "src" / "glowtrace"
    modules = [*package.glob("*.py"), *(path.parent for path in package.glob("*/__init__.py"))]
    there = {module.stem for module in modules}
    named = [[name.strip(" ()") for name in layer.split("|")] for layer in layers]
    return [[name for name in layer if name in there] for layer in named]


def architecture_picture(pyproject: Path) -> str:
    """Give the whole drawing as SVG text."""
    layers = layers_of(pyproject)
    body = [*_pipeline(top=64)]
    top = 196
    body.append(_text(24, top - 20, "Layers: each imports only what lies below it", 17, bold=True))
    for layer in layers:
        for first in range(0, len(layer), MOST_SIDE_BY_SIDE):
            body.extend(_layer(layer[first : first + MOST_SIDE_BY_SIDE], top))
            top += 52
        top += 8
    height = top + 12
    return "\n".join(
        [
            f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {height}' role='img' "
            "aria-label='A bench and settings give fields, a bundle, a trace and a picture; "
            "below, the layers of the code'>",
            f"<rect width='{WIDTH}' height='{height}' fill='{GROUND}'/>",
            _text(
                24, 40, "One forward model: a bench plus settings gives a picture", 17, bold=True
            ),
            *body,
            "</svg>\n",
        ]
    )


def _pipeline(top: int) -> list[str]:
    gap, left = 26, 24
    wide = (WIDTH - 2 * left - gap * (len(PIPELINE) - 1)) / len(PIPELINE)
    drawn = []
    for step, (name, tells) in enumerate(PIPELINE):
        x = left + step * (wide + gap)
        drawn.append(_box(x, top, wide, 76, GLOW))
        drawn.append(_text(x + wide / 2, top + 28, name, 15, bold=True, middle=True))
        for line, words in enumerate(_in_lines(tells, 23)):
            drawn.append(_text(x + wide / 2, top + 48 + 16 * line, words, 12.5, middle=True))
        if step:
            tip, y = x - 4, top + 38
            drawn.append(
                f"<path d='M{tip - gap + 8} {y}H{tip - 6}m0 -5l7 5l-7 5' "
                f"fill='none' stroke='{GLOW}' stroke-width='2'/>"
            )
    return drawn


def _layer(names: list[str], top: int) -> list[str]:
    left, gap = 24, 14
    wide = (WIDTH - 2 * left - gap * (len(names) - 1)) / len(names)
    drawn = []
    for place, name in enumerate(names):
        x = left + place * (wide + gap)
        drawn.append(_box(x, top, wide, 46, FRAME))
        drawn.append(_text(x + 16, top + 29, name, 16, bold=True))
        drawn.append(_text(x + (112 if len(names) > 2 else 118), top + 29, TELLS[name], 13))
    return drawn


def _in_lines(words: str, longest: int) -> list[str]:
    lines = [""]
    for word in words.split():
        joined = f"{lines[-1]} {word}".strip()
        lines[-1:] = [joined] if len(joined) <= longest else [lines[-1], word]
    return lines


def _box(x: float, y: float, wide: float, high: float, stroke: str) -> str:
    return (
        f"<rect x='{x:.1f}' y='{y}' width='{wide:.1f}' height='{high}' rx='4' "
        f"fill='none' stroke='{stroke}' stroke-width='1.5'/>"
    )


def _text(
    x: float, y: float, words: str, size: float, *, bold: bool = False, middle: bool = False
) -> str:
    style = " font-weight='600'" if bold else ""
    style += " text-anchor='middle'" if middle else ""
    place = f"x='{x:.1f}' y='{y}' fill='{INK}'"
    return f"<text {place} {FONT} font-size='{size}'{style}>{escape(words)}</text>"
