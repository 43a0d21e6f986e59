"""What the wiring makes of a switch: some settings of the plates' circuit go together.

The accelerating supply reaches from the anode down to the cathode. Plates that it feeds have one
plate at the anode and the other one negative, so that tie and polarity fix each other, and they
cannot stand at more than it gives.
"""

from __future__ import annotations

from collections.abc import Mapping

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KnobRange
from glowtrace.bench.settings import Settings
from glowtrace.units import format_quantity

SHARED = "accelerating supply"


def plate_range(ranges: Mapping[str, KnobRange], settings: Settings) -> KnobRange:
    """Give how far the plate knob may be turned at these settings, within the bench's ranges."""
    rated = ranges["plate_voltage"]
    if settings.plate_source != SHARED or settings.accelerating_voltage >= rated.high:
        return rated
    voltage = format_quantity(settings.accelerating_voltage, "V")
    why = f"the plates are fed from the accelerating supply, set to {voltage}"
    return KnobRange(rated.low, settings.accelerating_voltage, why)


def settle(
    bench: Bench, ranges: Mapping[str, KnobRange], settings: Settings, changed: str
) -> Settings:
    """Give the settings that the wiring allows, nearest to what the visitor wants.

    Parameters
    ----------
    bench, ranges
        What stands on the table, and how far its knobs go.
    settings
        What the visitor wants.
    changed
        The setting that was changed last; the others follow it.
    """
    if bench.plates is not None and bench.supplies.plates is None:
        settings = settings.model_copy(update={"plate_source": SHARED})
    if settings.plate_source != SHARED:
        return settings
    tie, is_reversed = settings.plate_tie, settings.plate_reversed
    if changed == "plate_reversed" or tie == "symmetric":
        tie = "lower at anode" if is_reversed else "upper at anode"
    else:
        is_reversed = tie == "lower at anode"
    voltage = min(settings.plate_voltage, plate_range(ranges, settings).high)
    return settings.model_copy(
        update={"plate_tie": tie, "plate_reversed": is_reversed, "plate_voltage": voltage}
    )
