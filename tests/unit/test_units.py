"""Quantity text.

Oracles: pint's unit definitions (a general-purpose library); the SI prefixes (BIPM, SI Brochure,
9th edition, table 7, from memory); the concise form of uncertainties of CODATA tables and the
rounding rule of the Particle Data Group (both from memory).
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from contextlib import suppress

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from glowtrace.units import (
    DIMENSIONS,
    QuantityError,
    carries_uncertainty,
    exact_measurement_text,
    exact_text,
    format_measurement,
    format_quantity,
    parse_measurement,
    parse_quantity,
)

FINITE = st.floats(allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("49 mm", "m", 0.049),
        ("3.2 kV", "V", 3200.0),
        ("250 mA", "A", 0.25),
        ("343", "1", 343.0),
        ("6 deg", "rad", math.radians(6)),
        ("6°", "rad", math.radians(6)),
        ("2 %", "1", 0.02),
        ("100 µA", "A", 1e-4),
        ("100 μA", "A", 1e-4),  # Greek letter instead of the micro sign
        ("100 uA", "A", 1e-4),
        ("4.2 Ω", "ohm", 4.2),
        ("4.2 kohm", "ohm", 4200.0),
        ("1100 K", "K", 1100.0),
        ("1.2mT", "T", 0.0012),
        ("300 gauss", "T", 0.03),
        ("  4.9 cm ", "m", 0.049),
        ("1.5e3 V", "V", 1500.0),
        (".5 A", "A", 0.5),
        ("−5 mm", "m", -0.005),  # typographic minus
        ("-5 mm", "m", -0.005),
        ("0.45(2) A", "A", 0.45),
    ],
)
def test_text_of_the_trade_is_the_float_nearest_to_it(text, unit, value):
    assert parse_quantity(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("2 inch", "m", 0.0508),  # 25.4 mm exactly
        ("827 degC", "K", 1100.15),
        ("1 turn", "rad", 2 * math.pi),
        ("5 kV/cm", "V/m", 5e5),
        ("30 arcmin", "rad", math.radians(0.5)),
    ],
)
def test_units_outside_the_table_are_left_to_pint(text, unit, value):
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("unit", sorted(set(DIMENSIONS) - {"1", "rad"}))
def test_every_prefixed_unit_of_the_table_agrees_with_pint(unit):
    registry = pint.UnitRegistry()
    for prefix in ("", *DIMENSIONS[unit].prefixes.replace("_", "")):
        text = f"7.25 {prefix}{unit}"
        assert parse_quantity(text, unit) == pytest.approx(
            registry.Quantity(text).to(unit).magnitude, rel=1e-14
        )


WANTED = {
    "m": 'give a length, for example "49 mm"',
    "V": 'give a voltage, for example "3.2 kV"',
    "A": 'give a current, for example "250 mA"',
    "1": 'give a plain number, for example "343"',
    "rad": 'give an angle, for example "6 deg"',
    "Hz": 'give a frequency, for example "50 Hz"',
}


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [
        ("52 s", "m", "this is a time: "),
        ("3 kV", "A", "this is a voltage: "),
        ("5 mm", "1", "this is a length: "),
        ("52", "m", "the unit is missing: "),
        ("3 kv", "V", '"kv" is not a known unit (did you mean kV?): '),
        ("3 quux", "V", '"quux" is not a known unit: '),
        ("3,2 kV", "V", "write the decimals with a point, and no comma between thousands: "),
        ("nan V", "V", ""),
        ("inf V", "V", ""),
        ("-inf", "1", ""),
        ("", "V", ""),
        ("kV", "V", ""),
        ("1e400 V", "V", "the number is too large: "),
        ("3 percent", "rad", "this is in percent, which does not measure it: "),
        ("60 rpm", "Hz", "this is in revolutions_per_minute, which does not measure it: "),
    ],
)
def test_what_cannot_be_read_is_refused_with_the_dimension_and_an_example(text, unit, reason):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, unit)
    assert str(caught.value) == f'"{text}" is not allowed; {reason}{WANTED[unit]}'


@pytest.mark.parametrize(
    "text",
    [
        "1_000 V", "٣ V", "0x10 V", "1e99999 V", "3 V**999999999", "3 V; 4", "3 (V", "V 3", "3 V 4",
        "3 __import__", "--3 V", "3 V/V/V", "3..2 V", "1 000 V", "3 dBm", "3 V" + "!" * 1000,
        "9" * 5000 + " V", "3 %V", "\x00", "3 V\x00",
    ],
)  # fmt: skip
def test_hostile_text_is_refused_quickly(text):
    parse_quantity("1 inch", "m")  # pint is loaded once, which is not what is timed
    start = time.perf_counter()
    with pytest.raises(QuantityError, match="give a voltage"):
        parse_quantity(text, "V")
    assert time.perf_counter() - start < 1.0


@given(st.text(max_size=60))
def test_any_text_gives_a_finite_number_or_a_quantity_error(text):
    value = 0.0
    with suppress(QuantityError):
        value = parse_quantity(text, "V")
    assert math.isfinite(value)


@pytest.mark.parametrize(
    ("text", "unit", "value", "uncertainty"),
    [
        ("0.45(2) A", "A", 0.45, 0.02),
        ("0.45(12) A", "A", 0.45, 0.12),
        ("450(2) mA", "A", 0.45, 0.002),
        ("12.3(1.5) V", "V", 12.3, 1.5),
        ("0.45 ± 0.02 A", "A", 0.45, 0.02),
        ("0.45+/-0.02 A", "A", 0.45, 0.02),
        ("0.45 A", "A", 0.45, 0.0),
        ("20.0(5) degC", "K", 293.15, 0.5),
        ("6.0(1) deg", "rad", math.radians(6), math.radians(0.1)),
        ("52 mm ± 1 mm", "m", 0.052, 0.001),
        ("5.2 cm +/- 1 mm", "m", 0.052, 0.001),
        ("3 kV ± 2 %", "V", 3000.0, 60.0),
        ("50 % ± 5 %", "1", 0.5, 0.05),
        ("20 degC ± 1 degC", "K", 293.15, 1.0),
        # GUM (JCGM 100:2008) 4.3.7: half the width of a rectangular distribution over sqrt(3)
        ("50 mm to 54 mm", "m", 0.052, 0.002 / math.sqrt(3)),
        ("50 to 54 mm", "m", 0.052, 0.002 / math.sqrt(3)),
        ("-5 deg to -3 deg", "rad", math.radians(-4), math.radians(1) / math.sqrt(3)),
        # CODATA's own way of writing, CHECKS section 1 (scipy's tables)
        ("9.1093837139(28)e-31", "1", 9.1093837139e-31, 0.0000000028e-31),
    ],
)
def test_concise_uncertainties_count_in_units_of_the_last_figure(text, unit, value, uncertainty):
    measured = parse_measurement(text, unit)
    assert measured.value == pytest.approx(value, rel=1e-14)
    assert measured.uncertainty == pytest.approx(uncertainty, rel=1e-9)
    assert carries_uncertainty(text) == (uncertainty > 0)


def test_the_example_of_the_gum_for_a_rectangular_distribution():
    # GUM (JCGM 100:2008) 4.3.7, example: the expansion coefficient of copper lies between
    # 16.40 and 16.92 (in 1e-6 per degC): 16.66, and u = 0.15.
    coefficient = parse_measurement("16.40e-6 to 16.92e-6", "1")
    assert coefficient.value == pytest.approx(16.66e-6, rel=1e-12)
    assert coefficient.uncertainty == pytest.approx(0.15e-6, abs=0.005e-6)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("54 mm to 50 mm", "from its lower end to its upper one"),
        ("52 mm ± -1 mm", "cannot be negative"),
        ("52(1) mm ± 1 mm", "tell the uncertainty once"),
        ("52(1) mm to 54 mm", "tell the uncertainty once"),
        ("52 mm ± 1 s", "this is a time"),
    ],
)
def test_an_uncertainty_that_makes_no_sense_is_told(text, told):
    with pytest.raises(QuantityError, match=told):
        parse_measurement(text, "m")


@given(FINITE, st.floats(1e-9, 1e9), st.sampled_from(["V", "mm", "rad"]))
@example(0.002, 1e-9, "1")
@example(-343.0, 2.5e-7, "1")
def test_exact_text_with_an_uncertainty_reads_back_as_the_identical_floats(value, size, unit):
    text = exact_measurement_text(value, size, unit)
    assert parse_measurement(text, "m" if unit == "mm" else unit) == (value, size)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (3200.0, "V", 3, "3.20 kV"),
        (0.25, "A", 3, "250 mA"),
        (0.049, "mm", 3, "49.0 mm"),
        (0.0006, "mm", 3, "0.600 mm"),
        (999.96, "V", 3, "1.00 kV"),  # rounding carries into the next prefix
        (999.4, "V", 3, "999 V"),
        (-1.5e-3, "T", 2, "-1.5 mT"),
        (0.0, "V", 3, "0 V"),
        (math.radians(6), "rad", 3, "6.00 deg"),
        (343.0, "1", 3, "343"),
        (1e-9, "V", 3, "0.00100 µV"),
        (1.2e9, "V", 3, "1200000 kV"),
        (math.nan, "V", 3, "nan V"),
        (math.inf, "A", 3, "inf A"),
    ],
)
def test_values_are_written_with_the_prefix_of_the_trade(value, unit, digits, text):
    assert format_quantity(value, unit, digits) == text


@pytest.mark.parametrize(
    ("value", "uncertainty", "unit", "text"),
    [
        (0.25, 0.0015, "A", "250.0(1.5) mA"),
        (0.25, 0.005, "A", "250(5) mA"),
        (1.7588e11, 3e8, "C/kg", "1.7588(30)e+11 C/kg"),
        (math.radians(6), math.radians(0.1), "rad", "6.00(10) deg"),
    ],
)
def test_uncertain_values_follow_the_rounding_rule_of_the_particle_data_group(
    value, uncertainty, unit, text
):
    assert format_measurement(value, uncertainty, unit) == text


@given(FINITE, st.sampled_from([*DIMENSIONS, "mm"]))
def test_exact_text_reads_back_as_the_identical_float(value, unit):
    back = parse_quantity(exact_text(value, unit), "m" if unit == "mm" else unit)
    assert back == value
    assert math.copysign(1.0, back) == math.copysign(1.0, value)


@given(st.integers(-180_000, 180_000))
def test_angles_of_a_thousandth_degree_stay_short_degrees(thousandths):
    angle = parse_quantity(f"{thousandths / 1000} deg", "rad")
    assert exact_text(angle, "rad") == f"{thousandths / 1000:.3f}".rstrip("0").rstrip(".") + " deg"


@given(st.floats(1e-9, 1e9), st.sampled_from(["V", "A", "ohm", "Hz", "m"]))
def test_shown_values_differ_from_the_true_ones_by_half_a_figure_at_most(value, unit):
    assert parse_quantity(format_quantity(value, unit, 4), unit) == pytest.approx(value, rel=5.1e-4)


def test_a_hundred_quantities_are_read_in_well_under_twenty_milliseconds():
    texts = [f"{i}.5 mm" for i in range(100)]
    parse_quantity(texts[0], "m")
    start = time.perf_counter()
    values = [parse_quantity(text, "m") for text in texts]
    assert time.perf_counter() - start < 0.02
    assert values[1] == 0.0015


def test_the_units_of_a_bench_load_neither_pint_nor_uncertainties():
    code = (
        "import sys; from glowtrace.units import *; parse_quantity('3.2 kV', 'V');"
        "print('pint' in sys.modules, 'uncertainties' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["False", "False"]
