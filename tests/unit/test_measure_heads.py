"""Heads as people write them: what is understood, and what is asked. Rules of the project."""

from __future__ import annotations

import pytest

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import columns_of
from glowtrace.measure.tables.heads import UnsureColumnsError, heads_text, told_heads
from glowtrace.measure.tables.spreadsheet import read_table, write_table

ROW = {"diameter": 0.082, "accelerating_voltage": 200.0, "coil_current": 1.4}


def values(found, row=0):
    return {name: cell.value for name, cell in found.rows[row].items()}


@pytest.mark.parametrize(
    "text",
    [
        "D / mm, U / V, I / A\n82,200,1.40",
        "D (mm), Va (V), I (A)\n82,200,1.40",
        "D/mm, Va/V, I/A\n82,200,1.40",
        "D mm, V_a V, I A\n82,200,1.40",
        "D in mm;U in V;I in A\n82,0;200;1,40",
        "diameter, voltage, current\n82,200,1.40",
        "D, V, I\n82,200,1.40",
        "U (V)\tI (A)\tD (cm)\n200\t1,40\t8,2",
        "V (V)\tI (mA)\tr (cm)\n200\t1400\t4.1",
        '"Spannung in V","Strom in A","Durchmesser in cm"\n200,1.4,8.2',
        "Spannung U in V;Strom I in A;Radius in mm\n200;1,4;41",
        "left (cm)\tright (cm)\tU (V)\tI (A)\n-4.0\t4.2\t200\t1.4",
        "left (cm)\tright (cm)\tU (V)\tI (A)\n3.1\t11.3\t200\t1.4",
        "r left (cm)\tr right (cm)\tU (V)\tI (A)\n4.0\t4.2\t200\t1.4",
        "82,200,1.40",
        "nr\tD (mm)\tB (mT)\tV_a (V)\tI (A)\n1\t82\t1.1\t200\t1.4",
    ],
)
def test_tables_as_people_have_them(text):
    found = read_table(text, "circle")
    assert values(found) == pytest.approx(ROW)
    assert found.usable == (0,)


@pytest.mark.parametrize(
    ("text", "guess"),
    [
        ("D,V,I\n8.2,200,1.4", "D (cm), V_a (V), I (A)"),
        ("200,1.4,8.2\n210,1.4,8.4", "V_a (V), I (A), D (cm)"),
        ("Kreis (cm)\tU (V)\tI (A)\n8.2\t200\t1.4", "D (cm), V_a (V), I (A)"),
        ("left (cm)\tright (cm)\tU (V)\tI (A)\n12.1\t20.3\t200\t1.4",
         "left (cm), right (cm), V_a (V), I (A)"),
    ],
)  # fmt: skip
def test_what_is_not_sure_is_asked_with_a_guess_that_can_be_told(text, guess):
    columns = columns_of("circle")
    with pytest.raises(UnsureColumnsError) as caught:
        read_table(text, "circle")
    assert heads_text(caught.value.guess.heads, columns) == guess
    found = read_table(text, "circle", told_heads(columns, guess))
    assert values(found) == pytest.approx(ROW)
    with pytest.raises(GlowtraceError, match="B"):
        told_heads(columns, "D (cm), B, I (A)")


def test_two_voltages_are_not_confused():
    found = read_table("U_p (V)\tU (V)\tI (A)\n-1000\t3000\t0.14", "null")
    assert values(found)["plate_voltage"] == -1000.0
    assert values(found)["accelerating_voltage"] == 3000.0
    with pytest.raises(UnsureColumnsError):
        read_table("U\tV\tI\n-1000\t3000\t0.14", "null")


def test_relative_uncertainties():
    found = read_table("D (mm)\tU (V)\tI (A)\n91(5%)\t200 ± 1 %\t1.4\n80 ± 5%\t200\t1.4", "circle")
    assert found.uncertainties("diameter") == pytest.approx([0.05 * 0.091, 0.05 * 0.080])
    assert found.uncertainties("accelerating_voltage") == pytest.approx([2.0, 0.0])
    far = read_table("D (cm)\tU (V)\tI (A)\n8.2(9999999999)\t200\t1.4", "circle")
    assert far.usable == ()
    assert "uncertainty" in far.faults[0]


def test_observers_as_columns_or_as_names():
    wide = read_table("D1 (mm)\tD2 (mm)\tU (V)\tI (A)\n82\t83\t200\t1.4\n\t70\t150\t1.4", "circle")
    assert wide.runs == ("1", "2", "2")
    assert wide.values("diameter") == pytest.approx([0.082, 0.083, 0.070])
    named = read_table("observer,D (mm),U (V),I (A)\nA,82,200,1.4\nB,83,200,1.4", "circle")
    assert named.runs == ("A", "B")
    assert read_table(write_table(named)) == named


def test_what_is_the_same_in_every_row():
    text = "U (V),I (A)\n200,0.202\n250,0.239"
    found = read_table(text, "axial focus", same={"L": "70 mm"})
    assert found.values("length") == pytest.approx([0.07, 0.07])
    assert found.values("turns").tolist() == [1.0, 1.0]
    assert read_table(f"# L: 7 cm\n{text}", "axial focus") == found
    with pytest.raises(UnsureColumnsError):
        read_table(text, "axial focus")


def test_nulls_without_signs_are_marked_and_the_file_says_the_convention():
    found = read_table("V_p (V)\tI (A)\tV_a (V)\n1122\t0.14\t3000\n-1122\t0.14\t3000", "null")
    assert found.usable == (1,)
    assert "V_p" in found.faults[0]
    assert "# signs:" in write_table(found)
    assert read_table(write_table(found)) == found


def test_cells_keep_what_was_written():
    found = read_table("D (mm);U (V);I (A)\n69,0;200;1,40", "circle")
    written = write_table(found, ";").splitlines()[-1]
    assert written.split(";")[:3] == ["69.0", "200", "1.40"]
