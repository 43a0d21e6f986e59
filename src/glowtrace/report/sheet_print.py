"""Printed sheets: a Typst template and plain data make a PDF, the same bytes each time.

The data reach the template as JSON and are shown as text, so that nothing in them can act as
markup. Fonts come with Typst (Libertinus Serif) and with matplotlib (DejaVu Sans), never from the
system: a sheet looks the same everywhere.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal, get_args

import matplotlib as mpl
import typst

from glowtrace.errors import GlowtraceError, Problem

Paper = Literal["a4", "us-letter"]
"""ISO A4, or 8.5 by 11 inches."""

_STYLE: Final = "sheet.typ"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:[kMmµ]?(?:V|A|W|Ω|m|s|F|T|eV|Hz)|ohm|min|°C|%|×)(?!\w))")
_COMPILER: Final[Any] = typst  # its stubs do not know of several files in memory


def require_paper(paper: str) -> Paper:
    """Give a known size of paper.

    Raises
    ------
    GlowtraceError
        The size is another one; its text names those that there are.
    """
    for known in get_args(Paper):
        if paper == known:
            return known  # type: ignore[no-any-return]
    choice = " or ".join(f'"{each}"' for each in get_args(Paper))
    raise GlowtraceError(Problem("paper", f'"{paper}"', f"choose {choice}"))


def print_sheet(
    template: str,
    data: Mapping[str, Any],
    paper: str,
    drawings: Mapping[str, str] | None = None,
) -> bytes:
    """Give the PDF of a template of this package.

    Parameters
    ----------
    template
        File name of the template.
    data
        Plain data, which the template reads from ``data.json``.
    paper
        See `Paper`.
    drawings
        SVG text by the file name that the template is told in ``data``.

    Raises
    ------
    GlowtraceError
        An unknown paper.
    """
    given = _files(template, data, paper, drawings)
    # A fixed time, so that the same sheet is the same file.
    return bytes(_COMPILER.compile(given, font_paths=_fonts(), format="pdf", timestamp=0))


def show_pages(
    template: str,
    data: Mapping[str, Any],
    paper: str,
    drawings: Mapping[str, str] | None = None,
    *,
    pixels_per_inch: float = 96.0,
) -> tuple[bytes, ...]:
    """Give the pages of a sheet as PNG files, to look at on a screen.

    Parameters
    ----------
    template, data, paper, drawings
        As for `print_sheet`.
    pixels_per_inch
        How fine.
    """
    given = _files(template, data, paper, drawings)
    pages = _COMPILER.compile(given, font_paths=_fonts(), format="png", ppi=pixels_per_inch)
    return tuple(map(bytes, pages)) if isinstance(pages, list) else (bytes(pages),)


def unbroken(data: Any) -> Any:
    """Give data of a sheet with numbers and their units held together; drawings as they are."""
    if isinstance(data, str):
        return data if data.startswith("<svg") else _BEFORE_UNIT.sub("\u00a0", data)
    if isinstance(data, dict):
        return {key: unbroken(value) for key, value in data.items()}
    return [unbroken(each) for each in data] if isinstance(data, list | tuple) else data


def _files(
    template: str, data: Mapping[str, Any], paper: str, drawings: Mapping[str, str] | None
) -> dict[str, bytes]:
    """Give all that the compiler reads, by name."""
    own = files("glowtrace.report")
    content = {**data, "paper": require_paper(paper)}
    given = {
        "main": own.joinpath(template).read_bytes(),
        _STYLE: own.joinpath(_STYLE).read_bytes(),
        "data.json": json.dumps(content, ensure_ascii=False, allow_nan=False).encode(),
    }
    return given | {name: drawing.encode() for name, drawing in (drawings or {}).items()}


@cache
def _fonts() -> typst.Fonts:
    """Read the fonts once: that takes longer than a sheet."""
    folder = Path(mpl.get_data_path(), "fonts", "ttf")
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[folder])
