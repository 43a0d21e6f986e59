"""Why a goal cannot be reached on a bench, the nearest that can, and what would help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from nicegui import ui

from glowtrace.demos.goals import Goal
from glowtrace.plan import Refusal, Remedy
from glowtrace.web.controls import box, button, hint, put_fact, put_rows, words
from glowtrace.web.naming import knob_facts, knob_text
from glowtrace.web.plan.answer_view import put_ways_on
from glowtrace.web.preparation import Preparation
from glowtrace.web.rack import Rack
from glowtrace.words.knowledge import possible_words


def put_refusal(
    rack: Rack,
    refusal: Refusal,
    picture: str,
    preparation: Preparation,
    on_take: Callable[[Remedy], None],
) -> None:
    """Put a refusal on the page.

    Parameters
    ----------
    rack
        The benches, for the names of knobs on this one.
    refusal
        What the planner says.
    picture
        The nearest thing's picture, as SVG; empty where nothing is near.
    preparation
        What was wanted.
    on_take
        Puts the bench as a remedy changes it on the page.
    """
    with box("refusal", "section").props('aria-label="Refusal"'):
        words("Not with this bench as it is" if refusal.is_sure else "Perhaps", "h2")
        if refusal.possible_on is not None:
            words(possible_words(refusal.possible_on), "p")
        words(f"{_sentence(refusal.binding.text)}", "p", "title attention")
        _put_numbers(refusal)
        _put_nearest(rack, refusal, picture, preparation)
        if refusal.remedies:
            words("What would help", "h2")
            with box("rows remedies", "ul"):
                for remedy in refusal.remedies:
                    _put_remedy(remedy, preparation, on_take)
            if any(remedy.bench_changes for remedy in refusal.remedies):
                hint(
                    "Each is computed on the changed bench. Before anything on the real one is "
                    "touched: high tension off and discharged, coil current down to nothing."
                )


def _put_numbers(refusal: Refusal) -> None:
    binding = refusal.binding
    if binding.knob is None or binding.needed is None or binding.limit is None:
        return
    with box("facts", "dl"):
        for name, value in (("needed", binding.needed), ("allowed", binding.limit)):
            put_fact(name, knob_text(binding.knob, value))


def _put_nearest(rack: Rack, refusal: Refusal, picture: str, preparation: Preparation) -> None:
    goal, settings = refusal.nearest_goal, refusal.nearest_settings
    if goal is None or settings is None:
        words("Nothing of the kind was found that works here.", "p")
        return
    on = replace(preparation.with_settings(settings), goal=goal)
    with box("pair nearest"):
        words("The nearest that works", "h2", "across")
        with box("stack"):
            ui.html(picture, sanitize=False)
            put_ways_on(on)
        facts = knob_facts(rack.bench(preparation.place), settings)
        told = [(fact.name, ", ".join(filter(None, fact[1:]))) for fact in facts]
        put_rows([*target_rows(goal), *told])


def target_rows(goal: Goal) -> list[tuple[str, str]]:
    """Give the targets of a goal, as names and values with units."""
    return [(each.name, each.written(each.value)) for each in goal.targets()]


def _put_remedy(
    remedy: Remedy, preparation: Preparation, on_take: Callable[[Remedy], None]
) -> None:
    with ui.element("li"):
        words(_sentence(remedy.text), "p", "large")
        if remedy.bench_changes:
            with box("ways-on"):
                button("Plan with this bench", partial(on_take, remedy), "key is-main")
            changed = ", ".join(
                f"{path} = {value:.4g}" if isinstance(value, float) else f"{path} = {value}"
                for path, value in remedy.bench_changes.items()
            )
            hint(f"In the bench file (SI units): {changed}")
        else:
            held = {
                knob: float(getattr(remedy.settings, knob))
                for knob in preparation.held
                if getattr(remedy.settings, knob) == preparation.held[knob]
            }
            put_ways_on(replace(preparation.with_settings(remedy.settings), held=held))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
