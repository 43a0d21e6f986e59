"""What leaves the program: pictures for the dark room and for paper, tables, records.

What draws into axes of your own, and what writes a figure to a file, is imported when it is first
used: ``glowtrace.report.plot_picture(axes, picture)``.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from glowtrace.report.figure import plot_picture, plot_textbook, plot_trace, save_picture
    from glowtrace.report.notebook import plot_fit
    from glowtrace.report.sweep_figure import plot_sweep, save_sweep

__all__ = [
    "plot_fit",
    "plot_picture",
    "plot_sweep",
    "plot_textbook",
    "plot_trace",
    "save_picture",
    "save_sweep",
]

_HOMES = {
    "figure": ("plot_picture", "plot_textbook", "plot_trace", "save_picture"),
    "notebook": ("plot_fit",),
    "sweep_figure": ("plot_sweep", "save_sweep"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"glowtrace.report.{home}"), name)
    raise AttributeError(f"module 'glowtrace.report' has no attribute {name!r}")
