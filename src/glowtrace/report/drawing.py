"""What every figure shares: the library's own defaults, and what a file says about itself."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import matplotlib as mpl
from matplotlib.figure import Figure

FILE_WORDS: Final[Mapping[str, Mapping[str, Any]]] = {
    "png": {"Software": "Glowtrace"},
    "svg": {"Creator": "Glowtrace", "Date": None},
    "pdf": {"Creator": "Glowtrace", "Producer": None, "CreationDate": None},
}
"""Metadata of a file by its kind; no date, so that the same figure gives the same bytes."""


@contextmanager
def own_settings(more: Mapping[Any, Any] | None = None) -> Iterator[None]:
    """Draw with the library's defaults, whatever the user's own configuration says."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update({"svg.hashsalt": "glowtrace", "font.family": "DejaVu Sans"})
        mpl.rcParams.update(more or {})
        yield


def file_bytes(
    draw: Callable[[], Figure], kind: str, title: str, more: Mapping[Any, Any] | None = None
) -> bytes:
    """Draw a figure as the content of a ``png``, ``svg`` or ``pdf`` file with a title.

    ``more``: settings beside the library's defaults, as for `own_settings`.
    """
    written = io.BytesIO()
    with own_settings(more):
        draw().savefig(written, format=kind, metadata={"Title": title, **FILE_WORDS[kind]})
    return written.getvalue()
