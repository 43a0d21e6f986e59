"""Errors that several readings share: they are fitted, and do not average out over rows.

A meter shows `true * (1 + gain) + zero`; its gain and its zero are the same for every reading. The
points of one trace are read while the knobs stand still: the meters are read once for all of them.
The points of a photograph share the errors of its map (`glowtrace.photographs.sway`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.fits.propagation import Kind
from glowtrace.measure.methods import READ_OFF, Column
from glowtrace.measure.runs import run_parameters
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tube import Readings
from glowtrace.photographs.sway import sway_at

Array = NDArray[np.float64]

_ALONG_THE_GRID: Final = ("x", "pitch")
_METERS: Final = {
    "accelerating_voltage": ("accelerating", "accelerating voltmeter"),
    "plate_voltage": ("plate", "plate voltmeter"),
    "coil_current": ("current", "ammeter"),
    "ruler": ("ruler", "ruler"),
}


@dataclass(frozen=True)
class Meters:
    """Where the gain and the zero of each meter stand among the parameters, by column."""

    gains: Mapping[str, int]
    zeros: Mapping[str, int]

    def true_readings(
        self, names: Sequence[str], shown: Array, theta: Array, grid_cosine: float
    ) -> Readings:
        """Give what the quantities truly are where meters and grid show ``shown`` (r, k)."""
        true = {}
        for n, name in enumerate(names):
            true[name] = self._corrected(name, shown[:, n], theta)
            if name in _ALONG_THE_GRID:
                true[name] = grid_cosine * true[name]
        return true

    def shifts(self, names: Sequence[str], shown: Array, theta: Array) -> dict[int, Array]:
        """What readings (r, k) show too much for one unit of each gain and zero, by its position.

        For readings that go through `true_readings`.
        """
        found: dict[int, Array] = {}
        for n, name in enumerate(names):
            for places, shift in (
                (self.gains, self._corrected(name, shown[:, n], theta)),
                (self.zeros, np.ones(len(shown))),
            ):
                if name in places:
                    total = found.setdefault(places[name], np.zeros_like(shown))
                    total[:, n] += np.nan_to_num(shift)
        return found

    def _corrected(self, name: str, shown: Array, theta: Array) -> Array:
        gain = theta[self.gains[name]] if name in self.gains else 0.0
        zero = theta[self.zeros[name]] if name in self.zeros else 0.0
        corrected: Array = (shown - zero) / (1.0 + gain)
        return corrected


@dataclass(frozen=True, eq=False)
class SharedErrors:
    """What the readings of one table share, among themselves and with other tables."""

    meters: Meters
    offsets: Mapping[int, Array]
    """What its readings show too much (r, k) for one unit of a parameter, by its position."""
    is_shared: NDArray[np.bool_]
    """(r, k) where the whole uncertainty of a reading stands in a parameter."""


def shared_errors(
    tables: Sequence[Table], first: int, run_spreads: Sequence[float] = ()
) -> tuple[list[SharedErrors], list[Parameter]]:
    """Give what each table shares, and the parameters for it, which begin at position ``first``.

    ``run_spreads`` says of each table how far its runs lie apart, SI.
    """
    found = _Found(first, [], {}, {})
    spreads = run_spreads or [0.0] * len(tables)
    shared = [
        _shared(each, n + 1, spread, found)
        for n, (each, spread) in enumerate(zip(tables, spreads, strict=True))
    ]
    return shared, found.parameters


@dataclass(frozen=True)
class _Found:
    """Parameters found so far, and where those stand that tables share."""

    first: int
    parameters: list[Parameter]
    meters: dict[tuple[str, Instrument], int]
    photographs: dict[tuple[Instrument, Instrument], int]

    def add(self, *new: Parameter) -> int:
        """Add parameters; gives the position of the first one."""
        position = self.first + len(self.parameters)
        self.parameters.extend(new)
        return position

    def count(self, prefix: str) -> int:
        """Count the parameters whose names begin so."""
        return sum(each.name.startswith(prefix) for each in self.parameters)


def _shared(readings: Table, number: int, run_spread: float, found: _Found) -> SharedErrors:
    shape = (len(readings.usable), len(readings.columns))
    offsets: dict[int, Array] = {}
    is_shared = np.zeros(shape, dtype=bool)
    gains: dict[str, int] = {}
    zeros: dict[str, int] = {}
    for n, column in enumerate(readings.columns):
        meter, instrument = column.meter or column.name, readings.instrument(column.name)
        if column.si_unit != "1" and (instrument.gain_limit or instrument.zero_limit):
            position = _meter(meter, instrument, found)
            gains[column.name] = position
            if column.name != "x":  # the shift of a grid shows in heights and lengths
                zeros[column.name] = position + 1
        for rows, parameter in _settings(readings, column, found):
            offset = np.zeros(shape)
            offset[rows, n] = 1.0
            offsets[found.add(parameter)] = offset
            is_shared[rows, n] = True
    offsets |= _photograph(readings, found)
    place = [column.name for column in readings.columns].index(READ_OFF[readings.method])
    for is_of_run, parameter in run_parameters(readings, number, run_spread):
        offset = np.zeros(shape)
        offset[:, place] = is_of_run
        offsets[found.add(parameter)] = offset
    return SharedErrors(Meters(gains, zeros), offsets, is_shared)


def _meter(meter: str, instrument: Instrument, found: _Found) -> int:
    """Give the position of a meter's gain; its zero stands behind it."""
    # How well a null is judged belongs to what is looked at, and a map to a photograph.
    key = (meter, replace(instrument, judgement=0.0, sway=()))
    if key not in found.meters:
        number = 1 + sum(name == meter for name, _ in found.meters)
        found.meters[key] = found.add(*_meter_parameters(meter, number, instrument))
    return found.meters[key]


