"""The numbers of a bench, part by part: each with its meaning and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final, Literal, get_args, get_origin

from nicegui import ui
from nicegui.events import GenericEventArguments
from pydantic import BaseModel

from glowtrace.bench.identity import moves_line
from glowtrace.bench.meanings import (
    MEANINGS,
    PARTS,
    Number,
    explained,
    is_optional,
    kind_word,
    kinds_of,
)
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import Quantity, quantity_of
from glowtrace.units import carries_uncertainty
from glowtrace.web.bench.draft import AXES, Draft, parted, split
from glowtrace.web.bench.sureness import Sureness
from glowtrace.web.controls import VALUE, Choice, box, words

TYPED_EVERY: Final = 0.4
"""Seconds between two looks at what is being typed."""
NONE: Final = "none"
KIND_WORDS: Final = {
    "sheet": "sheet along the beam",
    "end face": "face across the end",
    "gas glow": "gas that glows",
    "sphere": "bulb",
    "cylinder": "tube",
    "pair": "pair",
    "long coil": "long coil",
    NONE: "none",
    "": "there",
}
"""Kinds of part, as they stand on the page."""


class BenchForm:
    """All parts with their fields. Building it puts it on the page.

    Parameters
    ----------
    draft
        What is shown first.
    on_change
        Called with the new draft whenever something was typed or chosen.
    """

    def __init__(self, draft: Draft, on_change: Callable[[Draft], None]) -> None:
        self._draft, self._on_change = draft, on_change
        self._complaints: dict[str, ui.element] = {}
        self._letters: dict[str, ui.element] = {}
        with box("describing-name", "label"):
            words(MEANINGS[Bench]["name"].name)
            self._field("name", MEANINGS[Bench]["name"].name, draft.texts.get("name", ""))
        self._parts = {part: box("describing-part part", "section") for part in PARTS}
        for part in PARTS:
            self._put_part(part)

    def put(self, draft: Draft) -> None:
        """Show another draft in all fields."""
        self._draft = draft
        self._complaints.clear()
        self._letters.clear()
        self._name.props["value"] = draft.texts.get("name", "")
        self._name.update()
        for part in PARTS:
            self._put_part(part)

    def show_problems(self, problems: Mapping[str, str], letters: Mapping[str, str]) -> None:
        """Show what is wrong beside its field, and the letters of the drawing."""
        for path, complaint in self._complaints.items():
            within = [text for where, text in problems.items() if _belongs(where, path)]
            complaint.text = " ".join(within)  # type: ignore[attr-defined]
        for path, letter in self._letters.items():
            letter.text = letters.get(path, "")  # type: ignore[attr-defined]

    def _put_part(self, part: str) -> None:
        place = self._parts[part]
        place.clear()
        with place:
            words(PARTS[part], "h2")
            self._put_kinds(part)
            numbers = [
                each for each in self._draft.numbers(part) if not each.path.endswith(".kind")
            ]
            first = [each for each in numbers if each.meaning.is_first]
            for number in first:
                self._put_number(number)
            rest = [each for each in numbers if not each.meaning.is_first]
            if rest:
                with box("fold", "details"):
                    words(f"{len(rest)} more, which may stay" if first else "Change", "summary")
                    for number in rest:
                        self._put_number(number)

    def _put_kinds(self, part: str) -> None:
        kinds: dict[str, type[BaseModel] | None] = {
            kind_word(each): each for each in kinds_of(part)
        }
        if is_optional(part):
            kinds[NONE] = None
        if len(kinds) < 2:
            return

        def choose(word: str) -> None:
            self._draft = self._draft.exchanged(part, kinds[word])
            self._put_part(part)
            self._on_change(self._draft)

        present = self._draft.kind(part)
        choice = Choice(PARTS[part], {word: KIND_WORDS[word] for word in kinds}, choose)
        choice.put(NONE if present is None else kind_word(present))

    def _put_number(self, number: Number) -> None:
        meaning = number.meaning
        with box("number"):
            with box("number-name"):
                self._letters[number.path] = words("", css="number-letter")
                words(meaning.name, "span")
            paths = tuple(self._paths(number))
            with box("row number-fields is-point" if len(paths) > 1 else "row number-fields"):
                for path, label in paths:
                    if len(paths) > 1:
                        words(label[-1], css="number-unit")
                    self._put_field(number, path, label)
                if len(paths) == 1:
                    self._put_sureness(number, paths)
            if len(paths) > 1:
                with box("row number-fields number-sureness"):
                    self._put_sureness(number, paths)
            with box("number-help fine", "p"):
                words(explained(number))
            self._complaints[number.path] = words("", "p", "field-complaint")
            self._complaints[number.path].props('role="alert"')

    def _put_sureness(self, number: Number, paths: Sequence[tuple[str, str]]) -> None:
        if moves_line(number.path):
            Sureness(
                number.meaning.name,
                [path for path, _ in paths],
                quantity_of(number.declared),
                lambda: self._draft,
                self._sure,
            )

    def _paths(self, number: Number) -> Iterator[tuple[str, str]]:
        """Give the paths of a number's fields: three for a point."""
        if get_origin(number.declared.annotation) is tuple:
            for place, axis in enumerate(AXES):
                yield f"{number.path}[{place}]", f"{number.meaning.name}, {axis}"
        else:
            yield number.path, number.meaning.name

    def _put_field(self, number: Number, path: str, label: str) -> None:
        text = self._draft.texts.get(path, "")
        options = _options(number.declared)
        if options:
            self._put_menu(path, label, options, text)
            return
        self._field(path, label, text, quantity_of(number.declared))

    def _put_menu(self, path: str, label: str, options: Mapping[str, str], text: str) -> None:
        with ui.element("select").classes("picker") as menu:
            menu.props["aria-label"] = label
            menu.props["data-number"] = path
            for value, shown in options.items():
                option = words(shown, "option")
                option.props["value"] = value
                option.props["selected"] = value == text
        menu.on("change", lambda event: self._typed(path, str(event.args)), js_handler=VALUE)

    def _field(self, path: str, label: str, text: str, quantity: Quantity | None = None) -> None:
        has_unit = quantity is not None and quantity.unit != "1"
        value = parted(text)[0]
        number, unit = split(value) if has_unit else (value, "")
        unit = unit or (quantity.unit if quantity is not None and has_unit else "")
        field = ui.element("input").classes("field").props('type="text" autocomplete="off"')
        field.props["aria-label"] = label
        field.props["data-number"] = path
        field.props["^value"] = number
        if path == "name":
            self._name = field
        shown = words(unit, css="number-unit") if has_unit else None

        def take(event: GenericEventArguments) -> None:
            typed = str(event.args).strip()
            if path == "name":  # a page that is drawn anew keeps what is typed
                with field.props.suspend_updates():
                    field.props["value"] = typed
            if shown is not None and not carries_uncertainty(typed):
                _, told = split(typed)
                if told:
                    shown.text = told
                typed = typed if told or not typed else f"{typed} {shown.text}"
            around = self._draft.around(path)
            if around and typed and not carries_uncertainty(typed):
                typed = f"{typed} ± {around}"
            self._typed(path, typed)

        field.on("input", take, js_handler=VALUE, throttle=TYPED_EVERY, leading_events=False)

    def _sure(self, draft: Draft) -> None:
        self._draft = draft
        self._on_change(draft)

    def _typed(self, path: str, text: str) -> None:
        self._draft = self._draft.typed(path, text)
        self._on_change(self._draft)


def _belongs(where: str, path: str) -> bool:
    return where == path or where.startswith(f"{path}[")


def _options(declared: Any) -> dict[str, str]:
    """Give what a field may choose among; empty where it is typed."""
    if declared.annotation is bool:
        return {"false": "no", "true": "yes"}
    if get_origin(declared.annotation) is Literal:
        return {str(each): str(each) for each in get_args(declared.annotation)}
    return {}
