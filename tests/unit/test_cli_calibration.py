"""The command line: a tube's factors found, kept with the bench, and used; constants told.

The readings are made with e/m = 2 V / (B r)^2 and B = f mu0 (4/5)^(3/2) N I / R (textbook closed
forms, from memory), in coils that act f times as strongly as drawn: apart from the program.
"""

from __future__ import annotations

import json
import math

import pytest
from scipy import constants

from glowtrace.bench.ready_made import ready_made

BULB = "fine-beam bulb"
ACCEPTED = constants.e / constants.m_e
STRONGER = 1.05
RULER = ("--meter", "ruler=of 0.5 mm, judged to 0 mm")
IDEAL = ("--model", "ideal")
METER = ("--known", "contact_offset=0 V")


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


@pytest.fixture
def circles(tmp_path):
    coils = ready_made(BULB).coils
    lines = ["D (mm),V_a (V),I (A)"]
    for voltage, current in ((180, 1.4), (200, 1.6), (250, 1.5), (280, 1.8)):
        flux = STRONGER * constants.mu_0 * 0.8**1.5 * coils.turns * current / coils.mean_radius
        lines.append(f"{2e3 * math.sqrt(2 * voltage / ACCEPTED) / flux:.2f},{voltage},{current}")
    file = tmp_path / "circles.csv"
    file.write_text("\n".join([*lines, ",,", ",,"]) + "\n")
    return file


def measured(glowtrace, circles, *more: object) -> dict[str, object]:
    told = () if any("offset" in str(each) for each in more) else METER
    asked = ("measure", "circle", circles, BULB, *IDEAL, *RULER, *told, "--json")
    code, out, err = glowtrace(*asked, *more)
    assert (code, err) == (0, "")
    return json.loads(out)


def made(glowtrace, circles, *more: object) -> dict[str, object]:
    asked = ("calibration", "make", "circle", circles, BULB, *IDEAL, *RULER, *METER, "--json")
    code, out, err = glowtrace(*asked, *more)
    assert (code, err) == (0, "")
    return json.loads(out)


def test_coil_factor_is_found_kept_and_used(glowtrace, circles):
    plain = measured(glowtrace, circles)
    assert plain["specific_charge_c_per_kg"] == pytest.approx(STRONGER**2 * ACCEPTED, rel=3e-3)
    assert plain["rows_left_out"] == []  # rows that were not filled in are no readings
    found = made(glowtrace, circles, "--date", "2026-11-20", "--note", "invented")
    factor = found["calibration"]["coil_factor"]
    assert factor["value"] == pytest.approx(STRONGER, rel=2e-3)
    assert 0 < factor["uncertainty"] < 0.01
    code, out, _ = glowtrace("calibration", "list", BULB, "--json")
    (listed,) = json.loads(out)["calibrations"]
    assert code == 0
    assert (listed["entry"], listed["calibration"]["date"]) == (found["entry"], "2026-11-20")
    for which in ("latest", found["entry"]):
        used = measured(glowtrace, circles, "--calibration", which)
        assert used["specific_charge_c_per_kg"] == pytest.approx(ACCEPTED, rel=1e-3)
        assert used["uncertainty_c_per_kg"] > plain["uncertainty_c_per_kg"]
        assert used["known"]["coil_constant"]["uncertainty"] > 0


def test_calibration_goes_through_a_file_to_another_computer(
    glowtrace, circles, tmp_path, monkeypatch
):
    entry = made(glowtrace, circles)["entry"]
    file = tmp_path / "bulb.json"
    assert glowtrace("calibration", "save", entry, file)[0] == 0
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "elsewhere"))
    assert glowtrace("calibration", "list")[1].startswith("None is kept.")
    assert glowtrace("calibration", "add", file, BULB)[0] == 0
    used = measured(glowtrace, circles, "--calibration", "latest")
    again = measured(glowtrace, circles, "--calibration", file)
    assert used["specific_charge_c_per_kg"] == again["specific_charge_c_per_kg"]


