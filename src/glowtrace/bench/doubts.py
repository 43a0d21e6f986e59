"""How well the numbers of a bench are known: as it stands in its file.

The standard uncertainty of a number stands with the number itself, "49 mm ± 1 mm"; the table
``[doubts]`` holds where it comes from, what is known together, and what was seen on the real tube;
the table ``[slack]`` what no other number of a bench tells. `glowtrace.bench.knowledge` makes means
and a covariance of it all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Final, Literal

import numpy as np
from pydantic import BaseModel, Field
from pydantic.fields import FieldInfo

from glowtrace.bench.parts import Coordinate, Line, Part
from glowtrace.bench.ranges import Count, Quantity, quantity_of
from glowtrace.bench.settings import Settings
from glowtrace.bench.wrong_fields import class_of, nearest_name
from glowtrace.errors import Problem
from glowtrace.units import (
    QuantityError,
    carries_uncertainty,
    exact_measurement_text,
    exact_text,
    parse_measurement,
)

Gain = Annotated[float, Quantity("1", "0", "0.5")]
Offset = Annotated[float, Quantity("mm", "0 mm", "20 mm")]
Turn = Annotated[float, Quantity("rad", "0 deg", "10 deg")]

_NO_COVARIANCE: Final = -1e-9
"""Smallest eigenvalue of a correlation matrix that still counts as none below 0."""
_MOST_SEEN: Final = 500


class Slack(Part):
    """What no other number of a bench tells: standard uncertainties about nothing.

    The usual values are guesses from common practice, without a source.
    """

    accelerating_meter: Gain = 0.005
    """Of the voltage shown, as a part of it."""
    plate_meter: Gain = 0.01
    coil_meter: Gain = 0.01
    beam_height: Offset = 0.2e-3
    """How far above the axis the beam leaves the aperture, m."""
    beam_aside: Offset = 0.2e-3
    """The same towards the audience, m."""
    beam_rise: Turn = math.radians(0.3)
    """Angle to the axis at which it leaves, upwards, rad."""
    beam_turn: Turn = math.radians(0.3)
    """The same towards the audience, rad."""
    grid_height: Offset = 0.3e-3
    """How far too high the printed grid stands, m."""
    stray_field: Annotated[float, Quantity("T", "0 T", "1 mT")] = 30e-6
    """Flux density that nobody mentioned, in each of the three directions, T."""


class Doubt(Part):
    """How well one number is known.

    `uncertainty` is standard, in SI; in a file it stands with the number itself.
    """

    number: Line
    """Path in the bench file, such as "plates.gap" or "coils.centre[0]"."""
    uncertainty: float = 0.0
    source: Annotated[str, Field(max_length=100)] = ""
    """Where it comes from: "ruler", "data sheet", "guess"."""


class Together(Part):
    """Two numbers whose errors go together, such as those read off one ruler."""

    numbers: Annotated[tuple[Line, Line], Field(strict=False)]
    correlation: Annotated[float, Quantity("1", "-1", "1")]


class Seen(Part):
    """One thing that was seen on the real tube at some settings, read off the printed grid.

    "point": the line is at height y at the place x along the tube. "circle": the first turning
    point of the path is y above its start, which is the diameter of a circle. "spot": the spot is
    at z and y on the end face; each counts with the same uncertainty.
    """

    what: Literal["point", "circle", "spot"] = "point"
    settings: Settings
    x: Coordinate = 0.0
    y: Coordinate
    z: Coordinate = 0.0
    uncertainty: Annotated[float, Quantity("mm", "0.001 mm", "100 mm")]
    """Standard uncertainty of the reading, m."""
    note: Annotated[str, Field(max_length=200)] = ""


class Doubts(Part):
    """How well a bench is known, as its file tells it."""

    told: Annotated[tuple[Doubt, ...], Field(strict=False)] = ()
    together: Annotated[tuple[Together, ...], Field(strict=False)] = ()
    seen: Annotated[tuple[Seen, ...], Field(strict=False, max_length=_MOST_SEEN)] = ()

    def uncertainties(self) -> dict[str, float]:
        """Give the standard uncertainties in SI by the numbers' paths."""
        return {each.number: each.uncertainty for each in self.told}


