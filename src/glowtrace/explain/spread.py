"""Why the trace is as wide as it is: the share of each cause in its width.

Four causes are switched off and on in every combination, with the same electrons each time: the
size of the aperture, the divergence behind it, the ripple of the supplies, and the thermal spread
with which electrons leave the cathode. Independent causes add up by the squares of the widths they
make alone; what does not fit that rule is their interaction, and it is told.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from itertools import count
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import fly_bundle
from glowtrace.beam.source import Source
from glowtrace.bench.picture import Model, mean_trace
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.explain.orders import share_out
from glowtrace.watching import Cancelled, Progress, Watch

Array = NDArray[np.float64]
Cause = Literal["aperture", "divergence", "ripple", "thermal"]
CAUSES: tuple[Cause, ...] = ("aperture", "divergence", "ripple", "thermal")
NAMES: dict[Cause, str] = {
    "aperture": "Size of the aperture",
    "divergence": "Divergence",
    "ripple": "Ripple of the supplies",
    "thermal": "Heat of the cathode",
}
SAYS: dict[Cause, str] = {
    "aperture": "The beam is as thick as the opening that it comes from.",
    "divergence": "The gun sends its electrons out within a narrow cone, not all straight ahead.",
    "ripple": (
        "Voltages and current rise and fall a little, many times a second. Each electron meets "
        "other values, and the eye sees all their paths together."
    ),
    "thermal": (
        "The hot cathode gives each electron a little speed of its own, forwards or aside, before "
        "the gun accelerates it."
    ),
}
ELECTRONS, GAS_PATHS, SEEDS = 3000, 300, 4
"""Electrons of one bundle (in gas, paths), and bundles with other electrons for the uncertainty."""
_ROWS = 19
_GAS_SPACING = 0.0025


@dataclass(frozen=True)
class Part:
    """One cause of the width."""

    cause: Cause
    name: str
    says: str
    alone: float
    """Width in m that it makes alone: two standard deviations."""
    share: float
    """Its part of the squared width, 0 to 1; the parts add up to 1. Mean over all orders."""
    uncertainty: float
    """Standard uncertainty of the share, from other electrons."""

    @property
    def told_share(self) -> float:
        """The share, but nothing where it is below zero by less than twice its uncertainty."""
        return 0.0 if -2.0 * self.uncertainty < self.share < 0.0 else self.share


@dataclass(frozen=True)
class Spread:
    """The width of the trace and where it comes from."""

    place: str
    """Where the width is taken, in words."""
    is_spot: bool
    """Whether it is that of a spot on an end face rather than of a line."""
    width: float
    """Two standard deviations in m."""
    uncertainty: float
    """Standard uncertainty of the width in m, from other electrons."""
    parts: tuple[Part, ...]
    """The largest share first."""
    interaction: float
    """Part of the squared width that the causes make together and none of them alone; negative
    where together they make less."""
    electrons: int
    """Of each bundle."""
    seeds: int


class _Place(NamedTuple):
    """Where along the trace its width is taken."""

    words: str
    row: int
    rows: int


def find_spread(
    prepared: PreparedBench,
    settings: Settings,
    *,
    model: Model = "bench",
    electrons: int | None = None,
    seeds: int = SEEDS,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Spread | None:
    """Attribute the width of the trace to its causes.

    The width is that of the line up and down near its end on a sheet, and across it half way round
    in gas; on an end face it is that of the spot, up and aside together. On a grazed sheet the
    width of the slit is what makes the trace long, so that only its height counts as the size of
    the aperture.

    Parameters
    ----------
    prepared, settings, model
        What is looked at. What is switched off in the settings has no share.
    electrons
        Of each bundle; enough for shares good to about 1 % when left out.
    seeds
        How many bundles of other electrons are flown for each combination, 2 or more.
    progress
        Called with the fraction done and a few words before each bundle.
    cancelled
        Asked before each bundle whether to give up.

    Returns
    -------
    Spread or None
        None where too few electrons reach the place for a width, or it is no wider than nothing.

    Raises
    ------
    GivenUpError
        It was cancelled.
    """
    is_gas = prepared.bench.plane.glows
    each = electrons or (GAS_PATHS if is_gas else ELECTRONS)
    source = prepared.source(settings)
    if not settings.heater_on or settings.accelerating_voltage == 0.0:
        return None
    fly = _flier(prepared, settings, model, each)
    place = _choose_place(fly(source, 0), prepared)
    if place is None:
        return None

    watch, bundles = Watch(progress, cancelled), seeds * 2 ** len(CAUSES)
    flown = count(1)

    @cache
    def variance(on: frozenset[str], seed: int) -> float:
        number = next(flown)
        watch.note((number - 1) / bundles, f"bundle {number} of {bundles}")
        return _variance(fly(_limit(source, on, prepared), seed), place, prepared)

    runs = [share_out(CAUSES, partial(variance, seed=seed)) for seed in range(seeds)]
    whole = np.array([variance(frozenset(CAUSES), seed=seed) for seed in range(seeds)])
    if not whole.min() > 0.0:
        return None
    means = np.array([[share.mean for share in run] for run in runs]) / whole[:, None]
    alone = np.array([[share.alone for share in run] for run in runs])
    widths = 2.0 * np.sqrt(whole)
    parts = [
        Part(
            cause=cause,
            name=NAMES[cause],
            says=SAYS[cause],
            alone=2.0 * math.sqrt(max(float(alone[:, n].mean()), 0.0)),
            share=float(means[:, n].mean()),
            uncertainty=_of_mean(means[:, n]),
        )
        for n, cause in enumerate(CAUSES)
    ]
    return Spread(
        place=place.words,
        is_spot=prepared.bench.plane.is_spot,
        width=float(widths.mean()),
        uncertainty=_of_mean(widths),
        parts=tuple(sorted(parts, key=lambda part: -part.share)),
        interaction=float((1.0 - alone.sum(axis=1) / whole).mean()),
        electrons=each,
        seeds=seeds,
    )


def _of_mean(values: Array) -> float:
    """Standard uncertainty of the mean of values (n,)."""
    return float(values.std(ddof=1) / math.sqrt(len(values)))


def _limit(source: Source, on: frozenset[str], prepared: PreparedBench) -> Source:
    """Give the source with only some causes of width."""
    if "aperture" not in on:
        # A round hole of no size is a round hole still: it deals the directions out as before.
        is_sheet = prepared.bench.plane.is_line
        source = source._replace(half_height=0.0, half_width=source.half_width if is_sheet else 0.0)
    if "divergence" not in on:
        source = source._replace(divergence_vertical=0.0, divergence_sideways=0.0)
    if "ripple" not in on:
        source = source._replace(ripple=0.0, plate_ripple=0.0, coil_ripple=0.0)
    if "thermal" not in on:
        source = source._replace(temperature=0.0)
    return source


def _flier(
    prepared: PreparedBench, settings: Settings, model: Model, electrons: int
) -> Callable[[Source, int], Array]:
    """Give what flies a bundle from a source with a seed, and adds it up as in `Bundle.sums`."""
    plane = prepared.plane
    field = prepared.field(settings, model)
    rows = 1 if plane.is_spot else _ROWS
    if plane.glows:
        rows = math.ceil(prepared.longest / _GAS_SPACING)

    def fly(source: Source, seed: int) -> Array:
        return fly_bundle(
            field,
            prepared.walls,
            source,
            prepared.canvas,
            electrons=electrons,
            seed=seed,
            image_shape=plane.image_shape,
            rows=rows,
            end_codes=len(prepared.end_names),
            station_spacing=_GAS_SPACING,
            longest=prepared.longest,
        ).sums

    return fly


def _choose_place(sums: Array, prepared: PreparedBench) -> _Place | None:
    """Choose the row whose width is told."""
    plane = prepared.plane
    enough = sums[:, 0] >= max(30.0, 0.25 * sums[:, 0].max())
    if not enough.any():
        return None
    last = int(np.flatnonzero(enough)[-1])
    if plane.is_spot:
        return _Place("on the face", 0, 1)
    if plane.glows:
        row = last // 2
        way = 1e3 * row * _GAS_SPACING
        return _Place(f"{way:.0f} mm along the path", row, len(sums))
    row = max(last - 1, 0)
    u = sums[row, 1] / sums[row, 0]
    x = 1e3 * plane.x_of(u)
    return _Place(f"at x = {x:.0f} mm", row, len(sums))


def _variance(sums: Array, place: _Place, prepared: PreparedBench) -> float:
    """Variance in m^2 across the trace at a place; of a spot, mean of up and aside."""
    if place.row >= len(sums) or sums[place.row, 0] < 3:
        return 0.0
    if prepared.bench.plane.is_spot:
        weight, u, v, uu, _, vv = sums[0].tolist()
        mean_u, mean_v = u / weight, v / weight
        spread = ((uu + vv) / weight - mean_u**2 - mean_v**2) / 2.0
        return float(spread * weight / (weight - 1.0))
    rows = sums[max(0, place.row - 1) : place.row + 2]
    trace = mean_trace(rows, prepared.plane)
    return float(np.average(trace.width_v**2, weights=trace.weight))
