"""The rough path of a line of any shape: a ridge of light, followed from its brightest points.

Where the light curves most (the second derivatives of the smoothed picture), and falls off to both
sides, there is a ridge. The follower walks along it in steps of a pixel, back onto the crest at
each step. It goes straight on, in its own curvature, where the ridge is hidden for a while or
crosses another one.

References
----------
C. Steger, "An unbiased detector of curvilinear structures", IEEE Trans. Pattern Anal. Mach.
Intell. 20 (1998) 113-125. A. F. Frangi et al., "Multiscale vessel enhancement filtering", MICCAI
1998, LNCS 1496, 130-137.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.light import Mask, RectifiedScreen
from glowtrace.photographs.trace_line_relief import Relief, best_relief, relief_of, sampled

Array = NDArray[np.float64]

_ACROSS: Final = 450
"""About as many pixels along the longer side are looked at."""
_SEED: Final = 6.0
"""Ridge over noise from which a walk is begun."""
_FOLLOWED: Final = 2.5
"""Ridge over noise down to which it is followed."""
_MEAN: Final = 10.0
"""Ridge over noise that a walk must have on average. Walks along noise alone have up to 9: they
begin at its highest places, and JPEG joins these up."""
_DIMMEST: Final = 0.2
"""Ridge of a walk relative to the best one: less is a reflection or a scratch."""
_LONGEST_GAP: Final = 0.08
"""Longest hidden stretch that is walked over, in longer sides."""
_SHORTEST: Final = 0.08
"""Shortest walk that counts, in longer sides."""
_MOST_WALKS: Final = 12
_DIP: Final = 0.6
"""Height relative to the usual one below which the ridge does not show the way."""
_MOST_PASSED: Final = 14.0
"""Longest stretch, in widths, on a way walked before: a crossing is short."""
_MOST_TRIES: Final = 60
_ABOVE_CHANCE: Final = 1.5
"""By how much a ridge must stand out more than the deepest valley."""
_SEEDS: Final = 4000
"""Most places from which walks are begun."""
_SAME_WAY: Final = math.cos(math.radians(35.0))
"""Headings closer than that are the same."""
_TURN: Final = math.cos(math.radians(14.0))
"""A ridge that runs further than that from the expected way is another one, or a crossing."""
_STEADY: Final = 0.2
"""How quickly the remembered curvature follows the walk."""


def rough_ridges(screen: RectifiedScreen) -> list[tuple[Array, float]]:
    """Give the bright ridges, strongest first: paths (m, 2) (column, row), and a first width.

    Positions and widths are in pixels of the rectified screen, points one pixel apart.
    """
    side = max(1, round(max(screen.light.shape) / _ACROSS))
    rows, columns = (n // side for n in screen.light.shape)
    part = slice(0, rows * side), slice(0, columns * side)
    light = screen.light[part].reshape(rows, side, columns, side).mean(axis=(1, 3))
    seen: Mask = screen.is_seen[part].reshape(rows, side, columns, side).min(axis=(1, 3))
    relief = best_relief(light, seen)
    walks = _walks_above_chance(light, seen, relief)
    paths = _joined_up(walks)
    return [(respaced((path + 0.5) * side - 0.5), relief.width * side) for path in paths]


def respaced(path: Array) -> Array:
    """Give a path with points one pixel apart."""
    length = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1)))
    at = np.arange(0.0, length[-1], 1.0)
    return np.column_stack([np.interp(at, length, path[:, n]) for n in range(2)])


def _joined_up(walks: list[Array]) -> list[Array]:
    """Put walks one after the other, from the longest, so that the ways between them are short."""
    chain, rest = walks[:1], walks[1:]
    while rest:
        ends = chain[-1][-1], chain[0][0]
        ways = [
            (float(np.linalg.norm(ends[at] - walk[-end])), at, end, n)
            for n, walk in enumerate(rest)
            for at in (0, 1)
            for end in (0, 1)
        ]
        _, at, end, n = min(ways)
        walk = rest.pop(n)
        # Behind the chain it begins with the near end (0: first), before it it ends with it.
        ahead = walk if end == at else walk[::-1]
        chain = [*chain, ahead] if at == 0 else [ahead, *chain]
    return chain


def _walks_above_chance(light: Array, seen: Mask, relief: Relief) -> list[Array]:
    """Give the walks that stand out more than any along a valley, which only noise makes."""
    nowhere = np.zeros(light.shape, dtype=bool)
    found, passed = _all_walks(relief, nowhere)
    if not found:
        return []
    # Beside a ridge the light curves the other way: not by chance.
    beside = ndimage.binary_dilation(passed, iterations=math.ceil(3 * relief.width))
    valleys, _ = _all_walks(relief_of(-light, seen, relief.width), beside)
    chance = max((_standing(heights) for _, heights in valleys), default=0.0)
    best = max(float(heights.mean()) for _, heights in found)
    kept = [
        walk
        for walk, heights in found
        if heights.mean() >= _DIMMEST * best and _standing(heights) > _ABOVE_CHANCE * chance
    ]
    return sorted(kept, key=len, reverse=True)


def _standing(heights: Array) -> float:
    """How much a walk stands out: its mean over the error of a mean."""
    return float(heights.mean() * math.sqrt(len(heights)))


def _all_walks(relief: Relief, passed: Mask) -> tuple[list[tuple[Array, Array]], Mask]:
    """Walk from the highest places not passed yet: positions and heights, and what is passed."""
    longer = max(relief.height.shape)
    height = relief.height
    crest = (height == ndimage.maximum_filter(height, 3)) & (height > _SEED)
    seeds = np.argwhere(crest)
    order = np.argsort(-height[crest])[:_SEEDS]
    passed = passed.copy()
    walks: list[tuple[Array, Array]] = []
    tries = 0
    for row, column in seeds[order]:
        if passed[row, column]:
            continue
        walk, heights = _walk(relief, np.array([column, row], dtype=float))
        passed[row, column] = True
        tries += 1
        if len(walk) == 0:
            continue
        new = _new_part(passed, walk, np.array([column, row]), _MOST_PASSED * relief.width)
        _mark(passed, walk, 3.0 * relief.width)
        if new.stop - new.start >= _SHORTEST * longer and heights[new].mean() >= _MEAN:
            walks.append((walk[new], heights[new]))
        if len(walks) >= _MOST_WALKS or tries >= _MOST_TRIES:
            break
    return walks, passed


def _new_part(passed: Mask, walk: Array, seed: Array, longest: float) -> slice:
    """Give the part of a walk around its seed that does not run along ways walked before."""
    column, row = np.rint(walk).astype(int).T
    is_old = passed[row, column]
    start = int(((walk - seed) ** 2).sum(axis=1).argmin())
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_old, [False]]).astype(int)))
    first, last = 0, len(walk)
    for begin, end in edges.reshape(-1, 2):
        if end - begin > longest or begin == 0 or end == len(walk):
            if end <= start:
                first = max(first, int(end))
            elif begin > start:
                last = min(last, int(begin))
    return slice(first, last)


def _walk(relief: Relief, start: Array) -> tuple[Array, Array]:
    """Walk both ways from a place: positions (m, 2), and heights (m,)."""
    run = sampled(relief.run, start)
    angle = 0.5 * math.atan2(run[1], run[0])
    heading = np.array([math.cos(angle), math.sin(angle)])
    ahead, heights, is_closed = _one_way(relief, start, heading, np.zeros((0, 2)))
    if is_closed:
        return np.array(ahead), np.array(heights)
    # The way back must not walk round a ring that the way ahead has walked already.
    walked = np.array(ahead[_recent(relief) :]).reshape(-1, 2)
    back, back_heights, _ = _one_way(relief, start, -heading, walked)
    return np.array(back[:0:-1] + ahead), np.array(back_heights[:0:-1] + heights)


def _one_way(
    relief: Relief, start: Array, heading: Array, walked: Array
) -> tuple[list[Array], list[float], bool]:
    """Walk until the ridge ends, or the way closes or joins one walked before (m, 2).

    Gives positions, heights, and whether it closed or joined.
    """
    longest_gap = _LONGEST_GAP * max(relief.height.shape)
    most = 12 * max(relief.height.shape)
    positions, heights = [start], [float(sampled(relief.height[None], start)[0])]
    track = np.empty((most + 1, 2))
    track[0] = start
    curvature, gap, beside, usual = 0.0, 0, 0, heights[0]
    for _ in range(most):
        new = positions[-1] + heading
        height = float(sampled(relief.height[None], new)[0])
        run = sampled(relief.run, new)
        turned = _turned(heading, curvature)
        # Where ridges cross, the light falls off less to the sides, and how it runs means nothing.
        is_clear = height >= max(_FOLLOWED, _DIP * usual)
        found = _along(run, turned) if is_clear else None
        if found is not None:
            turned = _turned(turned, 0.7 * _angle(turned, found))
            new = new + _to_crest(relief, new, turned, 0.25 if gap else 0.5)
        bend = _angle(heading, turned)
        if height >= _FOLLOWED:
            usual += _STEADY / 4 * (height - usual)
        if found is not None and gap == 0:
            curvature += _STEADY * (bend - curvature)
        gap = 0 if found is not None else gap + 1
        if gap > longest_gap or not _is_inside(relief, new):
            break
        positions.append(new)
        heights.append(height)
        heading = turned
        count = len(positions)
        track[count - 1] = new
        beside = beside + 1 if _is_retracing(relief, track[:count], heading, walked) else 0
        if beside > 3 * relief.width:
            return positions[: len(positions) - beside], heights[: len(heights) - beside], True
    last = len(positions) - gap
    return positions[:last], heights[:last], False


def _recent(relief: Relief) -> int:
    """How many steps back a walk is still near itself without having turned back."""
    return math.ceil(8 * relief.width)


def _is_retracing(relief: Relief, positions: Array, heading: Array, walked: Array) -> bool:
    """Say whether the walk runs along its own way, or one walked before, in either direction."""
    at, recent = positions[-1], _recent(relief)
    before = [walked]
    if len(positions) > 2 * recent:
        before.append(positions[:-recent])
    for way in before:
        near = np.flatnonzero(((way - at) ** 2).sum(axis=1) < (1.5 * relief.width + 1.0) ** 2)
        near = near[(near > 0) & (near < len(way) - 1)]
        if len(near) == 0:
            continue
        runs = way[near + 1] - way[near - 1]
        size = np.maximum(np.linalg.norm(runs, axis=1), 1e-9)
        if np.any(np.abs(runs @ heading) > _SAME_WAY * size):
            return True
    return False


def _to_crest(relief: Relief, at: Array, heading: Array, most: float) -> Array:
    """Step (2,) across the heading to the crest: the top of a parabola through three heights."""
    across = np.array([-heading[1], heading[0]])
    reach = max(1.0, 0.7 * relief.width)
    left, middle, right = (
        float(sampled(relief.height[None], at + n * reach * across)[0]) for n in (-1, 0, 1)
    )
    bend = left - 2 * middle + right
    if bend >= 0:
        move = most * float(np.sign(right - left))
    else:
        move = min(max(0.5 * reach * (left - right) / bend, -most), most)
    step: Array = move * across
    return step


def _along(run: Array, heading: Array) -> Array | None:
    """Direction (2,) of the ridge nearest to the heading; None if it is another ridge."""
    angle = 0.5 * math.atan2(run[1], run[0])
    found = np.array([math.cos(angle), math.sin(angle)])
    same = float(found @ heading)
    if abs(same) < _TURN:
        return None
    return found if same > 0 else -found


def _turned(heading: Array, by: float) -> Array:
    cosine, sine = math.cos(by), math.sin(by)
    return np.array(
        [cosine * heading[0] - sine * heading[1], sine * heading[0] + cosine * heading[1]]
    )


def _angle(first: Array, second: Array) -> float:
    """Angle in rad from one unit vector to another, less than a right one."""
    cross = float(first[0] * second[1] - first[1] * second[0])
    return math.asin(min(max(cross, -1.0), 1.0))


def _is_inside(relief: Relief, at: Array) -> bool:
    rows, columns = relief.height.shape
    return bool(0 <= at[0] <= columns - 1 and 0 <= at[1] <= rows - 1)


def _mark(passed: Mask, walk: Array, radius: float) -> None:
    """Mark everything near a walk."""
    low = np.maximum(np.floor(walk.min(axis=0) - radius).astype(int), 0)
    high = np.ceil(walk.max(axis=0) + radius).astype(int) + 1
    part = passed[low[1] : high[1], low[0] : high[0]]
    off = np.ones(part.shape, dtype=bool)
    at = np.rint(walk).astype(int) - low
    off[np.clip(at[:, 1], 0, part.shape[0] - 1), np.clip(at[:, 0], 0, part.shape[1] - 1)] = False
    part |= ndimage.distance_transform_edt(off) <= radius
