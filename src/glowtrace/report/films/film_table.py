"""The line of a film over time as a table: CSV, or Parquet where the package for it is there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from glowtrace.disk import new_whole
from glowtrace.errors import MissingPackageError
from glowtrace.films.film_reading import FilmReadings
from glowtrace.films.knob_estimate import NOTHING
from glowtrace.report.films.overlay import FilmOverlay, signed_knobs
from glowtrace.report.output import refusal, require_ending

ENDINGS: Final = (".csv", ".parquet")
COLUMNS: Final = (
    "time_s",
    "u_mm",
    "read_mm",
    "seen",
    "computed_mm",
    "read_minus_computed_mm",
    "accelerating_voltage_v",
    "plate_voltage_v",
    "coil_current_a",
    "estimate_half_95_si",
)
_EVERY: Final = 5
"""Stations from one row of a frame to the next."""


def save_film_table(path: Path, overlay: FilmOverlay) -> None:
    """Write the line of every frame, one row for each place.

    `seen` is "yes", "covered" (not seen though the line is elsewhere), "no line" or "screen lost".

    Raises
    ------
    GlowtraceError
        The file cannot be written; Parquet needs the package pyarrow.
    """
    ending = require_ending(path, ENDINGS)
    try:
        with new_whole(path) as temporary:
            (_write_csv if ending == ".csv" else _write_parquet)(temporary, overlay)
    except OSError as error:
        raise refusal(path, error) from error


def table_rows(overlay: FilmOverlay, number: int) -> Iterator[tuple[Any, ...]]:
    """Give the rows of a frame; None where there is no value."""
    readings = overlay.readings
    at = np.arange(_EVERY // 2, len(readings.u), _EVERY)
    settings = overlay.settings(number)
    computed = overlay.computed(settings).at(readings.u)
    if overlay.why_no_line(number):
        computed = np.full(len(readings.u), np.nan)
    estimate = overlay.estimates[number] if overlay.estimated else NOTHING
    signed = signed_knobs(settings)
    if overlay.estimated:
        signed[overlay.estimated] = estimate.value
    knobs = (*signed.values(), estimate.half)
    told = tuple(float(f"{each:.6g}") if np.isfinite(each) else None for each in knobs)
    for n in at:
        read, own = 1e3 * float(readings.heights[number, n]), 1e3 * float(computed[n])
        values = (1e3 * float(readings.u[n]), read, own, read - own)
        u, height, there, off = (round(x, 3) if np.isfinite(x) else None for x in values)
        time = round(float(readings.seconds[number]), 4)
        yield time, u, height, _seen(readings, number, int(n)), there, off, *told


def _seen(readings: FilmReadings, number: int, station: int) -> str:
    if readings.is_lost[number]:
        return "screen lost"
    if np.isfinite(readings.heights[number, station]):
        return "yes"
    return "covered" if readings.is_covered[number, station] else "no line"


def _write_csv(path: Path, overlay: FilmOverlay) -> None:
    with path.open("x", encoding="utf-8") as file:
        file.write(",".join(COLUMNS) + "\n")
        for number in range(len(overlay.readings)):
            for row in table_rows(overlay, number):
                file.write(",".join("" if each is None else str(each) for each in row) + "\n")


def _write_parquet(path: Path, overlay: FilmOverlay) -> None:
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ModuleNotFoundError as error:
        raise MissingPackageError("Parquet tables", "pyarrow", "clips") from error
    kinds = [pa.string() if name == "seen" else pa.float64() for name in COLUMNS]
    schema = pa.schema(list(zip(COLUMNS, kinds, strict=True)))
    with parquet.ParquetWriter(path, schema) as file:
        for number in range(len(overlay.readings)):
            columns = zip(*table_rows(overlay, number), strict=True)
            arrays = [pa.array(each, kind) for each, kind in zip(columns, kinds, strict=True)]
            file.write_batch(pa.record_batch(arrays, schema=schema))
