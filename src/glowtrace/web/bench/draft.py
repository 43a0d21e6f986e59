"""A bench while it is described: what was typed, right or wrong, and what that makes."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from pydantic import BaseModel

from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.checking import check
from glowtrace.bench.conflicts import Assembly
from glowtrace.bench.doubts import forget, take_doubts
from glowtrace.bench.meanings import PARTS, Number, kind_word, kinds_of, numbers_of
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import Count, quantity_of
from glowtrace.errors import BenchError

SUBJECT: Final = "this bench"
AXES: Final = ("x", "y", "z")
DOUBTS: Final = "doubts"
"""Path of the table that no field shows whole: it is kept as one text."""


@dataclass(frozen=True)
class Draft:
    """What was typed.

    Attributes
    ----------
    texts
        By path in the bench file, such as "plates.gap"; a point has three, "coils.centre[0]" and
        so on. A part without a text is not on the bench.
    """

    texts: Mapping[str, str]

    def typed(self, path: str, text: str) -> Draft:
        """Give the draft with another text."""
        return Draft({**self.texts, path: text})

    def around(self, path: str) -> str:
        """Give how far a number may be off, as it is typed; empty where it is taken for exact."""
        return parted(self.texts.get(path, ""))[1]

    def source(self, path: str) -> str:
        """Give where that comes from; empty where nobody told."""
        told = self._doubts().get("told", [])
        return next((each.get("source", "") for each in told if each["number"] == path), "")

    def known_to(self, paths: Sequence[str], around: str, source: str) -> Draft:
        """Give the draft with numbers known so well, from there; both empty: exact."""
        doubts = self._doubts()
        for path in paths:
            pairs = doubts.get("together", []) if around else []
            doubts = forget(doubts, path) | ({"together": pairs} if pairs else {})
        kept = doubts.get("told", [])
        texts = dict(self.texts)
        for path in paths:
            value = parted(texts.get(path, ""))[0]
            texts[path] = f"{value} ± {around}" if around else value
        if around and source:
            kept += [{"number": path, "source": source} for path in paths]
        return Draft(_with_doubts(texts, doubts | {"told": kept}))

    def _doubts(self) -> dict[str, Any]:
        return dict(json.loads(self.texts.get(DOUBTS, "{}")))

    def has(self, part: str) -> bool:
        """Say whether a part is on the bench."""
        return any(path.startswith(f"{part}.") for path in self.texts)

    def kind(self, part: str) -> type[BaseModel] | None:
        """Give the class of a part; None where it is not on the bench."""
        kinds = {kind_word(each): each for each in kinds_of(part)}
        return kinds.get(self.texts.get(f"{part}.kind", "")) if self.has(part) else None

    def numbers(self, part: str) -> tuple[Number, ...]:
        """Give the numbers of a part that is on the bench."""
        kind = self.kind(part)
        return () if kind is None else tuple(numbers_of(part, kind))

    def exchanged(self, part: str, kind: type[BaseModel] | None) -> Draft:
        """Give the draft with another kind of part, as it usually is; None takes the part away."""
        kept = {path: text for path, text in self.texts.items() if not path.startswith(f"{part}.")}
        doubts = forget(self._doubts(), part)
        return Draft(_with_doubts(kept | (_usual(part, kind) if kind else {}), doubts))


@dataclass(frozen=True)
class Verdict:
    """What a draft makes.

    Attributes
    ----------
    bench
        The bench; None while anything is wrong.
    parts
        The parts that are right in themselves, for the drawing.
    problems
        What is wrong, by path.
    """

    bench: Bench | None
    parts: Assembly
    problems: Mapping[str, str]


def draft_of(bench: Bench) -> Draft:
    """Give a bench as it is typed."""
    written = bench.model_dump(mode="json", exclude_none=True)
    doubts = written.pop(DOUBTS, None)
    texts = dict(_texts("", written))
    return Draft(texts if doubts is None else texts | {DOUBTS: json.dumps(doubts)})


def judged(draft: Draft) -> Verdict:
    """Check what was typed."""
    data = _data(draft)
    problems: dict[str, str] = {}
    bench = None
    try:
        bench = check(Bench, data, SUBJECT, is_written=True)
    except BenchError as error:
        for problem in error.problems:
            told = f"{problem.given} is not allowed; {problem.allowed}"
            problems[problem.field] = f"{problems.get(problem.field, '')} {told}".strip()
    return Verdict(bench, _sound(data), problems)


def parted(text: str) -> tuple[str, str]:
    """Give the value that is typed, and behind its ± how far it may be off."""
    value, _, around = text.partition("±")
    return value.strip(), around.strip()


def split(text: str) -> tuple[str, str]:
    """Give number and unit of a quantity as it is typed."""
    found = re.fullmatch(r"\s*([-+−]?[\d.,]+(?:[eE][-+]?\d+)?)\s*([^\d\s].*)?\s*", text)
    return (found[1], (found[2] or "").strip()) if found else (text, "")


def _with_doubts(texts: Mapping[str, str], doubts: Mapping[str, Any]) -> dict[str, str]:
    """Give the texts with what else is told about how well the numbers are known."""
    kept = {name: table for name, table in doubts.items() if table}
    rest = {path: text for path, text in texts.items() if path != DOUBTS}
    return rest | ({DOUBTS: json.dumps(kept)} if kept else {})


def _texts(path: str, value: object) -> list[tuple[str, str]]:
    if isinstance(value, Mapping):
        within = f"{path}." if path else ""
        return [each for name, one in value.items() for each in _texts(within + name, one)]
    if isinstance(value, list | tuple):
        return [each for place, one in enumerate(value) for each in _texts(f"{path}[{place}]", one)]
    return [(path, str(value).lower() if isinstance(value, bool) else str(value))]


def _usual(part: str, kind: type[BaseModel]) -> dict[str, str]:
    """Give a part of this class as it stands on a ready-made bench."""
    for bench in beginnings().values():
        draft = draft_of(bench)
        if draft.kind(part) is kind:
            return {k: text for k, text in draft.texts.items() if k.startswith(f"{part}.")}
    if any(each.is_required() for each in kind.model_fields.values()):
        return {f"{number.path}": "" for number in numbers_of(part, kind)}
    return dict(_texts(part, kind().model_dump(mode="json", exclude_none=True)))


def _data(draft: Draft) -> dict[str, Any]:
    """Give the fields as `check` wants them, nested; what cannot be read stays as it was typed."""
    data: dict[str, Any] = {}
    if DOUBTS in draft.texts:
        data[DOUBTS] = json.loads(draft.texts[DOUBTS])
    declared = {
        number.path: number.declared for part in PARTS for number in draft.numbers(part)
    } | {name: info for name, info in Bench.model_fields.items() if name in draft.texts}
    for path, text in draft.texts.items():
        if path == DOUBTS:
            continue
        bare, _, place = path.partition("[")
        *parents, name = bare.split(".")
        node = data
        for parent in parents:
            node = node.setdefault(parent, {})
        value = _value(text, declared.get(bare))
        if place:
            node.setdefault(name, []).append(value)
        elif value != "" or name in ("name", "notes"):
            node[name] = value
    return data


def _value(text: str, declared: Any) -> object:
    """Read a text as its field wants it."""
    if declared is None:
        return text
    if declared.annotation is bool:
        return {"true": True, "false": False}.get(text, text)
    typed = text.strip().replace("−", "-")
    if any(isinstance(mark, Count) for mark in declared.metadata):
        return int(typed) if typed.isdecimal() else text
    quantity = quantity_of(declared)
    if quantity is None:
        return text
    typed = re.sub(r"(?<=\d),(?=\d)", ".", typed)
    if quantity.unit != "1":
        return typed
    try:
        number = float(typed)
    except ValueError:
        return text
    return number if math.isfinite(number) else text


def _sound(data: Mapping[str, Any]) -> Assembly:
    """Give the parts that are right in themselves."""
    sound: dict[str, Any] = {}
    data = take_doubts(Bench, data)
    for name in Assembly.model_fields:
        try:
            parts = check(Assembly, {name: data.get(name)}, SUBJECT, is_written=True)
        except BenchError:
            continue
        sound[name] = getattr(parts, name)
    return Assembly(**sound)
