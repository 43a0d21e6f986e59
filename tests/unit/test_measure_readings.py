"""Tables of readings: marked faults, meters, spreadsheet text. Rules of the project, no source."""

from __future__ import annotations

import math

import pytest

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import COLUMNS, column_of, columns_of
from glowtrace.measure.tables.instrument import Instrument, meter
from glowtrace.measure.tables.readings import Reading, reading, table
from glowtrace.measure.tables.spreadsheet import read_table, write_table

ROW = {"diameter": 0.08, "accelerating_voltage": 200.0, "coil_current": 1.5}


def test_every_method_has_columns_with_distinct_names():
    for method, columns in COLUMNS.items():
        names = [column.name for column in columns]
        assert len(set(names)) == len(names)
        assert columns_of(method) == columns
    with pytest.raises(GlowtraceError, match='"circle"'):
        columns_of("cirkle")
    with pytest.raises(GlowtraceError, match="diameter, accelerating_voltage"):
        column_of("circle", "plate_voltage")


def test_missing_and_impossible_values_are_marked_and_kept():
    made = table(
        "circle",
        [
            ROW,
            ROW | {"diameter": None},
            ROW | {"accelerating_voltage": -200.0},
            ROW | {"coil_current": math.nan},
            ROW | {"diameter": Reading(0.08, -1.0)},
            ROW | {"diameter": [0.08, 0.081, 9.0]},
        ],
    )
    assert len(made.rows) == 6
    assert made.usable == (0,)
    assert made.faults == {
        1: "D: missing",
        2: "V_a: impossible: allowed is 1 V to 60 kV",
        3: "I: not a number",
        4: "D: impossible: an uncertainty is 0 to 2000 mm",
        5: "D: impossible: allowed is 1 mm to 2000 mm",
    }
    assert made.rows[2]["accelerating_voltage"].value == -200.0


def test_half_turns_and_unknown_names_are_refused():
    cells = {"length": 0.2, "accelerating_voltage": 500.0, "coil_current": 0.3, "turns": 1.5}
    assert table("axial focus", [cells]).faults == {0: "n: impossible: give whole turns"}
    with pytest.raises(GlowtraceError, match='"radius"'):
        table("circle", [{"radius": 0.04}])
    with pytest.raises(GlowtraceError, match="'voltmeter' is not allowed"):
        table("circle", [ROW], {"voltmeter": Instrument()})


def test_uncertainty_of_a_reading():
    ruler = Instrument(resolution=1e-3, judgement=0.5e-3)
    rows = [
        ROW,
        ROW | {"diameter": [0.080, 0.082, 0.081, 0.083]},
        ROW | {"diameter": Reading(0.08, 2e-3)},
    ]
    made = table("circle", rows, {"ruler": ruler})
    rounding = 1e-3 / math.sqrt(12)
    scatter = math.sqrt(5 / 3) * 1e-3 / 2  # of 0, 2, 1, 3 mm: s^2 = 5/3 mm^2, n = 4
    assert made.uncertainties("diameter") == pytest.approx(
        [math.hypot(rounding, 0.5e-3), math.hypot(scatter, rounding), 2e-3]
    )
    assert made.values("diameter")[1] == pytest.approx(0.0815)
    freedom = made.degrees_of_freedom("diameter")
    assert freedom[1] == pytest.approx(3 * (math.hypot(scatter, rounding) / scatter) ** 4)
    assert math.isinf(freedom[0])
    assert math.isinf(freedom[2])
    assert made.uncertainties("coil_current") == pytest.approx([0.0, 0.0, 0.0])
    assert reading([]).value is None
    assert reading([1.0]).repeats == ()


def test_a_null_is_judged_on_the_axis_unless_said():
    row = {"plate_voltage": -1000.0, "coil_current": 0.14, "accelerating_voltage": 3000.0}
    made = table("null", [row, row | {"x": 0.08, "y": 1e-3}])
    assert made.values("y").tolist() == [0.0, 1e-3]
    assert math.isnan(made.values("x")[0])


def test_specification_of_a_meter():
    # 0.5 % of reading + 2 digits as rectangular limits: half width over sqrt(3), GUM 4.3.7
    found = meter("0.5 % + 2 digits", "0.1 V", "V", judgement="50 mV", name="M1")
    assert found == Instrument(0.1, 0.005, 0.2, 0.05, "M1")
    assert found.gain_uncertainty == pytest.approx(0.005 / math.sqrt(3))
    assert found.zero_uncertainty == pytest.approx(0.2 / math.sqrt(3))
    assert found.rounding_uncertainty == pytest.approx(0.1 / math.sqrt(12))
    assert meter("±(1 % of reading + 3 counts)", "10 mA", "A") == Instrument(0.01, 0.01, 0.03)
    assert meter("0.2%", "1 mm", "m").gain_limit == 0.002
    assert meter("", "1 mm", "m").gain_limit == 0.0
    for wrong in ("five percent", "0.5 V", "1 % + 2 volts"):
        with pytest.raises(GlowtraceError, match="specification"):
            meter(wrong, "1 V", "V")
    with pytest.raises(GlowtraceError, match="resolution: -1"):
        Instrument(resolution=-1.0)


