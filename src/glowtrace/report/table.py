"""The numbers behind a picture: a table for spreadsheets, a record for programs.

Every name ends in its unit. u and v are the screen's own coordinates: along a sheet (0 where
x = 0) and up; sideways and up on an end face; x and y where the gas glows.
"""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.ratings import settings_record
from glowtrace.report.output import TABLE_ENDINGS, require_ending, write_output

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Picture
    from glowtrace.demos.textbook import Textbook

RECORD_FORMAT = "glowtrace-picture 3"
COLUMNS = ("u_mm", "v_mm", "width_mm", "weight", "textbook_v_mm")
"""Columns of the table: the mean trace, its width (two standard deviations), its share of the
light, and the textbook's v at the same u (empty where the textbook's trace has none or several)."""
_MM_DECIMALS = 4  # a tenth of a micrometre


def save_table(
    path: Path,
    picture: Picture,
    bench: Bench,
    textbook: Textbook | None = None,
) -> None:
    """Write the table to a CSV file or the whole record to a JSON file; the ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    if require_ending(path, TABLE_ENDINGS) == ".csv":
        text = table_csv(picture, textbook)
    else:
        text = record_json(picture, bench, textbook) + "\n"
    write_output(path, text.encode())


def table_rows(
    picture: Picture, textbook: Textbook | None = None
) -> tuple[dict[str, float | None], ...]:
    """Give the mean trace, one row a point, with the names of `COLUMNS`."""
    trace = picture.mean_trace
    u = np.asarray(trace.u, dtype=float)
    columns = (
        _column_in_mm(u),
        _column_in_mm(trace.v),
        _column_in_mm(2.0 * trace.width_v),
        [_number(float(one)) for one in trace.weight],
        _column_in_mm(_textbook_at(u, textbook)),
    )
    return tuple(dict(zip(COLUMNS, row, strict=True)) for row in zip(*columns, strict=True))


def table_csv(picture: Picture, textbook: Textbook | None = None) -> str:
    """Give the table as CSV text: a line of names, then one line a row."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(table_rows(picture, textbook))
    return text.getvalue()


def record(picture: Picture, bench: Bench, textbook: Textbook | None = None) -> dict[str, Any]:
    """Give all that made the picture and all that it shows, ready for JSON.

    Parameters
    ----------
    picture, bench, textbook
        As for `glowtrace.report.figure.draw_picture`.
    """
    return {
        "format": RECORD_FORMAT,
        "bench": {"name": bench.name, "invented": bench.invented},
        "model": picture.model,
        "settings": settings_record(picture.settings),
        "view": picture.plane.kind,
        "electrons": picture.electrons,
        "seed": picture.seed,
        "ends": dict(picture.ends),
        "trace": [_in_si(row) for row in table_rows(picture, textbook)],
        "textbook": None if textbook is None else _textbook_record(textbook),
    }


def record_json(picture: Picture, bench: Bench, textbook: Textbook | None = None) -> str:
    """Give `record` as JSON text."""
    whole = record(picture, bench, textbook)
    return json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False)


def _textbook_record(textbook: Textbook) -> dict[str, Any]:
    return {
        "regime": textbook.regime,
        "end": textbook.end,
        "speed_m_per_s": _number(textbook.speed),
        "electric_field_v_per_m": _number(textbook.electric_field),
        "flux_density_t": _number(textbook.flux_density),
        "radius_m": _number(textbook.radius),
        "null_plate_voltage_v": _number(textbook.null_plate_voltage),
        "null_coil_current_a": _number(textbook.null_coil_current),
        "focus_coil_current_a": _number(textbook.focus_coil_current),
        "u_m": [_number(float(one)) for one in textbook.u],
        "v_m": [_number(float(one)) for one in textbook.v],
    }


def _textbook_at(u: NDArray[np.float64], textbook: Textbook | None) -> NDArray[np.float64]:
    """Give the textbook's v at each u, NaN where there is none or where there are several."""
    nothing = np.full(u.shape, math.nan)
    if textbook is None or len(textbook.u) < 2 or np.any(np.diff(textbook.u) <= 0):
        return nothing
    return np.interp(u, textbook.u, textbook.v, left=math.nan, right=math.nan)


def _column_in_mm(lengths: NDArray[np.float64]) -> list[float | None]:
    return [_in_mm(float(length)) for length in lengths]


def _in_si(row: dict[str, float | None]) -> dict[str, float | None]:
    """Give a row of the table with its lengths in metres, to the same decimals."""
    return {
        name.replace("_mm", "_m"): round(value / 1e3, _MM_DECIMALS + 3)
        if value is not None and name.endswith("_mm")
        else value
        for name, value in row.items()
    }


def _in_mm(length: float | None) -> float | None:
    return None if length is None else _number(round(1e3 * length, _MM_DECIMALS) + 0.0)


def _number(value: float | None) -> float | None:
    """Give a number that JSON and CSV can hold; None for what is not one."""
    return float(value) if value is not None and math.isfinite(value) else None
