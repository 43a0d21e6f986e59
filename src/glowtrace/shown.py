"""How an object shows itself in a notebook: asked here, drawn by `glowtrace.report.notebook`.

What is shown lies below what draws it and must not import it. The drawings are loaded by name when
something is first shown, as the names of ``import glowtrace`` are when they are first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any


def drawing(name: str) -> Any:
    """Give one of the drawings by its name."""
    return getattr(import_module("glowtrace.report.notebook"), name)


class Shown:
    """What shows itself with its picture where a notebook displays it."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        """Give a picture and a few words; see https://ipython.readthedocs.io, "rich display"."""
        text: str = drawing("html")(self)
        return text
