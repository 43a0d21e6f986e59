"""A bench and its switches in words, as a run sheet has them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.settings import Settings
from glowtrace.report.caption import quantity_words


class Fact(NamedTuple):
    """A part of a bench and its data."""

    name: str
    data: str


def bench_facts(bench: Bench) -> tuple[Fact, ...]:
    """Give the data of a bench that matter at the table."""
    return tuple(_facts(bench))


def switch_words(bench: Bench, settings: Settings) -> tuple[str, ...]:
    """Give ties, sources and reversing switches, as far as the bench has them."""
    words = []
    if bench.plates is not None:
        words.append(f"plates tied: {settings.plate_tie}")
        words.append(f"plates fed from: {settings.plate_source}")
        words.append(f"plate voltage: {_sense(settings.plate_reversed)}")
    if bench.coils is not None:
        words.append(f"coil current: {_sense(settings.coil_reversed)}")
    return tuple(words)


def _sense(is_reversed: bool) -> str:
    return "reversed" if is_reversed else "not reversed"


def _facts(bench: Bench) -> Iterator[Fact]:
    gun, supplies = bench.gun, bench.supplies
    yield Fact(
        "gun",
        f"{gun.aperture_shape} aperture, "
        f"{quantity_words(gun.min_accelerating_voltage, 'V')} to "
        f"{quantity_words(gun.max_accelerating_voltage, 'V')}, heater "
        f"{quantity_words(gun.heater_voltage, 'V')}, {quantity_words(gun.heater_current, 'A')}",
    )
    if bench.plates is not None:
        plates = bench.plates
        yield Fact(
            "plates",
            f"{_mm(plates.length)} long, {_mm(plates.gap)} apart, up to "
            f"{quantity_words(plates.max_voltage, 'V')}",
        )
    if bench.coils is not None:
        coils = bench.coils
        name = "coil pair" if coils.kind == "pair" else "long coil"
        each = " each" if coils.kind == "pair" else ""
        yield Fact(
            name,
            f"{coils.turns} turns{each}, mean radius {_mm(coils.mean_radius)}, "
            f"{quantity_words(coils.resistance, 'ohm')}, up to "
            f"{quantity_words(coils.max_current, 'A')}",
        )
    yield Fact("screen", f"{bench.screen.kind}, grid {_mm(bench.screen.grid_pitch)}")
    given = {
        "accelerating": supplies.accelerating,
        "plates": supplies.plates,
        "coils": supplies.coils,
        "heater": supplies.heater,
    }
    yield Fact("supplies", "; ".join(_supply(name, one) for name, one in given.items() if one))


def _supply(name: str, supply: Supply) -> str:
    volts, amperes = (
        quantity_words(supply.max_voltage, "V"),
        quantity_words(supply.max_current, "A"),
    )
    return f"{name} {volts}, {amperes}"


def _mm(length: float) -> str:
    return quantity_words(length, "mm")
