"""The command line: e/m from a table of readings.

The readings are made with B = mu0 (4/5)^(3/2) N I / R, the field in the middle of a Helmholtz pair
of thin coils, and e/m = 2 V / (B r)^2 (textbook closed forms, from memory), apart from the program.
"""

from __future__ import annotations

import json
import math

import pytest
from scipy import constants

from glowtrace.bench.ready_made import ready_made

BULB = "fine-beam bulb"
RULER = ("--meter", "ruler=of 0.5 mm")
ACCEPTED = constants.e / constants.m_e


@pytest.fixture
def circles(tmp_path):
    """A table of circles as the textbook has them, to a tenth of a millimetre."""
    coils = ready_made(BULB).coils
    assert coils.spacing == pytest.approx(coils.mean_radius)  # a Helmholtz pair
    lines = ["D (mm),V_a (V),I (A)"]
    for voltage, current in ((180, 1.4), (200, 1.6), (250, 1.5), (280, 1.8)):
        flux = constants.mu_0 * 0.8**1.5 * coils.turns * current / coils.mean_radius
        radius = math.sqrt(2 * voltage / ACCEPTED) / flux
        lines.append(f"{2e3 * radius:.1f},{voltage},{current}")
    file = tmp_path / "circles.csv"
    file.write_text("\n".join(lines) + "\n")
    return file


def test_textbook_circles_give_the_accepted_value(glowtrace, circles):
    # Finite winding and relativity change it by parts in a thousand (orders of magnitude: h^2 / 60
    # R^2 and e V / m c^2), the tenths of a millimetre as much.
    code, out, err = glowtrace(
        "measure", "circle", circles, BULB, "--model", "ideal", *RULER, "--json"
    )
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["specific_charge_c_per_kg"] == pytest.approx(ACCEPTED, rel=0.01)
    assert found["reference_c_per_kg"] == pytest.approx(ACCEPTED, rel=1e-6)
    assert 0 < found["uncertainty_c_per_kg"] < 0.05 * ACCEPTED


def test_result_is_told_with_its_budget(glowtrace, circles):
    with circles.open("a") as file:
        file.write(",200,1.5\n")
    code, out, _ = glowtrace("measure", "circle", circles, BULB, "--model", "ideal", *RULER)
    assert code == 0
    text = " ".join(out.split())
    assert "e/m = 1." in text
    assert "Row 5 was left out: D: missing." in text
    assert "D as read" in text
    assert "Taken as exact" in text


def test_measurement_is_written_so_that_it_can_be_redone(glowtrace, circles, tmp_path):
    file = tmp_path / "circles.json"
    asked = ("measure", "circle", circles, BULB, "--model", "ideal", *RULER, "--out", file)
    assert glowtrace(*asked)[0] == 0
    assert json.loads(file.read_text())["format"] == "glowtrace-measurement 1"
    code, _, err = glowtrace(*asked)
    assert code == 2
    assert "--overwrite" in err


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("circel", "FILE", BULB), '"circle"'),
        (("circle", "nowhere.csv", BULB), "nowhere.csv"),
        (("null", "FILE", BULB, *RULER), "V_p"),
        (("circle", "FILE", BULB), "state an instrument"),
        (("circle", "FILE", BULB, "--meter", "ruler=1 mm"), "ERROR of STEP"),
        (("circle", "FILE", BULB, "--meter", "clock=of 1 s"), "ruler"),
        (("circle", "FILE", BULB, "--meter", "ruler=much of 1 mm"), "2 digits"),
        (("circle", "FILE", BULB, "--meter", "ruler=of 1"), "the unit is missing"),
        (("circle", "FILE", BULB, *RULER, "--out", "a.pdf"), ".json"),
    ],
)
def test_wrong_measurement_is_refused_with_what_to_do(glowtrace, circles, arguments, expected):
    given = [circles if one == "FILE" else one for one in arguments]
    code, out, err = glowtrace("measure", *given, "--model", "ideal")
    assert (code, out) == (2, "")
    assert expected in err


def test_a_saved_measurement_is_fitted_anew_to_the_same_result(glowtrace, circles, tmp_path):
    saved, printed = tmp_path / "circles.json", tmp_path / "circles.pdf"
    measured = glowtrace("measure", "circle", circles, BULB, "--model", "ideal", *RULER,
                         "--known", "coil_constant=± 7 µT/A", "--out", saved, "--json")  # fmt: skip
    code, out, err = glowtrace("redo", saved, "--json", "--report", printed)
    assert (code, err) == (0, "")
    first, again = json.loads(measured[1]), json.loads(out)
    assert printed.read_bytes().startswith(b"%PDF")
    assert again.pop("written") == [str(printed)]
    assert first.pop("written") == [str(saved)]
    assert again == first


def test_what_is_no_saved_measurement_is_refused(glowtrace, circles, tmp_path):
    code, _, err = glowtrace("redo", circles)
    assert code == 2
    assert "give one written here" in err
    code, _, err = glowtrace("redo", tmp_path / "none.json")
    assert code == 2
    assert "no such file" in err


def test_a_method_that_the_bench_cannot_show_is_refused(glowtrace, circles):
    code, _, err = glowtrace("measure", "circle", circles, "deflection tube", "--model", "ideal")
    assert code == 2
    assert "the screen shows no whole circle" in err
    assert '"coils only"' in err


def test_a_result_is_kept_in_the_logbook(glowtrace, circles):
    code, out, _ = glowtrace(
        "measure", "circle", circles, BULB, "--model", "ideal", *RULER, "--keep", "--json"
    )
    assert code == 0
    entry = json.loads(out)["entry"]
    code, out, _ = glowtrace("logbook", "show", entry)
    assert code == 0
    assert "e/m = 1." in out
