"""Choose a goal, its targets and the knobs that stay."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from functools import partial
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import GOALS, Goal, unsuited
from glowtrace.errors import GlowtraceError
from glowtrace.web.controls import VALUE, box, complaint, field, hint, words
from glowtrace.web.naming import field_text, knob_text, read_field
from glowtrace.words.bench import knob_name

FORM_VALUES = """(event) => {
  event.preventDefault();
  emit(Object.fromEntries(new FormData(event.target)));
}"""


class GoalForm:
    """The form. It stays as it was typed while answers come.

    Parameters
    ----------
    bench, settings
        What stands there; knobs that are held stand where these settings have them.
    goal, held
        What is chosen first.
    on_find
        Called with the goal and the held knobs when the visitor wants answers.
    """

    def __init__(
        self,
        bench: Bench,
        settings: Settings,
        goal: Goal | None,
        held: Mapping[str, float],
        on_find: Callable[[Goal, Mapping[str, float]], object],
    ) -> None:
        self._bench, self._settings, self._held = bench, settings, held
        self._on_find = on_find
        with box("goals", "fieldset"):
            with ui.element("legend"):
                words("What to show", "h2")
            for kind in GOALS:
                self._offer(kind, goal)
        self._form = box("targets", "form")
        self._form.on("submit", self._find, js_handler=FORM_VALUES)
        self._goal = goal
        self._fill()

    def _offer(self, kind: type[Goal], chosen: Goal | None) -> None:
        reason = unsuited(kind, self._bench)
        with box("goal", "label") as row:
            radio = ui.element("input").props('type="radio" name="goal"')
            radio.props["value"] = kind.name
            radio.props["checked"] = chosen is not None and chosen.name == kind.name
            with box("lines"):
                words(kind.title)
                if reason is not None:
                    words(f"Not here: {reason}.", css="fine")
            if reason is not None:
                row.classes("is-unsuited")
                radio.props["disabled"] = True
            radio.on("change", partial(self._choose, kind), js_handler=VALUE)

    def _choose(self, kind: type[Goal], _: GenericEventArguments) -> None:
        self._goal = kind.for_bench(self._bench)
        self._fill()

    def _fill(self) -> None:
        """Show the targets of the chosen goal."""
        self._form.clear()
        self._complaints: dict[str, TextElement] = {}
        goal = self._goal
        self._form.set_visibility(goal is not None)
        if goal is None:
            return
        with self._form:
            hint(goal.says)
            words("Targets", "h3")
            for each in fields(goal):
                value, unit = float(getattr(goal, each.name)), goal.units[each.name]
                self._field(each.name, each.name.replace("_", " "), field_text(value, unit))
            words("Knobs that stay", "h3")
            for knob in goal.knobs:
                self._hold(knob)
            words("Find", "button", "key is-main is-wide").props('type="submit"')

    def _field(self, name: str, label: str, value: str) -> None:
        with box("target asked spread", "label"):
            words(label, css="capital")
            field(value, None).props["name"] = name
        self._complaints[name] = complaint()

    def _hold(self, knob: str) -> None:
        value = self._held.get(knob, float(getattr(self._settings, knob)))
        with box("target asked spread"):
            with box("hold", "label"):
                check = ui.element("input").props('type="checkbox"')
                check.props["name"] = f"hold {knob}"
                check.props["checked"] = knob in self._held
                words(knob_name(knob), css="capital")
            text = field_text(value, KNOBS[knob]) if value else ""
            entry = field(text, None, f"{knob_name(knob)} to stay at")
            entry.props["name"] = knob
            entry.on("input", js_handler=CHECK_BESIDE)
        self._complaints[knob] = complaint()

    def _find(self, event: GenericEventArguments) -> None:
        if self._goal is None:
            return
        told: dict[str, Any] = dict(event.args)
        for each in self._complaints.values():
            each.text = ""
        aims = {
            each.name: value
            for each in fields(self._goal)
            if (value := self._read(told, each.name, self._goal.units[each.name])) is not None
        }
        held: dict[str, float] = {
            knob: value
            for knob in self._goal.knobs
            if f"hold {knob}" in told and (value := self._read_knob(told, knob)) is not None
        }
        if any(complaint.text for complaint in self._complaints.values()):
            return
        try:
            self._goal = replace(self._goal, **aims)
        except GlowtraceError as error:
            name = error.problems[0].field.replace(" ", "_") if error.problems else ""
            shown = self._complaints.get(name, next(iter(self._complaints.values())))
            shown.text = str(error)
            return
        self._held = held
        self._on_find(self._goal, held)

    def _read(self, told: Mapping[str, Any], name: str, unit: str) -> float | None:
        try:
            return read_field(str(told.get(name, "")), unit, "mm" if unit == "m" else unit)
        except GlowtraceError as error:
            self._complaints[name].text = str(error)
            return None

    def _read_knob(self, told: Mapping[str, Any], knob: str) -> float | None:
        value = self._read(told, knob, KNOBS[knob])
        low, high, why = knob_ranges(self._bench)[knob]
        if value is not None and not low <= value <= high:
            reach = f"{knob_text(knob, low)} to {knob_text(knob, high)}"
            self._complaints[
                knob
            ].text = f"{knob_text(knob, value)} is not allowed; give {reach}: {why}"
            return None
        return value


CHECK_BESIDE = """(event) => {
  event.target.parentElement.querySelector("input[type=checkbox]").checked = true;
}"""
"""Typing a value for a knob means that it is to stay there."""
