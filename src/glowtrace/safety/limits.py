"""The published limits that a bench is held against, each with its text and how it was read.

They stand here to be seen and checked, not to be relied upon alone: national law, local rules and
the person responsible decide which text applies.
"""

from __future__ import annotations

from typing import Final

from glowtrace.findings import finding
from glowtrace.safety.lines import Limit

HAZARDOUS_VOLTAGE: Final = Limit(60.0, "V", finding("safety.source.hazardous_voltage"))
CHARGE: Final = Limit(45e-6, "C", finding("safety.source.charge"))
ENERGY: Final = Limit(350e-3, "J", finding("safety.source.energy"))
CHARGE_VOLTAGE: Final = 15e3
"""V up to which the charge, and above which the energy is limited."""
CAPACITANCE: Final = Limit(0.1e-6, "F", finding("safety.source.capacitance"))
CAPACITANCE_VOLTAGES: Final = (42.4, 450.0)
"""V between which the capacitance is limited."""
CURRENT: Final = Limit(2e-3, "A", finding("safety.source.current"))
DISCHARGE_TIME: Final = Limit(10.0, "s", finding("safety.source.discharge_time"))

LOWER_X_RAY_LEVEL: Final = Limit(5e3, "V", finding("safety.source.x_rays_lower"))
UPPER_X_RAY_LEVEL: Final = Limit(30e3, "V", finding("safety.source.x_rays_upper"))

TOUCH_TEMPERATURE: Final = Limit(273.15 + 51.0, "K", finding("safety.source.touch"))
INSULATION_TEMPERATURE: Final = Limit(273.15 + 105.0, "K", finding("safety.source.insulation"))
WIRE_FILL: Final = Limit(0.907, "1", finding("safety.source.wire"))

IMPLANT_FLUX_DENSITY: Final = Limit(0.5e-3, "mT", finding("safety.source.implants"))
HEATER_TOLERANCE: Final = 0.05
"""Share of the rated heater voltage by which a supply may pass it (common practice, no source)."""
HEATER_SOURCE: Final = finding("safety.source.heater")