def take_doubts(kind: type[BaseModel], data: Mapping[str, Any]) -> dict[str, Any]:
    """Give the data of a bench with the uncertainties taken out of its texts and put into `told`.

    Text that cannot be read, or that tells an uncertainty of nought, stays as it is, for the check
    of its field to refuse.
    """
    found: dict[str, float] = {}
    plain = _without(kind, data, "", found)
    given = data.get("doubts")
    if not found or not (given is None or isinstance(given, Mapping)):
        return plain
    told = given.get("told", ()) if given else ()
    sources = {
        each["number"]: each.get("source", "")
        for each in told
        if isinstance(each, Mapping) and isinstance(each.get("number"), str)
    }
    if any(not isinstance(each, Mapping) for each in told):
        return plain
    rest = [each for each in told if each.get("number") not in found]
    added = [
        {"number": path, "uncertainty": size, "source": sources.get(path, "")}
        for path, size in found.items()
    ]
    return plain | {"doubts": {**(given or {}), "told": [*rest, *added]}}


def put_doubts(kind: type[BaseModel], data: dict[str, Any], doubts: Doubts) -> dict[str, Any]:
    """Give written data of a bench with each uncertainty put back beside its number."""
    written = _with(kind, data, "", doubts.uncertainties())
    told = [{"number": each.number, "source": each.source} for each in doubts.told if each.source]
    table = {**data["doubts"], "told": told}
    written["doubts"] = {name: value for name, value in table.items() if value}
    return written


def forget(doubts: Mapping[str, Any], path: str) -> dict[str, Any]:
    """Give the written table of doubts without what is told of a number or a whole part.

    For numbers that become exact: neither source nor correlation has a meaning then.
    """

    def is_of(name: object) -> bool:
        return name == path or str(name).startswith((f"{path}.", f"{path}["))

    told = [each for each in doubts.get("told", ()) if not is_of(each["number"])]
    pairs = [each for each in doubts.get("together", ()) if not any(map(is_of, each["numbers"]))]
    kept = {**doubts, "told": told, "together": pairs}
    return {name: table for name, table in kept.items() if table}


def doubt_problems(
    numbers: Mapping[str, tuple[float, Quantity | Count]], doubts: Doubts
) -> Iterator[Problem]:
    """Find what is wrong with the doubts of a bench.

    Parameters
    ----------
    numbers
        Value and allowed range of every number that may be uncertain, by path.
    doubts
        What is told about them.
    """
    counted: dict[str, int] = {}
    for each in doubts.told:
        counted[each.number] = counted.get(each.number, 0) + 1
        if each.number not in numbers:
            hint = f"no number of this bench: {nearest_name(each.number, list(numbers))}"
            yield Problem("doubts.told", f'"{each.number}"', hint)
        elif counted[each.number] > 1:
            yield Problem(each.number, "two uncertainties", "tell the uncertainty once")
        else:
            yield from _size_problems(each, *numbers[each.number])
    known = [*doubts.uncertainties(), *slack_names()]
    pairs = [tuple(sorted(each.numbers)) for each in doubts.together]
    for pair, couple in zip(pairs, doubts.together, strict=True):
        unknown = [name for name in couple.numbers if name not in known]
        shown = " and ".join(couple.numbers)
        if unknown:
            hint = f"{unknown[0]} has no uncertainty: tell it with the number"
            yield Problem("doubts.together", shown, hint)
        elif pair[0] == pair[1]:
            yield Problem("doubts.together", shown, "give two different numbers")
        elif pairs.count(pair) > 1:
            yield Problem("doubts.together", shown, "tell the correlation of two numbers once")
    if all(name in known for pair in pairs for name in pair):
        yield from _correlation_problems(known, doubts)


def slack_names() -> tuple[str, ...]:
    """Give the paths of what `Slack` holds, one for each direction of the stray field."""
    names = [f"slack.{name}" for name in Slack.model_fields if name != "stray_field"]
    return (*names, *(f"slack.stray_field[{axis}]" for axis in range(3)))