def test_withdrawn_calibration_is_not_the_latest(glowtrace, circles):
    entry = made(glowtrace, circles)["entry"]
    assert glowtrace("logbook", "withdraw", entry, "--reason", "coils rewound")[0] == 0
    asked = ("measure", "circle", circles, BULB, *IDEAL, *RULER, "--calibration", "latest")
    code, _, err = glowtrace(*asked)
    assert code == 2
    assert "glowtrace calibration make" in err


def test_constant_told_counts_with_its_uncertainty(glowtrace, circles):
    # e/m goes with 1 / B^2: twice the relative uncertainty of the coils (GUM 5.1.6).
    told = measured(glowtrace, circles, "--known", f"coil_factor={STRONGER}(2)")
    line = next(each for each in told["budget"] if each["name"] == "coil constant")
    value = told["specific_charge_c_per_kg"]
    assert value == pytest.approx(ACCEPTED, rel=3e-3)
    assert line["contribution_c_per_kg"] / value == pytest.approx(2 * 0.02 / STRONGER, rel=0.02)
    assert "coil constant" not in told["taken_as_exact"]
    as_drawn = measured(glowtrace, circles, "--known", "Contact offset = ± 2 V")
    assert as_drawn["known"]["contact_offset"] == {"value": None, "uncertainty": 2.0, "unit": "V"}


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        (("--known", "gap=3 mm"), "plate_gap"),
        (("--known", "plate_gap=49 mm"), "depend on"),
        (("--known", "coil_factor=1 mm"), "--known coil_factor"),
        (("--known", "coil_factor=0"), "above 0"),
        (("--known", "coil_factor=1.00(1)", "--known", "coil_constant=1 mT/A"), "only once"),
        (("--known", "specific_charge=1 C/kg"), "NAME of"),
        (("--calibration", "0123456789abcdef"), "no entry"),
        (("--calibration", "nowhere.json"), "nowhere.json"),
    ],
)
def test_what_is_known_wrongly_is_refused_with_what_to_do(glowtrace, circles, more, expected):
    code, out, err = glowtrace("measure", "circle", circles, BULB, *IDEAL, *RULER, *more)
    assert (code, out) == (2, "")
    assert expected in err


def test_calibration_of_the_other_model_is_refused(glowtrace, circles):
    made(glowtrace, circles)
    code, _, err = glowtrace("measure", "circle", circles, BULB, *RULER, "--calibration", "latest")
    assert code == 2
    assert "--model ideal" in err


@pytest.mark.parametrize(
    ("method", "columns"),
    [
        ("circle", "D (mm),V_a (V),I (A),remark"),
        ("null", "V_p (V),I (A),V_a (V),x (mm),y (mm),remark"),
        ("axial focus", "L (mm),V_a (V),I (A),n,remark"),
    ],
)
def test_empty_table_is_written_to_be_filled_in(glowtrace, tmp_path, method, columns):
    file = tmp_path / "table.csv"
    assert glowtrace("readings", method, file, "--rows", "3")[0] == 0
    lines = file.read_text().splitlines()
    empty = "," * columns.count(",")
    assert lines[-4:] == [columns, empty, empty, empty]
    assert f"# method: {method}" in lines
    assert glowtrace("readings", method, file)[0] == 2  # nothing is written over


def test_filled_in_table_measures_with_the_meters_at_its_top(glowtrace, tmp_path):
    file = tmp_path / "table.csv"
    told = ("--meter", "ruler=of 2 mm, judged to 0 mm")
    assert glowtrace("readings", "circle", file, "--rows", "1", *told)[0] == 0
    with file.open("a") as table:
        table.write("82.0,200,1.5,\n")
    code, out, _ = glowtrace("measure", "circle", file, BULB, *IDEAL, "--json")
    assert code == 0
    budget = {each["name"]: each for each in json.loads(out)["budget"]}
    value = json.loads(out)["specific_charge_c_per_kg"]
    # e/m goes with 1 / D^2, and a step q is known to q / sqrt(12) (GUM F.2.2.1).
    share = budget["D as read (circle)"]["contribution_c_per_kg"] / value
    assert share == pytest.approx(2 * 2.0 / math.sqrt(12) / 82.0, rel=0.02)
