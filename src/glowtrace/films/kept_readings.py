"""Readings of frames as arrays, and the state with which following goes on, as they are kept.

What is kept on disk is not held: the heights of an hour are read from there when they are wanted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.disk import new_whole, read_arrays, write_arrays
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
_LARGE: Final = ("heights", "is_covered")
"""Those with a number for each station."""


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


class KeptReadings:
    """Pieces of readings, on disk where there is a folder, else in memory.

    Parameters
    ----------
    folder
        Where they are kept; nowhere when left out.
    name
        Of all that they depend on.
    """

    def __init__(self, folder: Path | None, name: str) -> None:
        self._folder = folder / name if folder is not None else None
        self._held: dict[int, Arrays] = {}
        self._count = 0
        self.last: Arrays | None = None
        """The last piece; None while there is none."""
        while (piece := self._read(self._count)) is not None:
            self.last = piece
            self._count += 1

    def keep(
        self,
        begun: Sequence[tuple[Frame, FrameReading]],
        state: FollowState | None,
        first_map: ScreenMap,
    ) -> None:
        """Keep another piece."""
        self.last = piece = piece_of(begun, state, first_map)
        if self._folder is not None:
            write_arrays(self._path(self._count), piece, what="The readings of the film")
        if self._read(self._count) is None:
            self._held[self._count] = piece
        self._count += 1

    def joined(self) -> dict[str, NDArray[Any]]:
        """Give the columns of all pieces; large ones stay on disk where they can."""
        small = [name for name in COLUMNS if name not in _LARGE]
        parts = [{name: piece[name] for name in small} for piece in self._pieces()]
        columns = {name: np.concatenate([part[name] for part in parts]) for name in small}
        return columns | {name: self._large(name, len(columns["ticks"])) for name in _LARGE}

    def _large(self, name: str, rows: int) -> NDArray[Any]:
        if self._folder is not None and not self._held:
            with suppress(OSError):
                return self._on_disk(self._folder / f"{name}.npy", name, rows)
        return np.concatenate([piece[name] for piece in self._pieces()])

    def _on_disk(self, path: Path, name: str, rows: int) -> NDArray[Any]:
        """Write a column to a file of its own, piece by piece, and give it from there."""
        assert self.last is not None
        like = self.last[name]
        header = {
            "descr": like.dtype.str,
            "fortran_order": False,
            "shape": (rows, *like.shape[1:]),
        }
        with new_whole(path) as temporary, temporary.open("wb") as file:
            np.lib.format.write_array_header_1_0(file, header)
            for piece in self._pieces():
                file.write(piece[name].tobytes())
        stored: NDArray[Any] = np.load(path, mmap_mode="r")
        return stored

    def _pieces(self) -> Iterator[Arrays]:
        for number in range(self._count):
            piece = self._held.get(number) or self._read(number)
            if piece is not None:
                yield piece

    def _read(self, number: int) -> Arrays | None:
        """Give a piece from disk; None where there is none with which following can go on."""
        if self._folder is None:
            return None
        piece = read_arrays(self._path(number), dict)
        return None if piece is None or "usual" not in piece else piece

    def _path(self, number: int) -> Path:
        assert self._folder is not None
        return self._folder / f"readings-{number:05d}.npz"
