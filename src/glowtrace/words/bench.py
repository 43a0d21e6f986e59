"""Names: of a bench, its knobs, the ties of its plates, and the two models of its fields."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glowtrace.words.language import say

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench

MODELS = ("bench", "ideal")
TIES = ("symmetric", "lower at anode", "upper at anode")


def bench_name(bench: Bench) -> str:
    """Give the name of a bench, and say where its data are invented."""
    return say("bench.invented", name=bench.name) if bench.invented else bench.name


def invented_words() -> str:
    """Say of a bench whose data are invented that they are."""
    return say("bench.invented_note")


def knob_name(knob: str) -> str:
    """Give what a knob is called within a sentence."""
    return say(f"knob.name.{knob}")


def knob_label(knob: str) -> str:
    """Give what a knob is called at the beginning of a sentence, or above it."""
    return say(f"knob.label.{knob}")


def knob_short(knob: str) -> str:
    """Give what a knob is called where there is little room."""
    return say(f"knob.short.{knob}")


def tie_words(tie: str) -> str:
    """Say which plate has the anode's potential."""
    return say(f"knob.tie.{tie.replace(' ', '_')}")


def tie_choices() -> dict[str, str]:
    """Give the choices of the plate that is at the anode."""
    return {tie: say(f"knob.tie.short.{tie.replace(' ', '_')}") for tie in TIES}


def model_choices() -> dict[str, str]:
    """Give the choices of the fields that a picture is computed with."""
    return {model: say(f"model.menu.{model}") for model in MODELS}


def model_fields(model: str) -> str:
    """Say in few words which fields a model has."""
    return say(f"model.fields.{model}")


def model_caption(model: str) -> str:
    """Give the model of a picture for its caption."""
    return say(f"model.caption.{model}")


def model_told(model: str) -> str:
    """Say what something was computed with."""
    return say(f"model.told.{model}")
