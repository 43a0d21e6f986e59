"""Many electrons at once, reduced on the fly to a picture: memory does not grow with their number.

The electrons are dealt to a fixed number of shares, each with its own image and sums, which are
added in order at the end. The shares depend on the number of electrons and not on the number of
threads, so the result is the same to the last bit on one core and on two.
"""

from __future__ import annotations

import functools
import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.obstacles import FIRST_ELECTRODE, SCREEN, Obstacles
from glowtrace.beam.pusher import fly
from glowtrace.beam.screen import Canvas, deposit, picture_point
from glowtrace.beam.source import Source, emit, sequence_shifts
from glowtrace.compiled import compiled
from glowtrace.constants import ELECTRON_MASS, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import Field, scaled_field

Array = NDArray[np.float64]

TOLERANCE = 1e-8
"""Error of position in m allowed per step; keeps the end of a trace within 0.1 um."""
LONGEST_FLIGHT = 1.0
"""Length of path in m after which an electron counts as still flying."""
_REST_ENERGY = ELECTRON_MASS * SPEED_OF_LIGHT**2
_FEW_SHARES, _MANY_SHARES = 2, 16
_FEW = 4096
_TOO_FEW = 16
"""Below this many, single electrons fly sooner than other threads would have begun."""


@dataclass(frozen=True)
class Bundle:
    """What a bundle of electrons adds up to.

    Attributes
    ----------
    electrons
        How many flew.
    ends
        How many ended with each end code, (e,).
    image
        Light of all electrons together on the picture plane, (v, u), rows upwards: their energy in
        J for phosphor, their path in m for gas.
    sums
        (m, 6): weight, then the weighted sums of u, v, uu, uv, vv. A row is a column of the screen
        (phosphor) or a distance along the path (gas).
    landings
        (u, v) in m of the electrons that reached the screen, among the first ``keep_landings``.
    paths
        (p, t, 7): x, y, z, ux, uy, uz, time at equal distances along the path, NaN after the end.
    steps
        Steps taken by all electrons together.
    """

    electrons: int
    ends: NDArray[np.int64]
    image: Array
    sums: Array
    landings: Array
    paths: Array
    steps: int


@compiled()
def _add_moments(row: Array, weight: float, u: float, v: float) -> None:
    row[0] += weight
    row[1] += weight * u
    row[2] += weight * v
    row[3] += weight * u * u
    row[4] += weight * u * v
    row[5] += weight * v * v


@compiled()
def _fly_share(
    field: Field, walls: Obstacles, source: Source, shifts: Array, inside: bool,
    first: int, last: int, tolerance: float, longest: float, station_spacing: float,
    plane: Canvas, image: Array, sums: Array, ends: NDArray[np.int64],
    landings: Array, paths: Array,
) -> int:  # fmt: skip
    """Fly electrons ``first`` to ``last`` and add them up; gives the number of steps."""
    state = np.empty(6)
    wanted = sums.shape[0] if plane.glows else 0
    scratch = np.empty((wanted, 7))
    per_column = sums.shape[0] / (image.shape[1] * plane.pixel)
    total = 0
    for electron in range(first, last):
        started, strength, current = emit(source, shifts, electron, field, inside, state)
        if not started:
            ends[FIRST_ELECTRODE] += 1
            continue
        stations = paths[electron] if electron < paths.shape[0] else scratch
        code, _, written, steps = fly(
            scaled_field(field, strength, current), walls, inside, tolerance, longest,
            state, stations, station_spacing, plane, image,
        )  # fmt: skip
        total += steps
        ends[code] += 1
        if plane.glows:
            for m in range(min(written - 1, sums.shape[0])):
                u, v = picture_point(plane, stations[m, 0], stations[m, 1], stations[m, 2])
                _add_moments(sums[m], 1.0, u, v)
        elif code == SCREEN:
            u, v = picture_point(plane, state[0], state[1], state[2])
            momentum = (state[3] ** 2 + state[4] ** 2 + state[5] ** 2) / SPEED_OF_LIGHT**2
            energy = _REST_ENERGY * momentum / (math.sqrt(1.0 + momentum) + 1.0)
            deposit(plane, image, u, v, energy)
            column = math.floor((u - plane.lowest[0]) * per_column)
            if 0 <= column < sums.shape[0]:
                _add_moments(sums[column], 1.0, u, v)
            if electron < landings.shape[0]:
                landings[electron, 0] = u
                landings[electron, 1] = v
    return total


