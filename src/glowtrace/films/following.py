"""Following a screen from frame to frame, and reading its line: for film, live camera, photograph.

    state = begin_following(first_frame, screen_map, grid)
    reading, state = follow_and_read(frame, state)

A state is handed on from frame to frame and never changed. The map of the last frame shows the
screen square on; the pieces of its printed lines say how the map has moved. A map is trusted only
while most pieces are seen along both directions and each side of the screen is where it should be,
by its border or its outermost line. Where not, nothing is read: the screen is lost, and is looked
for nearby in each frame until it is found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.correction import corrected
from glowtrace.films.layout import Layout, layout_for
from glowtrace.films.line_reading import ReadLine, read_line
from glowtrace.films.printed_pieces import border_steps, grid_sign, seen_pieces
from glowtrace.films.screen_search import nearby_maps
from glowtrace.films.square_on import FULL_RANGE, Grey, Light, square_on
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_finding import refine_grid
from glowtrace.photographs.grid_lines import PrintedGrid

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FEWEST_PIECES: Final = 12
"""Pieces of printed line that must usually be seen."""
_TRUSTED: Final = 0.7
"""Part of the usual pieces from which a map is trusted."""
_EACH_WAY: Final = 0.55
"""The same for each direction by itself."""
_EACH_SIDE: Final = 0.35
"""Part of a side's border, or of its outermost line, that must be seen."""
_CLEAR_STEP: Final = 0.08
"""Relative step of light from which a border is seen."""
_LEARNING: Final = 0.05
"""How fast what is usual follows what is seen."""
_ROUNDS_AT_START: Final = 6
_STILL: Final = 0.02
"""A map that moved less than this, in pitches, need not be measured again."""
_WORST_SCATTER: Final = 0.02
"""Largest scatter of the pieces, in pitches."""
_GLOW: Final = 0.35
"""Pieces nearer than this to the glow are left out, in pitches."""


@dataclass(frozen=True, eq=False)
class FrameReading:
    """What is read in a frame; lengths in m, stations (s,) along the screen."""

    screen_map: ScreenMap
    """Where the screen is; the last trusted one where it is lost."""
    u: Array
    v: Array
    """Heights of the line; nan where it is not seen."""
    is_covered: Mask
    """Stations at which the line is not seen though it is elsewhere: hidden, or too dim there."""
    smooth: Array
    """Smooth curve through the heights, also over short gaps: never to be told as read."""
    is_lost: bool
    """Whether the map does not fit this frame: nothing is read then."""
    pieces: int
    """Pieces of printed line that fit the map."""
    usual_pieces: float
    """So many were usual."""
    scatter: float
    """Standard deviation of these pieces from their places."""

    @property
    def is_line_seen(self) -> bool:
        """Whether the line is seen anywhere."""
        return bool(np.isfinite(self.v).any())

    @property
    def trust(self) -> str:
        """Why the map is trusted or not, in words."""
        return trust_words(self.pieces, self.usual_pieces, self.scatter, is_lost=self.is_lost)


def trust_words(pieces: int, usual: float, scatter: float, *, is_lost: bool) -> str:
    """Say how many pieces of the grid fit a map, of how many, and how well (scatter in m)."""
    seen = f"{pieces} of usually {usual:.0f} pieces of the grid"
    return f"screen lost: {seen} fit" if is_lost else f"{seen} fit, to {1e3 * scatter:.3f} mm"


@dataclass(frozen=True, eq=False)
class FollowState:
    """What is carried from frame to frame."""

    layout: Layout
    screen_map: ScreenMap
    curve: Light
    darker: float
    """-1 where the printed lines are brighter than the paper."""
    usual: Array
    """(2,) usual part of the pieces along v, and along u, that are seen."""
    border: Array
    """(b,) usual step of light over each piece of the border; 0 where none is seen."""
    outermost: Array
    """(4,) usual part of the outermost printed line of each side that is seen."""
    glow: Array
    """(s,) heights of the last line, nan where none was."""
    is_lost: bool = False

    @property
    def usual_pieces(self) -> float:
        """How many pieces are usually seen, of all."""
        axis = self.layout.pieces.axis
        return float(self.usual[0] * (axis == 0).sum() + self.usual[1] * (axis == 1).sum())

    @property
    def can_follow(self) -> bool:
        """Whether enough of the grid stands out for the screen to be followed."""
        return self.usual_pieces >= FEWEST_PIECES and bool((self.usual > 0.2).all())

    @property
    def side_steps(self) -> Array:
        """(4,) usual step of light at left, right, bottom and top; 0 where none is seen."""
        side = self.layout.border.side
        return np.array([float(np.median(self.border[side == n])) for n in range(4)])


