"""Study files: a bench, settings, and what varies, in TOML with quantity text."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from glowtrace.bench.checking import check
from glowtrace.bench.files import file_text, load_bench, parse_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.errors import BenchError, GlowtraceError, Problem
from glowtrace.measure.tables.instrument import Instrument, meter
from glowtrace.measure.usual_meters import meter_unit
from glowtrace.studies.hidden_truth import Measurement
from glowtrace.studies.spreads import Spread, read_spread
from glowtrace.studies.study import Study, turns
from glowtrace.units import QuantityError, parse_quantity

_FORMAT: Final = "glowtrace-study 1"
_PLAIN: Final[dict[str, type]] = {
    "plan": str, "rows": int, "seed": int, "electrons": int, "model": str, "read": list,
    "wanted": str, "doubts": bool, "beyond_ratings": bool,
}  # fmt: skip
_NAMES: Final = ("format", "bench", "settings", "vary", "measurement", "at", *_PLAIN)


def load_study(path: str | os.PathLike[str]) -> Study:
    """Read a study's file; a bench that it names by its path is looked for beside it.

    Raises
    ------
    BenchError
        What is wrong in it.
    """
    place = Path(path)
    subject = f'study file "{place}"'
    data = parse_toml(file_text(place, "study", subject), subject)
    try:
        return _study(data, place.parent, subject)
    except BenchError:
        raise
    except GlowtraceError as error:
        raise BenchError(subject, error.problems or [Problem("file", str(error))]) from None


def _study(data: Mapping[str, Any], folder: Path, subject: str) -> Study:
    if data.get("format") != _FORMAT:
        mark = f'"{data["format"]}"' if "format" in data else "nothing was given"
        raise GlowtraceError(Problem("format", mark, f'start the file with format = "{_FORMAT}"'))
    wrong = [unknown_name("file", name, _NAMES) for name in data if name not in _NAMES]
    for name, kind in _PLAIN.items():
        value = data.get(name, kind())
        if type(value) is not kind:
            wrong.append(Problem(name, f"{value!r}", _WANTED[kind]))
    for name in ("settings", "vary", "measurement"):
        if not isinstance(data.get(name, {}), Mapping):
            wrong.append(Problem(name, f"{data[name]!r}", f"give a table [{name}]"))
    if wrong:
        raise GlowtraceError(*wrong)
    bench = _bench(data.get("bench"), folder)
    given: dict[str, Any] = {name: data[name] for name in _PLAIN if name in data}
    knobs = data.get("settings", {})
    if "measurement" in data:  # which sets the knobs itself
        if knobs:
            wanted = "leave [settings] out: a measurement sets the knobs itself"
            raise GlowtraceError(Problem("settings", f"{dict(knobs)!r}", wanted))
        given["measurement"] = _measurement(data["measurement"])
        knobs = {"accelerating_voltage": f"{knob_ranges(bench)['accelerating_voltage'][0]} V"}
    settings = check(Settings, knobs, f"{subject}, settings", is_written=True)
    if "at" in data:
        given["at"] = _place(data["at"])
    vary = dict(_spreads(bench, data.get("vary", {})))
    return Study(bench=bench, settings=settings, vary=vary, **given)


_WANTED: Final = {
    str: "give text in quotes",
    int: "give a whole number",
    list: "give a list of names",
    bool: "give true or false",
}


def _bench(name: object, folder: Path) -> Bench:
    if not isinstance(name, str):
        wanted = "give the name of a bench, or the path of its file"
        raise GlowtraceError(Problem("bench", "nothing was given", wanted))
    if name in ready_made_names():
        return ready_made(name)
    if not name.endswith(".toml"):
        raise GlowtraceError(unknown_name("bench", name, ready_made_names()))
    return load_bench(folder / name)


def _measurement(table: Mapping[str, Any]) -> Measurement:
    given, named = dict(table), table.get("instruments", {})
    given.pop("instruments", None)
    for name in given:
        if name != "method":
            raise GlowtraceError(unknown_name("measurement", name, ("method", "instruments")))
    plain = Measurement(given.get("method", ""))
    if not isinstance(named, Mapping):
        wanted = "give a table [measurement.instruments]"
        raise GlowtraceError(Problem("instruments", f"{named!r}", wanted))
    replace(plain, instruments=dict.fromkeys(named, Instrument()))  # its names first
    made = {name: _instrument(name, parts) for name, parts in named.items()}
    return replace(plain, instruments=made)


def _instrument(name: str, parts: object) -> Instrument:
    texts = dict(parts) if isinstance(parts, Mapping) else {}
    names = {"specification", "resolution", "judgement"}
    if not {"resolution"} <= set(texts) <= names or not all(
        isinstance(each, str) for each in texts.values()
    ):
        wanted = 'give { specification = "0.5 % + 2 digits", resolution = "1 V" }, and a judgement'
        raise GlowtraceError(Problem(f"instruments: {name}", f"{parts!r}", wanted))
    try:
        return meter(
            texts.get("specification", ""), texts["resolution"], meter_unit(name),
            judgement=texts.get("judgement", ""),
        )  # fmt: skip
    except QuantityError as error:
        raise error.within(f"instruments: {name}") from None


def _place(written: object) -> float:
    try:
        return parse_quantity(f"{written}", "m")
    except QuantityError as error:
        raise error.within("at") from None


def _spreads(
    bench: Bench, table: Mapping[str, Any], path: str = ""
) -> Iterator[tuple[str, Spread]]:
    for name, written in table.items():
        whole = f"{path}{name}"
        if isinstance(written, Mapping) and not {"range", "points"} & set(written):
            yield from _spreads(bench, written, f"{whole}.")
        else:
            kind = turns(bench, whole)
            yield whole, read_spread(whole, written, kind.unit, is_count=kind.is_count)