def correlations(names: list[str], doubts: Doubts) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Give the correlation matrix (n, n) of numbers by their paths."""
    matrix = np.eye(len(names))
    for each in doubts.together:
        i, j = (names.index(name) for name in each.numbers)
        matrix[i, j] = matrix[j, i] = each.correlation
    return matrix


def _size_problems(doubt: Doubt, value: float, mark: Quantity | Count) -> Iterator[Problem]:
    size = doubt.uncertainty
    if not (size > 0.0 and math.isfinite(size)):
        given = "an uncertainty of nought" if size == 0.0 else f"an uncertainty of {size}"
        yield Problem(doubt.number, given, "give one above 0, or the value alone where it is exact")
        return
    low, high = mark.limits
    if value - size < low or value + size > high:
        unit = mark.unit if isinstance(mark, Quantity) else "1"
        given = exact_measurement_text(value, size, unit)
        allowed = f"this reaches out of what is allowed: {mark.allowed}"
        yield Problem(doubt.number, given, allowed)


def _correlation_problems(known: list[str], doubts: Doubts) -> Iterator[Problem]:
    values, vectors = np.linalg.eigh(correlations(known, doubts))
    if values[0] < _NO_COVARIANCE:
        weights = np.abs(vectors[:, 0])
        guilty = [known[n] for n in np.flatnonzero(weights > 0.1)]
        yield Problem(
            "doubts.together",
            f"correlations of {', '.join(guilty)}",
            "these contradict each other (no covariance has them): choose weaker ones",
        )


def mark_of(info: FieldInfo | None) -> Quantity | Count | None:
    """Give unit and range of a declared field that may be uncertain; None for all others."""
    if info is None:
        return None
    count = next((mark for mark in info.metadata if isinstance(mark, Count)), None)
    return count or quantity_of(info)


def _without(
    kind: type[BaseModel] | None, data: Mapping[str, Any], path: str, found: dict[str, float]
) -> dict[str, Any]:
    fields = kind.model_fields if kind else {}
    plain: dict[str, Any] = {}
    for name, value in data.items():
        info = fields.get(name)
        place = f"{path}{name}"
        if isinstance(value, Mapping) and name != "doubts":
            plain[name] = _without(class_of(info, value), value, f"{place}.", found)
        elif isinstance(value, list | tuple) and name != "doubts":
            marks = mark_of(info)
            plain[name] = [
                _exact(each, marks, f"{place}[{n}]", found) for n, each in enumerate(value)
            ]
        else:
            plain[name] = _exact(value, mark_of(info), place, found)
    return plain


def _exact(value: Any, mark: Quantity | Count | None, path: str, found: dict[str, float]) -> Any:
    """Give a value without its uncertainty, which is noted in ``found``."""
    if mark is None or not isinstance(value, str) or not carries_uncertainty(value):
        return value
    unit = mark.si_unit if isinstance(mark, Quantity) else "1"
    try:
        number, uncertainty = parse_measurement(value, unit)
    except QuantityError:
        return value
    if not uncertainty > 0.0 or (isinstance(mark, Count) and number != number // 1):
        return value
    found[path] = uncertainty
    return exact_text(number, mark.unit) if isinstance(mark, Quantity) else int(number)


def _with(
    kind: type[BaseModel] | None, data: Mapping[str, Any], path: str, sizes: Mapping[str, float]
) -> dict[str, Any]:
    fields = kind.model_fields if kind else {}
    written: dict[str, Any] = {}
    for name, value in data.items():
        info, place = fields.get(name), f"{path}{name}"
        if isinstance(value, Mapping):
            written[name] = _with(class_of(info, value), value, f"{place}.", sizes)
        elif isinstance(value, list | tuple) and any(f"{place}[{n}]" in sizes for n in range(3)):
            mark = mark_of(info)
            written[name] = [
                _beside(each, mark, sizes.get(f"{place}[{n}]")) for n, each in enumerate(value)
            ]
        else:
            written[name] = _beside(value, mark_of(info), sizes.get(place))
    return written


def _beside(value: Any, mark: Quantity | Count | None, size: float | None) -> Any:
    if size is None or mark is None:
        return value
    if isinstance(mark, Quantity) and mark.unit != "1":
        return f"{value} ± {exact_text(size, mark.unit)}"
    return exact_measurement_text(float(value), size, "1")
