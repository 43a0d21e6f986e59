"""Tables of readings and lines of photographs as things that were seen, for learning about a bench.

What is learnt from takes each reading to err by itself. An error that a ruler or a photograph's map
makes in all of them together is therefore counted root n times in each of n: their mean then errs
by as much as it should.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.doubts import Seen
from glowtrace.bench.model import Bench
from glowtrace.bench.observing import READ_TO
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.methods import COLUMNS, Method
from glowtrace.measure.tables.heads import UnsureColumnsError
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.photographs.agreement import require_on_screen
from glowtrace.photographs.circle import circle_of_line
from glowtrace.photographs.photograph import PhotographError
from glowtrace.photographs.sway import sway_at
from glowtrace.photographs.trace_line import TraceLine

Array = NDArray[np.float64]

LEARNT_FROM: Final[tuple[Method, ...]] = ("null", "plates only", "coils only", "circle")
"""Methods whose readings are places of the line, or circles; what has more columns first."""
_POINTS: Final = 6
"""Points of a photographed line that are taken: its shape has no more to say."""
_MIDDLE: Final = 0.1e-3
"""By how much in m the middle of a glowing line may lie beside the middle of its beam, all along:
as pictures of whole beams and their middle electron differ."""
_FINEST: Final = 1e-6
"""Least standard uncertainty in m that a reading can have."""


def readings_to_learn_from(text: str) -> Table:
    """Read a table by its heads, of whichever method that can be learnt from.

    Raises
    ------
    GlowtraceError
        Its columns are those of no such method, or none of its rows can be used.
    """
    for method in LEARNT_FROM:
        try:
            found = read_table(text, method)
        except UnsureColumnsError:
            continue
        if found.usable:
            return found
    heads = "; ".join(", ".join(column.head for column in COLUMNS[each] if column.is_needed)
                      for each in LEARNT_FROM)  # fmt: skip
    allowed = f"give a head and rows for one of: {heads}"
    raise GlowtraceError(Problem("readings", "no table that can be learnt from", allowed))


def seen_in_table(table: Table, bench: Bench) -> tuple[Seen, ...]:
    """Give the usable rows as things that were seen.

    Raises
    ------
    GlowtraceError
        The method's readings are neither places of the line nor circles, or the bench lacks what
        they need.
    """
    if table.method not in LEARNT_FROM:
        allowed = f"what is learnt from is {', '.join(LEARNT_FROM)}"
        raise GlowtraceError(Problem("method", f'"{table.method}"', allowed))
    settings = _settings(table)
    if table.method == "circle":
        sizes, errors = table.values("diameter"), _errors(table, "diameter")
        signs = np.sign(table.values("coil_current"))  # I > 0 pushes up
        rows = zip(settings, sizes * signs, errors, strict=True)
        return tuple(
            Seen(what="circle", settings=each, y=float(size), uncertainty=float(error))
            for each, size, error in rows
        )
    places = table.values("x")
    heights, errors = table.values("y"), _errors(table, "y")
    if table.method == "null":
        places = np.where(np.isnan(places), bench.plane.u_of(bench.plane.first_read_x), places)
        errors = np.hypot(errors, _null_errors(table, bench, places))
    else:
        # A line that bends as a parabola rises by 2 y / x on the way.
        slope = 2.0 * heights / np.maximum(np.abs(places), 1e-3)
        errors = np.hypot(errors, slope * _own(table, "x", 0.0))
    return tuple(
        Seen(settings=each, x=bench.plane.x_of(float(u)), y=float(y), uncertainty=float(error))
        for each, u, y, error in zip(settings, places, heights, errors, strict=True)
    )


def seen_in_photograph(line: TraceLine, bench: Bench, settings: Settings) -> tuple[Seen, ...]:
    """Give a photographed line as points that were seen, or the circle that it makes.

    Raises
    ------
    PhotographError
        No point of it counts, it is no circle where it should be one, or the bench shows a spot.
    """
    if bench.plane.is_spot:
        raise PhotographError("an end face shows a spot, not a line; tell its place instead")
    if line.shape == "loop":
        circle = circle_of_line(line)
        require_on_screen(circle, line)
        size = math.copysign(circle.diameter, settings.signed_coil_current)
        error = max(circle.diameter_uncertainty, _FINEST)
        return (Seen(what="circle", settings=settings, y=size, uncertainty=error),)
    kept = line.kept
    if len(kept) < 2:
        raise PhotographError("the line has no points that count; find it again or add points")
    slope = np.gradient(kept.places[:, 1], kept.places[:, 0])
    count = min(_POINTS, len(kept))
    chosen = np.unique(np.rint(np.linspace(0, len(kept) - 1, count)).astype(int))
    slope, kept = slope[chosen], kept.selected(chosen)
    across = np.stack([-slope, np.ones_like(slope)], axis=1)
    own = np.einsum("ni,nij,nj->n", across, kept.own_covariance, across)
    sway = np.einsum("eni,ni->en", kept.screen_map.sway(kept.pixels), across)
    common = (sway**2).sum(axis=0) + _MIDDLE**2
    errors = np.sqrt(np.maximum(own, 0.0) + len(kept) * common)
    return tuple(
        Seen(
            settings=settings, x=bench.plane.x_of(float(u)), y=float(v),
            uncertainty=max(float(error), _FINEST), note="photograph",
        )
        for (u, v), error in zip(kept.places, errors, strict=True)
    )  # fmt: skip


def _settings(table: Table) -> list[Settings]:
    names = {column.name for column in table.columns}
    count = len(table.usable)

    def column(name: str) -> Array:
        return table.values(name) if name in names else np.zeros(count)

    return [
        Settings(
            accelerating_voltage=float(volts),
            plate_voltage=abs(float(plates)),
            plate_reversed=bool(plates < 0.0),
            plate_tie=table.plate_tie,
            coil_current=abs(float(current)),
            coil_reversed=bool(current < 0.0),
        )
        for volts, plates, current in zip(
            column("accelerating_voltage"), column("plate_voltage"), column("coil_current"),
            strict=True,
        )
    ]  # fmt: skip


def _own(table: Table, name: str, usual: float) -> Array:
    """Give what is new with every reading of a column; as usual where nothing is told."""
    found = table.uncertainties(name)
    return np.where(found > 0.0, found, usual)


def _errors(table: Table, name: str) -> Array:
    """Give the standard uncertainties (r,) of a length, common errors root r times."""
    ruler, values = table.instrument(name), table.values(name)
    common = np.hypot(ruler.zero_uncertainty, ruler.gain_uncertainty * values)
    if ruler.sway:
        sway = sway_at(ruler.sway, table.values("x"), table.values("y"))
        common = np.hypot(common, np.sqrt((sway**2).sum(axis=0)))
    errors = np.hypot(_own(table, name, READ_TO), math.sqrt(len(values)) * common)
    return np.asarray(np.maximum(errors, _FINEST))


def _null_errors(table: Table, bench: Bench, places: Array) -> Array:
    """Give what judging the null by the plate voltage makes of height, by the parabola."""
    gap = bench.plates.gap if bench.plates else math.inf
    per_volt = places**2 / (4.0 * gap * table.values("accelerating_voltage"))
    return np.asarray(per_volt * _own(table, "plate_voltage", 0.0))
