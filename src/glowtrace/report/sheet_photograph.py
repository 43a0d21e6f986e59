"""A photograph on a printed sheet, as SVG with the picture inside it."""

from __future__ import annotations

import base64
import io
from typing import Final

from PIL import Image

from glowtrace.photographs.photograph import Photograph

MOST_ACROSS: Final = 1600
"""Pixels along the longer side: enough for 300 dots an inch at half the width of a page."""
_QUALITY: Final = 88


def photograph_svg(photograph: Photograph) -> str:
    """Give a photograph as SVG text, made smaller where it has more pixels than paper shows.

    Parameters
    ----------
    photograph
        Upright, as `glowtrace.photographs.photograph.load_photograph` gives it.
    """
    image = Image.fromarray(photograph.pixels)
    image.thumbnail((MOST_ACROSS, MOST_ACROSS))
    written = io.BytesIO()
    image.save(written, format="JPEG", quality=_QUALITY)
    content = base64.b64encode(written.getvalue()).decode("ascii")
    width, height = image.size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}"><image width="{width}" height="{height}" '
        f'href="data:image/jpeg;base64,{content}"/></svg>'
    )