def fly_bundle(
    field: Field,
    walls: Obstacles,
    source: Source,
    plane: Canvas,
    *,
    electrons: int,
    seed: int,
    image_shape: tuple[int, int],
    rows: int,
    end_codes: int,
    keep_landings: int = 0,
    keep_paths: int = 0,
    station_spacing: float = 0.0025,
    tolerance: float = TOLERANCE,
    longest: float = LONGEST_FLIGHT,
    threads: int | None = None,
) -> Bundle:
    """Fly a bundle of electrons and add up the light, the ends and the moments of the trace.

    Parameters
    ----------
    field, walls, source, plane
        See `Field`, `Obstacles`, `Source`, `Canvas`.
    electrons
        How many, at least 1.
    seed
        Shifts the sequence the electrons are taken from.
    image_shape
        Pixels (v, u).
    rows
        Rows of ``sums``: columns of the screen, or stations along the path.
    end_codes
        How many end codes there are, electrodes included.
    keep_landings, keep_paths
        Of how many electrons the landing and the path are kept.
    station_spacing
        Distance in m between the kept points of a path.
    tolerance
        Error of position in m allowed per step.
    longest
        Length of path in m after which an electron counts as still flying.
    threads
        On how many cores; all when left out. The result is the same.
    """
    shares = _FEW_SHARES if electrons < _FEW else _MANY_SHARES
    images = np.zeros((shares, *image_shape))
    sums = np.zeros((shares, rows, 6))
    ends = np.zeros((shares, end_codes), dtype=np.int64)
    landings = np.full((min(keep_landings, electrons), 2), np.nan)
    stations = math.ceil(longest / station_spacing) + 2
    paths = np.full((min(keep_paths, electrons), stations, 7), np.nan)
    steps = np.zeros(shares, dtype=np.int64)
    shifts, inside = sequence_shifts(seed), starts_inside(field)

    def fly_part(share: int) -> None:
        steps[share] = _fly_share(
            field, walls, source, shifts, inside,
            electrons * share // shares, electrons * (share + 1) // shares,
            tolerance, longest, station_spacing,
            plane, images[share], sums[share], ends[share], landings, paths,
        )  # fmt: skip

    _on_all_cores(fly_part, shares, threads)
    return Bundle(
        electrons=electrons,
        ends=ends.sum(axis=0),
        image=images.sum(axis=0),
        sums=sums.sum(axis=0),
        landings=landings[~np.isnan(landings[:, 0])],
        paths=paths,
        steps=int(steps.sum()),
    )


@functools.cache
def _workers() -> ThreadPoolExecutor:
    """Give the threads that fly electrons, one a core; the kernels run without Python's lock."""
    return ThreadPoolExecutor(os.cpu_count(), thread_name_prefix="beam")


def _on_all_cores(task: Callable[[int], None], shares: int, threads: int | None) -> None:
    """Do all shares of a task, by the calling thread alone if ``threads`` is 1."""
    if threads == 1:
        for share in range(shares):
            task(share)
    elif threads is None:
        list(_workers().map(task, range(shares)))
    else:
        with ThreadPoolExecutor(threads) as workers:
            list(workers.map(task, range(shares)))


def starts_inside(field: Field, x: float = 0.0) -> bool:
    """Tell whether an electron at x, flying forwards, is inside the ideal electric field."""
    return bool(field.edges[0] <= x < field.edges[1])


@dataclass(frozen=True)
class Flights:
    """Electrons started one by one: where each ended, and its path.

    Attributes
    ----------
    ends
        End code of each, (n,).
    states
        Position in m and u = gamma v in m/s at the end, (n, 6).
    times
        Time of flight in s, (n,).
    paths
        (n, t, 7): x, y, z, ux, uy, uz, time; NaN after the end.
    steps
        Steps taken by each, (n,).
    """

    ends: NDArray[np.int64]
    states: Array
    times: Array
    paths: Array
    steps: NDArray[np.int64]


@compiled()
def _fly_given(
    field: Field, walls: Obstacles, tolerance: float, longest: float, station_spacing: float,
    plane: Canvas, states: Array, ends: NDArray[np.int64], times: Array, paths: Array,
    steps: NDArray[np.int64],
) -> None:  # fmt: skip
    unlit = np.empty((0, 0))
    for n in range(states.shape[0]):
        inside = field.edges[0] <= states[n, 0] < field.edges[1]
        ends[n], times[n], _, steps[n] = fly(
            field, walls, inside, tolerance, longest, states[n], paths[n], station_spacing, plane,
            unlit,
        )  # fmt: skip


def fly_electrons(
    field: Field,
    walls: Obstacles,
    states: Array,
    *,
    station_spacing: float = 0.0,
    stations: int = 0,
    tolerance: float = TOLERANCE,
    longest: float = LONGEST_FLIGHT,
    threads: int | None = None,
) -> Flights:
    """Fly electrons from given starts.

    Parameters
    ----------
    field, walls
        See `Field` and `Obstacles`.
    states
        Position in m and u = gamma v in m/s of each, (n, 6).
    station_spacing, stations
        Distance in m between, and number of, the points kept of each path.
    tolerance, longest, threads
        As for `fly_bundle`.
    """
    states = np.array(states, dtype=float)
    count = len(states)
    ends, steps = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    times, paths = np.zeros(count), np.full((count, stations, 7), np.nan)
    nowhere = (0.0, 0.0, 0.0)
    dark = Canvas(False, nowhere, nowhere, nowhere, (0.0, 0.0), 1.0)
    shares = 1 if count < _TOO_FEW else _FEW_SHARES

    def fly_part(share: int) -> None:
        part = slice(count * share // shares, count * (share + 1) // shares)
        _fly_given(
            field, walls, tolerance, longest, station_spacing, dark,
            states[part], ends[part], times[part], paths[part], steps[part],
        )  # fmt: skip

    _on_all_cores(fly_part, shares, 1 if shares == 1 else threads)
    return Flights(ends, states, times, paths, steps)
