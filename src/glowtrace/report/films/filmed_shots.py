"""Knobs, captions and chapters of a film from the shot list that it was filmed by."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from glowtrace.bench.files import file_text
from glowtrace.bench.ratings import settings_of_record
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, Problem
from glowtrace.films.knob_times import KNOBS
from glowtrace.report.films.description import Chapter, FilmDescription, Moment, Words
from glowtrace.report.shot_lists.content import ShotList
from glowtrace.shots.speech import seconds_of

_SAME: Final = ("plate_tie", "plate_source")
"""Settings that are no knobs: a film has one of each."""
_WANTED: Final = "give what glowtrace shots or glowtrace plan print with --json"


class FilmedShot(NamedTuple):
    """What a film takes from a shot."""

    number: int
    """In the order of filming."""
    do: str
    script: str
    settings: Settings


def filmed_shots(made: ShotList) -> tuple[FilmedShot, ...]:
    """Give what a film takes from a shot list."""
    return tuple(FilmedShot(s.number, s.do, s.script, s.settings) for s in made.shots)


def read_shots(path: Path) -> tuple[FilmedShot, ...]:
    """Read a shot list, or a plan, as the commands print them with --json.

    Raises
    ------
    BenchError
        It cannot be read, or is something else.
    """
    subject = f'shot list "{path}"'
    return shots_from_json(file_text(path, "shot list", subject), subject)


def shots_from_json(text: str, subject: str) -> tuple[FilmedShot, ...]:
    """Read the text of a shot list or a plan; errors as for `read_shots`. A plan is one shot."""
    try:
        told = json.loads(text)
        kind = told["format"].partition(" ")[0]
        if kind == "glowtrace-plan":
            answer = told["answers"][0]
            return (
                FilmedShot(1, answer["goal"]["title"], "", settings_of_record(answer["settings"])),
            )
        if kind != "glowtrace-shots":
            raise BenchError(subject, [Problem("format", f'"{told["format"]}"', _WANTED)])
        return tuple(
            FilmedShot(
                int(s["number"]), str(s["do"]), str(s["script"]), settings_of_record(s["settings"])
            )
            for s in told["shots"]
        )
    except (ValueError, TypeError, KeyError, IndexError, AttributeError) as error:
        problem = Problem("file", "this is no shot list", _WANTED)
        raise BenchError(subject, [problem]) from error


def with_shots(
    description: FilmDescription, shots: Sequence[FilmedShot], times: Mapping[int, float]
) -> FilmDescription:
    """Give a description with the knobs, captions and chapters of shots that begin at times.

    Parameters
    ----------
    description
        What stands in it stays; a knob that is estimated is not taken from the shots.
    shots
        Of a shot list.
    times
        When shots begin, in s since the film began, by their numbers.

    Raises
    ------
    BenchError
        There is no such shot, or its plates are tied or fed otherwise than in the description.
    """
    known = {shot.number: shot for shot in shots}
    ordered = sorted(times.items(), key=lambda item: item[1])
    problems = list(_wrong_shots(description, known, times))
    if problems:
        raise BenchError("shots", problems)
    begins = [(time, known[number]) for number, time in ordered]
    ends = [*times.values(), math.inf if description.end is None else description.end]
    ends = [min((end for end in ends if end > time), default=time) for time, _ in begins]
    turned = _turned(description, [shot.settings for _, shot in begins])
    moments = [
        Moment(
            time=time,
            **{knob: relative_knobs(shot.settings, description.settings)[knob] for knob in turned},
        )
        for time, shot in begins
    ]
    captions = [
        caption
        for (time, shot), end in zip(begins, ends, strict=True)
        for caption in _captions(shot.script, time, end)
    ]
    chapters = [Chapter(time=time, title=shot.do) for time, shot in begins]
    return description.model_copy(
        update={
            "between": "held",
            "moment": (*description.moment, *(each for each in moments if each.knobs)),
            "caption": (*description.caption, *captions),
            "chapter": (*description.chapter, *chapters),
            "shots": None,
            "shot": (),
        }
    )


def _wrong_shots(
    description: FilmDescription, known: Mapping[int, FilmedShot], times: Mapping[int, float]
) -> Iterator[Problem]:
    for number in times:
        if number not in known:
            yield Problem("shot: number", f"{number}", f"there are shots 1 to {len(known)}")
            continue
        for name in _SAME:
            wanted = getattr(known[number].settings, name)
            if wanted != getattr(description.settings, name):
                yield Problem(f"shot {number}: {name}", f'"{wanted}"', "film it by itself")


def _turned(description: FilmDescription, all_settings: Sequence[Settings]) -> list[str]:
    """Give the knobs that moments tell: those that are ever above zero, less an estimated one."""
    every = [description.settings, *all_settings]
    return [
        knob
        for knob in KNOBS
        if knob != description.estimate and any(getattr(each, knob) for each in every)
    ]


def relative_knobs(settings: Settings, base: Settings) -> dict[str, float]:
    """Give the knobs (SI), below 0 where the polarity is the other one of the base."""
    plates = 1.0 if settings.plate_reversed == base.plate_reversed else -1.0
    coils = 1.0 if settings.coil_reversed == base.coil_reversed else -1.0
    return {
        "accelerating_voltage": settings.accelerating_voltage if settings.heater_on else 0.0,
        "plate_voltage": plates * settings.plate_voltage,
        "coil_current": coils * settings.coil_current,
    }


def _captions(script: str, start: float, end: float) -> Iterator[Words]:
    """Give a caption for each sentence, as long as its share of the words; none after the end."""
    total, count = seconds_of(script), len(script.split())
    for sentence in re.split(r"(?<=[.!?])\s+", script):
        share = total * len(sentence.split()) / max(count, 1)
        stop = min(start + share, end)
        if stop > start:
            yield Words(start=start, end=stop, text=sentence)
        start += share
