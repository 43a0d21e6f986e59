"""What made a picture, in words: settings with units, field model, electrons and their ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glowtrace.units import exact_text, format_quantity
from glowtrace.words.bench import invented_words, model_caption

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Picture
    from glowtrace.bench.settings import Settings
    from glowtrace.fields.maps import MapAccuracy
    from glowtrace.plan.answer import Plan

SEPARATOR = "  ·  "
_END_WORDS = {
    "screen": "on the screen",
    "upper plate": "on the upper plate",
    "lower plate": "on the lower plate",
    "anode": "on the anode",
    "glass": "on the glass",
}
_SHORT = 9  # characters: figures that a knob can be set to


def quantity_words(value: float, unit: str) -> str:
    """Give every figure of a value while it is short, four figures otherwise.

    Examples
    --------
    >>> quantity_words(3000.0, "V"), quantity_words(1234.5, "V"), quantity_words(0.1 / 3, "A")
    ('3 kV', '1.2345 kV', '33.33 mA')
    """
    exact = exact_text(value, unit)
    return exact if len(exact) <= _SHORT else format_quantity(value, unit, 4)


def caption_lines(picture: Picture, bench: Bench) -> tuple[str, ...]:
    """Give the caption's lines: the settings, then the model and the electrons."""
    lines = [SEPARATOR.join(settings_words(picture.settings, bench))]
    lines.append(f"{model_caption(picture.model)}{SEPARATOR}{electrons_words(picture)}")
    if bench.invented:
        lines.append(invented_words())
    return tuple(lines)


def electrons_words(picture: Picture) -> str:
    """Give the number of electrons and where they ended, the most frequent end first."""
    count = f"{picture.electrons:,} electron{'s' if picture.electrons != 1 else ''}"
    ends = sorted(picture.ends.items(), key=lambda end_and_number: (-end_and_number[1],))
    where = [f"{number:,} {_END_WORDS.get(end, end)}" for end, number in ends if number]
    return f"{count}: {', '.join(where)}" if where else count


def settings_words(settings: Settings, bench: Bench) -> tuple[str, ...]:
    """Give each setting that matters on this bench, with its unit and its switches."""
    return tuple(words_by_setting(settings, bench).values())


def words_by_setting(settings: Settings, bench: Bench) -> dict[str, str]:
    """Give the same by what is set: the knobs of `Settings`, the heater, causes left out."""
    words = {
        "accelerating_voltage": f"accelerating {quantity_words(settings.accelerating_voltage, 'V')}"
    }
    if bench.plates is not None:
        words["plate_voltage"] = f"plates {_plates_words(settings)}"
    if bench.coils is not None:
        name = "long coil" if bench.coils.kind == "long coil" else "coil pair"
        turned = " (reversed)" if settings.coil_reversed else ""
        words["coil_current"] = f"{name} {quantity_words(settings.coil_current, 'A')}{turned}"
    if not settings.heater_on:
        words["heater_on"] = "heater off"
    off = [
        name
        for name, on in (
            ("thermal spread", settings.thermal_spread),
            ("ripple", settings.ripple),
            ("divergence", settings.divergence),
        )
        if not on
    ]
    if off:
        words["causes"] = f"without {', '.join(off)}"
    return words


def other_tie_words(plan: Plan, other: Settings) -> str:
    """Say that a plan does with the plates tied otherwise to the anode, and what is set then."""
    knobs = {"plate_voltage": "V", "coil_current": "A", "accelerating_voltage": "V"}
    set_to = [
        quantity_words(float(getattr(other, knob)), knobs[knob])
        for knob in plan.goal.knobs
        if getattr(other, knob) != getattr(plan.settings, knob)
    ]
    tied = {"symmetric": "with the plates symmetric about the anode"}.get(
        other.plate_tie, f"with the {other.plate_tie.split()[0]} plate at the anode"
    )
    return f"The same {tied}{': ' if set_to else ''}{', '.join(set_to)}."


def _plates_words(settings: Settings) -> str:
    switches = [settings.plate_tie] + ["reversed"] * settings.plate_reversed
    if settings.plate_source != "own supply":
        switches.insert(0, f"from the {settings.plate_source}")
    return f"{quantity_words(settings.plate_voltage, 'V')} ({', '.join(switches)})"


def accuracy_words(accuracy: MapAccuracy, bench: Bench) -> str:
    """Say how accurate the field map of a bench is, where traces are shown."""
    parts = []
    if bench.plates is not None:
        parts.append(
            f"electric to {_percent(accuracy.electric_typical)} of its largest value there "
            f"(at worst {_percent(accuracy.electric_largest)}, beside edges of electrodes)"
        )
    if bench.coils is not None:
        parts.append(f"magnetic to {_percent(accuracy.flux_typical)}")
    return f"Computed fields: {', '.join(parts)}." if parts else "No fields but the gun's."


def _percent(share: float) -> str:
    return f"{100.0 * share:.2g} %" if share >= 1e-5 else "better than 0.001 %"


def force_words(force: float) -> str:
    """Write the size of a force on an electron, N: "3.20 fN".

    Examples
    --------
    >>> force_words(3.2e-15), force_words(4.5e-17)
    ('3.20 fN', '45.0 aN')
    """
    for prefix, scale in (("f", 1e-15), ("a", 1e-18)):
        if force >= 0.9995 * scale:
            return f"{force / scale:#.3g}".rstrip(".") + f" {prefix}N"
    return "0 N"
