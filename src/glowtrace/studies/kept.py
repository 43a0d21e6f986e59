"""The rows of a study on disk: one Parquet file for each stretch of rows, written whole.

A folder holds one study: ``study.json`` says which, ``rows/`` has the files. A stretch is there or
it is not; whatever ends the program, no row is lost that was written, and none is there twice.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from glowtrace.disk import write_whole
from glowtrace.errors import GlowtraceError
from glowtrace.studies.rows import Columns
from glowtrace.studies.study import Study
from glowtrace.sweeps.parquet import parquet_bytes, pyarrow_module
from glowtrace.version import __version__

_FORMAT: Final = "glowtrace-study-rows 1"
_SECONDS: Final = 1.0
"""That a stretch of rows is meant to take: little is lost with it, and sending it costs less."""
_FIELDS_S: Final = 0.1
_PICTURE_S: Final = 3e-3
"""About what the fields of a bench and a picture of 200 electrons take."""
_FIT_S: Final = 0.5
"""About what readings and their fit take."""
_CASE_S: Final = 0.1
"""About what a told fault and the search for its cause take."""
_MOST_ROWS: Final = 2000
_LEAST_PARTS: Final = 8


@dataclass(frozen=True)
class KeptRows:
    """A study's folder."""

    folder: Path
    count: int
    """Rows of the study."""
    stretch: int
    """Rows in a file, but for the last."""

    @property
    def rows_folder(self) -> Path:
        """Where the Parquet files are: readers of Parquet take the folder as one table."""
        return self.folder / "rows"

    def stretches(self) -> range:
        """Give the numbers of all stretches."""
        return range(-(-self.count // self.stretch))

    def rows_of(self, number: int) -> range:
        """Give the rows of a stretch."""
        return range(number * self.stretch, min((number + 1) * self.stretch, self.count))

    def there(self) -> frozenset[int]:
        """Give the numbers of the stretches that are computed."""
        names = (re.fullmatch(r"rows-(\d+)\.parquet", p.name) for p in self.rows_folder.iterdir())
        return frozenset(int(name[1]) for name in names if name)

    def rows_there(self) -> int:
        """Give how many rows are computed."""
        return sum(len(self.rows_of(number)) for number in self.there())

    def write(self, number: int, columns: Columns) -> None:
        """Write a stretch in one step; a GlowtraceError says why it cannot be."""
        path = self.rows_folder / f"rows-{number:06d}.parquet"
        try:
            write_whole(path, parquet_bytes(columns))
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise GlowtraceError(
                f'"{path}" cannot be written: {reason}. {self.rows_there()} of {self.count} rows '
                "are kept; make room, then call it again to go on from there."
            ) from error

    def numbers(self) -> tuple[str, ...]:
        """Give the names of the columns of numbers; a GlowtraceError where no row is there."""
        first = next(iter(sorted(self.there())), None)
        if first is None:
            raise GlowtraceError(f'"{self.folder}" has no rows yet.')
        path = self.rows_folder / f"rows-{first:06d}.parquet"
        schema = pyarrow_module("parquet").read_schema(path)
        return tuple(name for name in schema.names if str(schema.field(name).type) == "double")

    def read(self, names: Iterable[str]) -> Columns:
        """Give columns of all rows that are there, in order."""
        table = pyarrow_module("parquet").read_table(self.rows_folder, columns=list(names))
        return {name: table[name].to_numpy() for name in table.column_names}


def open_kept(study: Study, folder: Path) -> KeptRows:
    """Give the folder of a study, made where it is not there.

    Raises
    ------
    GlowtraceError
        It holds another study, or rows of another version; it cannot be written.
    """
    pyarrow_module("parquet")
    kept = KeptRows(folder, study.count, _stretch(study))
    told = {"format": _FORMAT, "glowtrace": __version__, "study": study.record()}
    told = json.loads(json.dumps(told | {"rows": kept.count, "stretch": kept.stretch}))
    mark = folder / "study.json"
    try:
        if mark.exists():
            _require_same(json.loads(mark.read_text("utf-8")), told, folder)
        elif folder.exists() and any(folder.iterdir()):
            raise GlowtraceError(f'"{folder}" holds something else: give a new folder.')
        kept.rows_folder.mkdir(parents=True, exist_ok=True)
        if not mark.exists():
            write_whole(mark, (json.dumps(told, indent=1) + "\n").encode())
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its study.json cannot be read"
        raise GlowtraceError(f'"{folder}" cannot be used: {reason.lower()}.') from error
    return kept


def _require_same(there: Any, wanted: Any, folder: Path) -> None:
    if not isinstance(there, dict) or there.get("format") != _FORMAT:
        raise GlowtraceError(f'"{folder}" holds something else: give a new folder.')
    if there.get("glowtrace") != wanted["glowtrace"]:
        raise GlowtraceError(
            f'the rows in "{folder}" are of Glowtrace {there.get("glowtrace")}, and this is '
            f"{wanted['glowtrace']}: give a new folder, or go on with that version."
        )
    if there != wanted:
        theirs, own = there.get("study", {}), wanted["study"]
        differ = [name for name in own if theirs.get(name) != own[name]]
        raise GlowtraceError(
            f'"{folder}" holds another study (it differs in {", ".join(differ) or "its rows"}): '
            "give a new folder, or the study as it was to go on with it."
        )


def _stretch(study: Study) -> int:
    """Choose how many rows go into a file; the same for equal studies, wherever they run."""
    shared = study.settings_a_bench
    each = _FIT_S if study.measurement else _PICTURE_S * max(1.0, study.electrons / 200)
    if study.plan == "faults":
        each = _CASE_S
    seconds = each + (_FIELDS_S / shared if study.fields_vary else 0.0)
    rows = min(max(1, round(_SECONDS / seconds)), _MOST_ROWS, max(1, study.count // _LEAST_PARTS))
    return max(shared, rows // shared * shared) if shared <= _MOST_ROWS else rows
