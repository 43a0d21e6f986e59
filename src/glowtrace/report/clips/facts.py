"""The large numbers of a clip: knobs and readings, written so that they do not jump about."""

from __future__ import annotations

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.report.clips.board import Fact
from glowtrace.units import format_quantity
from glowtrace.words.bench import knob_name


def knob_facts(
    bench: Bench, settings: Settings, turned: str = "", largest: float = 0.0
) -> tuple[Fact, ...]:
    """Give every knob of a bench as it is set.

    Parameters
    ----------
    bench, settings
        The bench and its knobs.
    turned
        Name of the setting that the clip turns, if any.
    largest
        The largest value that it comes to, SI: its number keeps that unit and those decimals.
    """
    return tuple(
        Fact(
            knob_name(knob),
            steady_words(
                getattr(settings, knob),
                largest if knob == turned else getattr(settings, knob),
                KNOBS[knob],
            ),
            _polarity(knob, settings),
            knob == turned,
        )
        for knob in knobs_of(bench)
    )


def steady_words(value: float, largest: float, unit: str) -> str:
    """Write a value with the unit and the decimals that three figures of the largest one have.

    Examples
    --------
    >>> steady_words(42.0, 5000.0, "V"), steady_words(0.0, 0.25, "A")
    ('0.04 kV', '0 mA')
    """
    pattern, symbol = format_quantity(largest, unit, 3).split(" ", 1)
    decimals = len(pattern.partition(".")[2])
    power = {"k": 3, "m": -3, "µ": -6, "n": -9}.get(symbol[0] if symbol != unit else "", 0)
    return f"{value / 10.0**power:.{decimals}f} {symbol}"


def _polarity(knob: str, settings: Settings) -> str:
    """Say how a knob's circuit is switched, where it carries anything."""
    if knob == "plate_voltage" and settings.plate_voltage:
        return "upper plate negative" if settings.plate_reversed else "upper plate positive"
    if knob == "coil_current" and settings.coil_current:
        return "current reversed" if settings.coil_reversed else ""
    return ""
