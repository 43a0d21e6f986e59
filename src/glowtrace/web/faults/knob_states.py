"""The settings at which the line can be told: as set, and where one knob is turned."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.faults import Appearance, Ranking, Variation
from glowtrace.faults.variations import AS_SET, variations
from glowtrace.web.naming import knob_text

SHORT: Final = {
    "accelerating_voltage": "accelerating",
    "plate_voltage": "plates",
    "coil_current": "coils",
}


def knob_states(bench: Bench, settings: Settings) -> dict[str, Variation]:
    """Give the states that are reached by knobs alone, by key; as set first."""
    knobs = dict.fromkeys(knobs_of(bench), 0.0)

    def is_reached(state: Variation) -> bool:
        same = state.settings.model_copy(update=knobs) == settings.model_copy(update=knobs)
        return same and state.turned == 0.0 and not state.swaps_one_coil

    return {state.key: state for state in variations(bench, settings) if is_reached(state)}


def state_names(bench: Bench, states: Mapping[str, Variation]) -> dict[str, str]:
    """Give what each state is called: the knobs that are turned, with their values."""
    usual = states[AS_SET].settings
    names = {}
    for key, state in states.items():
        turned = [
            knob
            for knob in knobs_of(bench)
            if getattr(state.settings, knob) != getattr(usual, knob)
        ]
        values = [
            f"{SHORT[knob]} {knob_text(knob, float(getattr(state.settings, knob)))}"
            for knob in turned
        ]
        names[key] = "as set" if not turned else key if len(turned) > 1 else values[0]
    return names


def likeliest_look(ranking: Ranking, fault: str, state: str) -> Appearance | None:
    """Give what a fault would look like in a state at the size that fits best, if it has any."""
    look = next(
        (one.looks.get(state) for one in ranking.suspects.suspects if one.fault.key == fault), None
    )
    return None if look is None else look.one(int(ranking.log_likelihoods[fault].argmax()))