@pytest.mark.parametrize("separator", ["\t", ";", ","])
def test_text_of_every_separator_is_read(separator):
    lines = ["D (cm)", "V_a (kV)", "I (mA)"], ["8.2", "0.2", "1500"]
    found = read_table("\n".join(separator.join(line) for line in lines), "circle")
    assert found.values("diameter") == pytest.approx([0.082], abs=0)
    assert found.values("accelerating_voltage") == pytest.approx([200.0], abs=0)
    assert found.values("coil_current") == pytest.approx([1.5], abs=0)


def test_decimal_commas():
    found = read_table("D (mm);V_a (V);I (A)\n82,5;200;1,5\n83;1,250;1,25", "circle")
    assert found.values("diameter").tolist() == [0.0825, 0.083]
    # Other commas in the table can only be decimal, so this one is, too.
    assert found.values("accelerating_voltage").tolist() == [200.0, 1.25]
    doubtful = read_table("D (mm);V_a (V);I (A)\n82.5;1,250;1.5", "circle")
    assert "comma before three figures" in doubtful.faults[0]
    assert doubtful.rows[0]["accelerating_voltage"].given == "1,250"
    zero = read_table("D (mm);V_a (V);I (A)\n82.5;200;0,125", "circle")
    assert zero.values("coil_current").tolist() == [0.125]
    thousands = read_table("D (mm);V_a (V);I (A)\n82.5;1.250,5;1", "circle")
    assert "cannot be read" in thousands.faults[0]


def test_uncertainties_and_repeats_in_cells():
    text = "D (mm)\tV_a\tI\n82.0(5)\t200 ± 2\t1.5\n81 / 82 / 83\t200 V\t1500 mA\n"
    found = read_table(text, "circle")
    assert found.rows[0]["diameter"] == Reading(0.082, pytest.approx(5e-4))
    assert found.rows[0]["accelerating_voltage"] == Reading(200.0, 2.0)
    assert found.rows[1]["diameter"].repeats == (0.081, 0.082, 0.083)
    assert found.values("coil_current").tolist() == [1.5, 1.5]


def test_text_without_names_has_all_columns_in_order():
    found = read_table("80\t200\t1.5\n90\t250\t1.5", "circle")
    assert found.values("diameter") == pytest.approx([0.08, 0.09], abs=0)
    with pytest.raises(GlowtraceError, match=r"D \(mm\), V_a \(V\), I \(A\)"):
        read_table("80\t200", "circle")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "an empty text"),
        ("D (mm)\tV_a (V)\n80\t200", "no column is I"),
        ("D (mm)\tD (mm)\tV_a\tI\n1\t1\t1\t1", "has no unit"),
        ("D (volt)\tV_a\tI\n80\t200\t1", "volt"),
        ("width\tV_a\tI\n80\t200\t1", '"width" is not known'),
        ("# format: other 3\nD\tV_a\tI\n80\t200\t1", "other 3"),
        ("# plate tie: none\nD\tV_a\tI\n80\t200\t1", "plate tie"),
        ("# instrument lens: resolution 1 mm\nD\tV_a\tI\n80\t200\t1", "lens"),
        ("# instrument ruler: width 1 mm\nD\tV_a\tI\n80\t200\t1", "width 1 mm"),
        ("x" * 1_000_001, "1000001 characters"),
    ],
)
def test_unreadable_text_is_refused_with_the_reason(text, says):
    with pytest.raises(GlowtraceError, match=says):
        read_table(text, "circle")


def test_short_and_long_rows_are_marked():
    found = read_table("D (mm)\tV_a\tI\n80\t200\n80\t200\t1.5\t7\n", "circle")
    assert found.faults[0] == "I: missing"
    assert "more cells than columns" in found.faults[1]


def test_tables_survive_being_written():
    ruler = meter("0.2 % + 1 digit", "0.5 mm", "m", judgement="0.3 mm")
    made = table(
        "turn-back",
        [
            {"depth": -0.018, "pitch": None, "accelerating_voltage": 500.0,
             "plate_voltage": 1040.0, "coil_current": -1.4},
            {"depth": [-0.0181, -0.0183], "pitch": 0.061, "accelerating_voltage": 500.0,
             "plate_voltage": None, "coil_current": Reading(-1.4, 0.02)},
        ],
        {"ruler": ruler, "coil_current": Instrument(0.01, 0.01, 0.02)},
        plate_tie="lower at anode",
        is_invented=True,
        note="evening run",
    )  # fmt: skip
    for separator in "\t;,":
        assert read_table(write_table(made, separator)) == made
    assert "V_p: missing" in write_table(made)
    with pytest.raises(GlowtraceError, match="separator"):
        write_table(made, "|")


def test_value_beside_a_tiny_uncertainty_survives_being_written():
    # "1.5 ± 2e-9" reads as (1.5 ± 2) x 10^-9: an exponent counts for both numbers.
    tiny = {"diameter": Reading(0.10399, 8.9e-12), "accelerating_voltage": Reading(200.0, 1e-9),
            "coil_current": Reading(1.5, 1e-12)}  # fmt: skip
    made = table("circle", [tiny])
    for separator in ("\t", ";", ","):
        assert read_table(write_table(made, separator)) == made
