"""The description of an annotated film as a file, and what may not stand in one."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import tomlkit

from glowtrace.bench.files import Form, load_marked
from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import check_settings
from glowtrace.errors import BenchError, Problem
from glowtrace.photographs.grid_points import grid_point
from glowtrace.report.films.description import FilmDescription
from glowtrace.report.films.filmed_shots import read_shots, with_shots
from glowtrace.units import QuantityError, exact_text

_FORM: Final = Form("film", "glowtrace-film 1")


def load_description(path: str | os.PathLike[str]) -> FilmDescription:
    """Read the description of a film.

    Raises
    ------
    BenchError
        It cannot be read, is no TOML, is of another format, or has wrong fields: all together.
    """
    place = Path(path)
    found = load_marked(FilmDescription, _FORM, place)
    subject = f'film file "{place}"'
    if found.shots is not None:
        times = {each.number: each.time for each in found.shot}
        try:
            found = with_shots(found, read_shots(place.parent / found.shots), times)
        except BenchError as error:
            raise error.within(subject) from None
    require_sound(found, subject)
    return found.model_copy(update={"film": str(place.parent / found.film)})


def require_sound(description: FilmDescription, subject: str = "the film") -> None:
    """Refuse times and points that contradict each other.

    Raises
    ------
    BenchError
        Naming each of them.
    """
    problems = [*_wrong_times(description), *_wrong_points(description)]
    if problems:
        raise BenchError(subject, problems)


def description_to_toml(description: FilmDescription) -> str:
    """Give the text of a description file, which reads back as an equal description."""
    told = description.model_dump(mode="json", exclude_defaults=True)
    tables = {name: value for name, value in told.items() if isinstance(value, dict)}
    rows = {
        name: value
        for name, value in told.items()
        if isinstance(value, list) and value and isinstance(value[0], dict)
    }
    plain = {name: value for name, value in told.items() if name not in tables | rows}
    return tomlkit.dumps({"format": _FORM.mark} | plain | tables | rows)


def require_fitting(description: FilmDescription, bench: Bench) -> None:
    """Refuse settings that the bench's ratings forbid, at whatever moment.

    Raises
    ------
    BenchError
        Naming each of them.
    """
    stations = description.knobs.stations()
    problems = [each for settings in stations for each in check_settings(bench, settings)]
    if problems:
        raise BenchError("the film's settings", list(dict.fromkeys(problems)))


def _wrong_times(found: FilmDescription) -> Iterator[Problem]:
    if found.end is not None and found.end <= found.start:
        allowed = f"give a time after the start, {exact_text(found.start, 's')}"
        yield Problem("end", exact_text(found.end, "s"), allowed)
    for each in found.caption:
        if each.end <= each.start:
            allowed = f"give a time after its start, {exact_text(each.start, 's')}"
            yield Problem("caption: end", exact_text(each.end, "s"), allowed)
    times = [moment.time for moment in found.moment]
    for time in {time for time in times if times.count(time) > 1}:
        yield Problem("moment: time", exact_text(time, "s"), "give each moment once")
    if found.estimate is not None and found.estimate in found.knobs.turned:
        allowed = "leave it out of the moments, or do not have it estimated"
        yield Problem("estimate", f'"{found.estimate}"', allowed)
    end = math.inf if found.end is None else found.end
    if found.estimate and not found.knobs.is_steady(found.start, end, but=found.estimate):
        allowed = "only while no other knob is turned: cut the film to such a part"
        yield Problem("estimate", f'"{found.estimate}"', allowed)


def _wrong_points(found: FilmDescription) -> Iterator[Problem]:
    for text in found.points:
        try:
            grid_point(text)
        except (ValueError, QuantityError):
            wanted = 'give a crossing and its pixel, as in "20 mm, -10 mm = 812, 1433"'
            yield Problem("points", f'"{text}"', wanted)