def _meter_parameters(
    meter: str, number: int, instrument: Instrument
) -> tuple[Parameter, Parameter]:
    """Give gain and zero of a meter as parameters known beforehand to be 0 within limits.

    ``number`` counts different meters of one quantity from 1.
    """
    short, title = _METERS[meter]
    suffix = "" if number == 1 else f"_{number}"
    named = title if number == 1 else f"{title} {number}"
    unit = {"coil_current": "A", "ruler": "m"}.get(meter, "V")
    return (
        Parameter(
            f"{short}_gain{suffix}", f"gain of the {named}", "1", 0.0, instrument.gain_uncertainty,
            "rectangular", low=-0.9, high=9.0,
        ),
        Parameter(
            f"{short}_zero{suffix}", f"zero of the {named}", unit, 0.0,
            instrument.zero_uncertainty, "rectangular",
        ),
    )  # fmt: skip


def settings_of(readings: Table) -> tuple[NDArray[np.int_], ...]:
    """Give the usable rows (positions among them) that were read at one setting of the knobs.

    Points of a trace that follow each other with the very same knobs belong to one setting: nobody
    touched a knob between them. Settings of a single row are left out.
    """
    knobs = [column.name for column in readings.columns if column.meter != "ruler"]
    if readings.method not in READS_POINTS or not readings.usable:
        return ()
    cells = [[readings.rows[n][name] for name in knobs] for n in readings.usable]
    starts = [0, *(n for n in range(1, len(cells)) if cells[n] != cells[n - 1]), len(cells)]
    runs = [np.arange(first, last) for first, last in itertools.pairwise(starts)]
    return tuple(run for run in runs if len(run) > 1)


READS_POINTS: Final = frozenset({"plates only", "coils only"})
"""Methods whose rows are points of a trace."""


def _settings(
    readings: Table, column: Column, found: _Found
) -> Iterator[tuple[NDArray[np.int_], Parameter]]:
    """Give the rows that share one reading of a knob, with the parameter of its error."""
    if column.meter == "ruler" or column.name not in _METERS:
        return
    short, _ = _METERS[column.name]
    sizes = readings.uncertainties(column.name)
    freedom = readings.degrees_of_freedom(column.name)
    for rows in settings_of(readings):
        size = float(sizes[rows[0]])
        if size == 0:
            continue
        scatter = readings.rows[readings.usable[rows[0]]][column.name].scatter
        kind: Kind = "A" if scatter**2 > 0.5 * size**2 else "B"
        number = found.count(f"{short}_setting_") + 1
        yield rows, Parameter(
            f"{short}_setting_{number}", f"{column.symbol} as read, setting {number}",
            column.si_unit, 0.0, size, part_of=f"{column.symbol} as read ({readings.method})",
            kind=kind, degrees_of_freedom=float(freedom[rows[0]]),
        )  # fmt: skip


def _photograph(readings: Table, found: _Found) -> dict[int, Array]:
    """Give how the errors of a photograph's map shift the readings."""
    names = [column.name for column in readings.columns]
    if not {"x", "y"} <= set(names):
        return {}
    pair = readings.instrument("x"), readings.instrument("y")
    count = max(len(each.sway) for each in pair)
    if count == 0:
        return {}
    if pair not in found.photographs:
        number = len(found.photographs) + 1
        found.photographs[pair] = found.add(
            *(
                Parameter(
                    f"photograph_{number}_map_{n + 1}", f"map of photograph {number}, part {n + 1}",
                    "1", 0.0, 1.0, part_of=f"map of photograph {number}",
                )
                for n in range(count)
            )
        )  # fmt: skip
    x, y = (readings.values(name) for name in ("x", "y"))
    offsets = np.zeros((count, len(x), len(names)))
    for name, each in zip(("x", "y"), pair, strict=True):
        if each.sway:
            offsets[: len(each.sway), :, names.index(name)] = sway_at(each.sway, x, y)
    start = found.photographs[pair]
    return {start + n: np.nan_to_num(offset) for n, offset in enumerate(offsets)}


def sizes_of_changes(readings: Table) -> Array:
    """Sizes (r, k) of small changes of the readings, for slopes; 0 where nothing is uncertain."""
    sizes = []
    for column in readings.columns:
        made, values = readings.instrument(column.name), readings.values(column.name)
        limits = np.abs(values) * made.gain_uncertainty + made.zero_uncertainty
        own = readings.uncertainties(column.name)
        sizes.append(np.where(own > 0, own, np.nan_to_num(limits)))
    return np.stack(sizes, axis=1)
