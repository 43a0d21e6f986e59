"""The rows of a study: imagined benches, and what is read on them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.checking import change
from glowtrace.bench.electron import Launch
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ratings import KNOBS, check_settings
from glowtrace.bench.series import BenchSeries
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, FieldMapError, GlowtraceError, Problem
from glowtrace.faults import prepare_suspects
from glowtrace.studies import fault_cases
from glowtrace.studies.hidden_truth import TEMPLATE, Measurement, NotMeasuredError, measured
from glowtrace.studies.one_thread import one_thread
from glowtrace.studies.study import Study, turns
from glowtrace.sweeps.row import Row, read_row
from glowtrace.version import __version__

Array = NDArray[np.float64]
Columns = dict[str, NDArray[Any]]

_SLACK: Final = "slack."

PROBLEM: Final = "problem"
"""Column that says why a row could not be: a plate in the beam, a coil in the glass."""


def compute_rows(study: Study, rows: range, version: str, cache_dir: Path | None = None) -> Columns:
    """Give some rows of a study as columns: the row's number, what varies, what is read.

    Parameters
    ----------
    study, rows
        Which of it.
    version
        Of the Glowtrace that asks.
    cache_dir
        Folder for field maps; the user's cache folder when left out.

    Raises
    ------
    GlowtraceError
        This Glowtrace has another version.
    """
    require_version(version, __version__, "a worker")
    values = study.values(rows)
    with one_thread():
        imagined = _imagined(_Key(study), cache_dir)
        found = [imagined.row(each, row) for each, row in zip(values, rows, strict=True)]
    columns: Columns = {"row": np.array(rows, dtype=np.int64)}
    columns |= {name: values[:, n] for n, name in enumerate(study.columns)}
    return columns | {name: np.array([row[name] for row in found]) for name in found[0]}


def require_version(asked: str, own: str, who: str) -> None:
    """Refuse to compute together with another version."""
    if asked != own:
        text = f"{who} has Glowtrace {own}, and this computer {asked}: give both the same version"
        raise GlowtraceError(text)


class _Key:
    """A study as a key: equal studies have equal records."""

    def __init__(self, study: Study) -> None:
        self.study, self.text = study, repr(study.record())

    def __hash__(self) -> int:
        return hash(self.text)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self.text == other.text


@lru_cache(maxsize=2)
def _imagined(key: _Key, cache_dir: Path | None) -> ImaginedBenches:
    return ImaginedBenches(key.study, cache_dir)


class ImaginedBenches:
    """Makes the bench of a row, and reads it."""

    def __init__(self, study: Study, cache_dir: Path | None = None) -> None:
        self.study = study
        # What a row's bench is, is exact.
        exact = study.bench.model_copy(update={"doubts": None, "slack": None})
        self._first = prepare(exact, cache_dir=cache_dir)
        self._series = BenchSeries(self._first)
        plane = self._first.plane
        low, high = plane.shown_x
        self.at = plane.first_read_x if study.at is None else study.at
        if not low <= self.at <= high:
            span = f"choose between {1e3 * low:g} mm and {1e3 * high:g} mm"
            raise GlowtraceError(Problem("at", f"{1e3 * self.at:g} mm", span))
        self._suspects = (
            prepare_suspects(self._first, study.settings) if study.plan == "faults" else None
        )
        if self._suspects is not None:
            self._template = fault_cases.TEMPLATE
        elif study.measurement is not None:
            self._template = TEMPLATE
        else:
            self._template = self._read(self._first, study.settings)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of what is read, numbers only."""
        return tuple(name for name, value in self._template.items() if type(value) is float)

    def bench_and_settings(self, values: Array) -> tuple[Bench, Settings]:
        """Give the bench and the settings of a row with these values (n,); without its slack.

        Raises
        ------
        BenchError
            There can be no such bench.
        """
        study, bench = self.study, self._first.bench
        named = dict(zip(study.names, values.tolist(), strict=True))
        knobs = {name: value for name, value in named.items() if name in KNOBS}
        changes = {
            name: int(value) if turns(bench, name).is_count else value
            for name, value in named.items()
            if name not in KNOBS and not name.startswith(_SLACK)
        }
        settings = study.settings.turned(**knobs)
        return change(bench, changes, "imagined bench") if changes else bench, settings

    def row(self, values: Array, number: int = 0) -> Row:
        """Give what is read where the numbers have these values (n,), in a row of this number."""
        if self._suspects is not None:
            study, told = self.study, fault_cases.judged(self._suspects, number, self.study.seed)
            is_within = not check_settings(study.bench, study.settings)
            return {**told, "is_within_ratings": is_within, PROBLEM: ""}
        named = zip(self.study.names, values.tolist(), strict=True)
        slack = {n.removeprefix(_SLACK): v for n, v in named if n.startswith(_SLACK)}
        try:
            bench, settings = self.bench_and_settings(values)
            is_within = not check_settings(bench, settings)
            own = self._first if bench is self._first.bench else self._series.prepare(bench)
            tube = _off(own, slack)
            if self.study.measurement is None:
                read = dict(self._read(tube, _as_metered(settings, slack)))
            else:
                read = dict(self._measured(self.study.measurement, tube, slack, number))
        except (BenchError, FieldMapError, NotMeasuredError) as error:
            blank = {name: _blank(value) for name, value in self._template.items()}
            return blank | {PROBLEM: " ".join(str(error).split())}
        if "height_m" in read:
            read["height_m"] += slack.get("grid_height", 0.0)
        return read | {"is_within_ratings": is_within, PROBLEM: ""}

    def _measured(
        self, measurement: Measurement, tube: PreparedBench, slack: Mapping[str, float], number: int
    ) -> Row:
        study, seed = self.study, (self.study.seed, number)
        return measured(measurement, tube, slack, self._first, study.bench, study.model, seed)

    def _read(self, tube: PreparedBench, settings: Settings) -> Row:
        study = self.study
        return read_row(
            tube, settings, self.at, model=study.model, electrons=study.electrons, seed=study.seed
        )


def _blank(value: float | str | bool) -> float | str | bool:
    return "" if isinstance(value, str) else False if isinstance(value, bool) else np.nan


def _as_metered(settings: Settings, slack: Mapping[str, float]) -> Settings:
    """Give what the bench gets where its meters are off."""
    off = {
        knob: getattr(settings, knob) * (1.0 + slack[f"{knob.partition('_')[0]}_meter"])
        for knob in KNOBS
        if f"{knob.partition('_')[0]}_meter" in slack
    }
    return settings.changed(**off) if off else settings


def _off(tube: PreparedBench, slack: Mapping[str, float]) -> PreparedBench:
    """Give a tube with a stray field, whose beam leaves askew."""
    if not slack:
        return tube
    stray = np.array([slack.get(f"stray_field[{axis}]", 0.0) for axis in range(3)])
    names = ("beam_height", "beam_aside", "beam_rise", "beam_turn")
    askew = Launch(*(slack.get(name, 0.0) for name in names))
    return PreparedBench(tube.bench, tube.fields, tube.earth + stray, tube.cache_dir, askew)
