"""Quantity text at the edges: "49 mm", "3.2 kV", "250 mA", "0.45(2) A", "6 deg", "343".

Inside, Glowtrace knows SI floats only. A small table holds the units that stand on a bench, so
that a file of a hundred quantities is read in a millisecond and nothing heavy is loaded; every
other unit ("2.5 inch") is pint's to judge. What `exact_text` writes reads back as the same float.
"""

from glowtrace.units.dimensions import DIMENSIONS, Dimension
from glowtrace.units.number import (
    NONE,
    Style,
    fixed,
    page_text,
    percent,
    scientific,
    shortest,
    significant,
    styled,
)
from glowtrace.units.reading import (
    Measurement,
    QuantityError,
    carries_uncertainty,
    parse_measurement,
    parse_quantity,
)
from glowtrace.units.writing import (
    exact_measurement_text,
    exact_text,
    format_measurement,
    format_quantity,
)

__all__ = [
    "DIMENSIONS",
    "NONE",
    "Dimension",
    "Measurement",
    "QuantityError",
    "Style",
    "carries_uncertainty",
    "exact_measurement_text",
    "exact_text",
    "fixed",
    "format_measurement",
    "format_quantity",
    "page_text",
    "parse_measurement",
    "parse_quantity",
    "percent",
    "scientific",
    "shortest",
    "significant",
    "styled",
]
