"""The published limits that a bench is held against, each with its text and how it was read.

They stand here to be seen and checked, not to be relied upon alone: national law, local rules and
the person responsible decide which text applies.
"""

from __future__ import annotations

from typing import Final

from glowtrace.safety.lines import COMMON_PRACTICE, FROM_MEMORY, SECOND_HAND, Limit

HAZARDOUS_VOLTAGE: Final = Limit(
    60.0, "V", f"IEC 61010-1:2010, clause 6.3.1, direct voltage, normal condition {FROM_MEMORY}"
)
CHARGE: Final = Limit(
    45e-6, "C", f"IEC 61010-1:2010, clause 6.3.1, up to 15 kV {FROM_MEMORY}; the same from "
    f"450 V to 15 kV in IEC 60335-1, clause 8.1.4 {SECOND_HAND}",
)  # fmt: skip
ENERGY: Final = Limit(
    350e-3, "J", f"IEC 61010-1:2010, clause 6.3.1, above 15 kV {FROM_MEMORY}; the same in "
    f"IEC 60335-1, clause 8.1.4 {SECOND_HAND}",
)  # fmt: skip
CHARGE_VOLTAGE: Final = 15e3
"""V up to which the charge, and above which the energy is limited."""
CAPACITANCE: Final = Limit(
    0.1e-6, "F", f"IEC 60335-1, clause 8.1.4, from 42.4 V to 450 V {SECOND_HAND}"
)
CAPACITANCE_VOLTAGES: Final = (42.4, 450.0)
"""V between which the capacitance is limited."""
CURRENT: Final = Limit(
    2e-3, "A", f"IEC 60335-1, clause 8.1.4, direct current through 2 kohm {SECOND_HAND}"
)
DISCHARGE_TIME: Final = Limit(
    10.0, "s", f"IEC 61010-1:2010, time after which terminals are to be safe {FROM_MEMORY}"
)

LOWER_X_RAY_LEVEL: Final = Limit(
    5e3, "V", "5 keV as an alternative to the dose rate of 1 µSv/h at 0.1 m: IAEA GSR Part 3 "
    f"(2014), Schedule I {FROM_MEMORY}; national law decides",
)  # fmt: skip
UPPER_X_RAY_LEVEL: Final = Limit(
    30e3, "V", "30 kV together with 1 µSv/h at 0.1 m: UK Ionising Radiations Regulations 1999, "
    f"Schedule 1 {SECOND_HAND}; Directive 2013/59/Euratom, Article 26 {FROM_MEMORY}; "
    "national law decides",
)  # fmt: skip

TOUCH_TEMPERATURE: Final = Limit(
    273.15 + 51.0, "K", f"ISO 13732-1, burn threshold for one minute of contact {FROM_MEMORY}"
)
INSULATION_TEMPERATURE: Final = Limit(
    273.15 + 105.0, "K", f"IEC 60085, thermal class 105 of the wire's insulation {FROM_MEMORY}; "
    "a winding of another class has another limit",
)  # fmt: skip
WIRE_FILL: Final = Limit(
    0.907, "1", "share of a section that round wires can fill at most, pi / (2 sqrt 3): geometry"
)

IMPLANT_FLUX_DENSITY: Final = Limit(
    0.5e-3, "mT", "static field for people with pacemakers and other implants: public health "
    f"authority {SECOND_HAND}; ICNIRP guidelines, Health Physics 96 (2009) 504 {FROM_MEMORY}",
)  # fmt: skip
HEATER_TOLERANCE: Final = 0.05
"""Share of the rated heater voltage by which a supply may pass it (common practice, no source)."""
HEATER_SOURCE: Final = f"rating of the gun; 5 % tolerance is {COMMON_PRACTICE}"
