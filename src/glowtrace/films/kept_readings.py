"""Readings of frames as arrays, and the state with which following goes on, as they are kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.film_file import Film, Frame
from glowtrace.films.following import FollowState, FrameReading
from glowtrace.films.layout import layout_for
from glowtrace.films.square_on import VIDEO_RANGE
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid

Arrays = Mapping[str, NDArray[Any]]

COLUMNS: Final = (
    "ticks",
    "seconds",
    "heights",
    "is_covered",
    "parameters",
    "is_lost",
    "pieces",
    "usual_pieces",
    "scatter",
)
"""One row a frame."""


def piece_of(
    read: Sequence[tuple[Frame, FrameReading]], state: FollowState | None, first_map: ScreenMap
) -> dict[str, NDArray[Any]]:
    """Give the arrays of some frames, with what is needed to go on behind them."""
    frames, readings = zip(*read, strict=True)
    piece = {
        "ticks": np.array([each.ticks for each in frames], np.int64),
        "seconds": np.array([each.seconds for each in frames]),
        "heights": np.array([each.v for each in readings], np.float32),
        "is_covered": np.array([each.is_covered for each in readings]),
        "parameters": np.array([each.screen_map.parameters for each in readings]),
        "is_lost": np.array([each.is_lost for each in readings]),
        "pieces": np.array([each.pieces for each in readings], np.int64),
        "usual_pieces": np.array([each.usual_pieces for each in readings]),
        "scatter": np.array([each.scatter for each in readings]),
    }
    piece |= {
        "first_parameters": first_map.parameters,
        "first_covariance": first_map.covariance,
        "first_units": np.array([*first_map.origin, first_map.spread]),
    }
    if state is not None:
        piece |= {
            "usual": state.usual,
            "border": state.border,
            "outermost": state.outermost,
            "glow": state.glow,
            "last": state.screen_map.parameters,
            "per_station": np.array(state.layout.per_station),
            "darker": np.array(state.darker),
            "state_is_lost": np.array(state.is_lost),
        }
    return piece


def map_kept(piece: Arrays, film: Film, grid: PrintedGrid) -> ScreenMap:
    """Give the first map of a film back."""
    u, v, spread = (float(each) for each in piece["first_units"])
    return ScreenMap(
        piece["first_parameters"],
        piece["first_covariance"],
        (),
        np.zeros((0, 2)),
        film.size,
        (u, v),
        spread,
        grid.rectangle,
    )


def state_kept(piece: Arrays, first_map: ScreenMap, grid: PrintedGrid) -> FollowState:
    """Give the state back with which following goes on."""
    layout = replace(layout_for(first_map, grid), per_station=int(piece["per_station"]))
    return FollowState(
        layout,
        replace(first_map, parameters=piece["last"]),
        VIDEO_RANGE,
        float(piece["darker"]),
        piece["usual"],
        piece["border"],
        piece["outermost"],
        piece["glow"],
        bool(piece["state_is_lost"]),
    )