def begin_following(
    grey: Grey, screen_map: ScreenMap, grid: PrintedGrid, *, curve: Light = FULL_RANGE
) -> FollowState:
    """Begin with the map of a first frame, from clicks or from `find_grid`.

    Parameters
    ----------
    grey
        (rows, columns) luma of the frame, 8 bits.
    screen_map
        Right to a tenth of the grid's pitch; it is refined, with the lens's distortion, once.
    grid
        What is printed on the screen.
    curve
        Light (256,) of a stored grey: `FULL_RANGE` or `VIDEO_RANGE`.

    Returns
    -------
    FollowState
        `can_follow` says whether enough of the grid stands out.
    """
    refined = refine_grid(curve[grey].astype(np.float64), screen_map, grid)
    screen_map = refined.screen_map or screen_map
    layout = layout_for(screen_map, grid)
    light = square_on(grey, screen_map, layout, curve)
    blank = np.full(layout.stations, np.nan)
    state = FollowState(
        layout,
        screen_map,
        curve,
        grid_sign(light, layout),
        np.ones(2),
        np.zeros(len(layout.border.side)),
        np.ones(4),
        blank,
    )
    for _ in range(_ROUNDS_AT_START):
        followed = _followed(grey, state)
        state = replace(state, screen_map=followed.screen_map, glow=followed.line().smooth)
    followed = _followed(grey, state)
    steps = followed.steps
    return replace(
        state,
        usual=followed.parts,
        border=np.where(np.abs(steps) > _CLEAR_STEP, steps, 0.0),
        outermost=followed.outermost,
    )


def follow_and_read(grey: Grey, state: FollowState) -> tuple[FrameReading, FollowState]:
    """Follow the screen into a frame and read its line.

    Parameters
    ----------
    grey
        (rows, columns) luma of the frame, 8 bits, of the size the map was made for.
    state
        From the frame before.

    Returns
    -------
    FrameReading, FollowState
        Of this frame, and for the next.
    """
    followed = _followed(grey, state)
    if not followed.is_trusted(state):
        followed = _found_again(grey, state) or followed
    layout = state.layout
    is_lost = not followed.is_trusted(state)
    nothing = np.full(layout.stations, np.nan)
    line = None if is_lost else followed.line()
    reading = FrameReading(
        state.screen_map if is_lost else followed.screen_map,
        layout.station_u,
        nothing if line is None else line.heights,
        np.zeros(layout.stations, bool) if line is None else ~line.is_seen & line.is_found,
        nothing if line is None else line.smooth,
        is_lost,
        int(followed.fits.sum()),
        followed.usual_pieces(state),
        followed.scatter,
    )
    if line is None:
        return reading, replace(state, is_lost=True)
    return reading, replace(
        state,
        screen_map=followed.screen_map,
        usual=state.usual + _LEARNING * np.minimum(followed.parts - state.usual, 0.02),
        glow=line.smooth if line.is_found else state.glow,
        is_lost=False,
    )


