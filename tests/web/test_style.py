"""Contrast of the page's colours, by the definition of WCAG 2.2 (relative luminance, ratio).

https://www.w3.org/TR/WCAG22/#dfn-relative-luminance and #dfn-contrast-ratio; formulas from memory.
"""

from __future__ import annotations

import re
from importlib import resources

import pytest

from glowtrace.web.surface import GAS_GLOW, PHOSPHOR_GLOW

CSS = (resources.files("glowtrace.web") / "static" / "style.css").read_text("utf-8")


def _colour(name: str) -> tuple[int, int, int]:
    found = re.search(rf"--{name}: #([0-9a-f]{{6}});", CSS)
    assert found is not None, f"no colour --{name}"
    red, green, blue = bytes.fromhex(found[1])
    return red, green, blue


def _luminance(colour: tuple[int, int, int]) -> float:
    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = map(linear, colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_21_for_white_on_black() -> None:
    assert _contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)


@pytest.mark.parametrize("text", ["text", "text-quiet", "warning"])
@pytest.mark.parametrize("ground", ["ground", "raised", "sheet"])
def test_every_text_passes_level_aa(text: str, ground: str) -> None:
    assert _contrast(_colour(text), _colour(ground)) >= 4.5


@pytest.mark.parametrize("glow", [PHOSPHOR_GLOW, GAS_GLOW])
def test_the_glow_stands_out_from_the_screen(glow: tuple[int, int, int]) -> None:
    assert _contrast(glow, _colour("sheet")) >= 7