@dataclass(frozen=True, eq=False)
class _Followed:
    """A map moved into a frame, and what speaks for it."""

    layout: Layout
    seen_through: ScreenMap
    """The map with which the light was made square on."""
    screen_map: ScreenMap
    """The corrected one."""
    light: Light
    fits: Mask
    """(p,) pieces that lie where they should."""
    asked: Mask
    """(p,) pieces away from the glow."""
    scatter: float
    steps: Array
    """(b,) of the border."""

    @property
    def parts(self) -> Array:
        """(2,) part of the pieces along v, and along u, that fit."""
        axis = self.layout.pieces.axis
        return np.array([self._part(axis == n) for n in range(2)])

    @property
    def outermost(self) -> Array:
        """(4,) part of the outermost printed line at left, right, bottom and top that fits."""
        pieces = self.layout.pieces
        sides = []
        for axis, at in ((0, pieces.u), (1, pieces.v)):
            mine = pieces.axis == axis
            for end in (at[mine].min(), at[mine].max()):
                sides.append(self._part(mine & (np.abs(at - end) < 1e-6)))
        return np.array(sides)

    def usual_pieces(self, state: FollowState) -> float:
        """How many of the pieces away from the glow are usually seen."""
        axis = self.layout.pieces.axis[self.asked]
        return float((state.usual * [(axis == n).sum() for n in range(2)]).sum())

    def _part(self, which: Mask) -> float:
        asked = which & self.asked
        return float(self.fits[asked].mean()) if asked.any() else 0.0

    def is_trusted(self, state: FollowState) -> bool:
        """Whether most of what is usually seen is where it should be."""
        parts = self.parts / np.maximum(state.usual, 1e-3)
        axis = self.layout.pieces.axis
        whole = state.usual * [(axis == n).sum() for n in range(2)]
        if (parts * whole).sum() < _TRUSTED * whole.sum() or parts.min() < _EACH_WAY:
            return False
        if self.scatter > _WORST_SCATTER * self.layout.grid.pitch:
            return False
        return bool((self._sides(state) >= _EACH_SIDE).all())

    def _sides(self, state: FollowState) -> Array:
        """(4,) part of each side that is seen in its place."""
        usual, side = state.border, self.layout.border.side
        is_there = (usual * self.steps > 0) & (np.abs(self.steps) > 0.4 * np.abs(usual))
        known = usual != 0
        border = np.array(
            [
                is_there[known & (side == n)].mean() if (known & (side == n)).any() else 0.0
                for n in range(4)
            ]
        )
        lines = self.outermost / np.maximum(state.outermost, 0.2)
        return np.asarray(np.maximum(border, lines))

    def line(self) -> ReadLine:
        """Read the line, and move it by what the map was corrected."""
        line = read_line(self.light, self.layout)
        u = self.layout.station_u
        heights = np.where(line.is_seen, line.heights, line.smooth)
        known = np.isfinite(heights)
        if not known.any():
            return line
        rough = np.column_stack([u, np.where(known, heights, 0.0)])
        there = self.screen_map.places(self.seen_through.pixels(rough))
        slope = np.gradient(rough[:, 1], u)
        by = there[:, 1] - rough[:, 1] - slope * (there[:, 0] - u)
        return replace(line, heights=line.heights + by, smooth=line.smooth + by)


def _followed(grey: Grey, state: FollowState) -> _Followed:
    """Move the state's map into a frame, as far as the pieces of the grid say."""
    layout, current = state.layout, state.screen_map
    asked = _away_from_glow(state)
    for _ in range(3):
        light = square_on(grey, current, layout, state.curve)
        seen = seen_pieces(light, layout, state.darker)
        used = seen.is_seen & asked
        found = corrected(current, layout.pieces, used, layout.pixel * seen.offset)
        if found.moved < _STILL * layout.grid.pitch:
            break
        current = found.screen_map
    return _Followed(
        layout,
        current,
        found.screen_map,
        light,
        found.fits,
        asked,
        found.scatter,
        border_steps(light, layout),
    )


def _away_from_glow(state: FollowState) -> Mask:
    pieces, layout = state.layout.pieces, state.layout
    pitch = layout.grid.pitch
    heights = np.interp(
        pieces.u, layout.station_u, np.where(np.isfinite(state.glow), state.glow, 1e3)
    )
    # A piece along v is half a pitch long; one along u is where it is.
    clear = np.where(pieces.axis == 0, 0.5 * pitch, 0.0) + _GLOW * pitch * np.where(
        pieces.axis == 0, 0.4, 1.0
    )
    away: Mask = np.abs(pieces.v - heights) > clear
    return away


def _found_again(grey: Grey, state: FollowState) -> _Followed | None:
    """Look for the screen nearby; None where no place is to be trusted."""
    places = nearby_maps(
        grey, state.screen_map, state.layout, state.curve, state.darker, state.side_steps
    )
    for each in places:
        there = _followed(grey, replace(state, screen_map=each))
        if there.is_trusted(state):
            return there
    return None
