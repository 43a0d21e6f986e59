"""The command line: goals, plans, maps, wiring, safety and run sheets.

Exit codes: 0 for success, 1 for a result that says no, 2 for wrong use (common practice of Unix
programs, as of those that search or compare: no source).
"""

from __future__ import annotations

import csv
import io
import json
import shlex
from dataclasses import fields

import pytest

from glowtrace.bench.files import load_settings
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.cli.goals import GoalTargets
from glowtrace.demos.classification import KINDS
from glowtrace.demos.goals import GOALS, PlateDeflection, suitable_goals
from glowtrace.store import open_store

TUBE, BULB, AXIAL = "deflection tube", "fine-beam bulb", "axial coil tube"
PLANNED = ("plan", TUBE, "plate deflection", "--answers", "1")
MAP = ("outcomes", TUBE, "--across", "coil", "--up", "plate", "--size", "9x7", "--electrons", "8")


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


def words(text: str) -> str:
    """Give what was printed without its line breaks."""
    return " ".join(text.split())


# Goals


def test_goals_lists_every_goal_with_its_targets(glowtrace):
    code, out, _ = glowtrace("goals")
    assert code == 0
    for kind in GOALS:
        assert kind.name in out
        assert all(f"--{target.replace('_', '-')}" in out for target in kind.units)


def test_every_target_of_a_goal_has_an_option():
    options = {each.name for each in fields(GoalTargets)}
    assert options == {target for kind in GOALS for target in kind.units}


@pytest.mark.parametrize("bench", ready_made_names())
def test_goals_of_a_bench_are_those_that_suit_it(glowtrace, bench):
    _, out, _ = glowtrace("goals", bench, "--json")
    listed = json.loads(out)["goals"]
    suited = {one["name"] for one in listed if one["suits"]}
    assert suited == {goal.name for goal in suitable_goals(ready_made(bench))}
    assert all(one["reason"] for one in listed if not one["suits"])
    _, out, _ = glowtrace("goals", bench)
    assert all(one["reason"] in words(out) for one in listed if not one["suits"])


def test_default_targets_can_be_typed_back(glowtrace):
    _, out, _ = glowtrace("goals", TUBE)
    line = next(line for line in out.splitlines() if "--height" in line)
    typed = shlex.split(line.partition("suit it: ")[2])
    found = []
    for targets in (typed, ()):
        code, out, _ = glowtrace(*PLANNED, *targets, "--json")
        assert code == 0
        found.append(json.loads(out)["answers"][0]["settings"]["plate_voltage_v"])
    assert found[0] == pytest.approx(found[1], rel=1e-6)


# Plans


def test_plan_tells_settings_windows_sensitivities_margins_and_the_ideal(glowtrace):
    code, out, err = glowtrace(*PLANNED, "--height", "1 cm", "--full")
    assert (code, err) == (0, "")
    text = words(out)
    for expected in (
        "height 10.0 mm",
        "works from",
        "the picture",
        "per +1 %",
        "the gun is rated 4.8 kV",
        "The ideal model",
    ):
        assert expected in text


def test_planned_settings_reach_the_goal(glowtrace):
    # Independent of the search: the goal's own check of the whole bundle at the settings printed.
    code, out, _ = glowtrace(*PLANNED, "--height", "-8 mm", "--x", "80 mm", "--json")
    assert code == 0
    (answer,) = json.loads(out)["answers"]
    settings = Settings(
        accelerating_voltage=answer["settings"]["accelerating_voltage_v"],
        plate_voltage=answer["settings"]["plate_voltage_v"],
        plate_tie=answer["settings"]["plate_tie"],
        plate_reversed=answer["settings"]["plate_reversed"],
    )
    assert settings.plate_reversed
    goal = PlateDeflection(x=0.08, height=-0.008, tolerance=0.001)
    assert goal.is_met(prepare(ready_made(TUBE)), settings, electrons=2000).ok


def test_fixed_settings_are_kept(glowtrace):
    _, out, _ = glowtrace(
        *PLANNED, "--fix", "accelerating voltage = 3 kV", "--fix", "plate_tie=upper at anode",
        "--fix", "ripple=false", "--json",
    )  # fmt: skip
    settings = json.loads(out)["answers"][0]["settings"]
    assert settings["accelerating_voltage_v"] == 3000.0
    assert settings["plate_tie"] == "upper at anode"
    assert settings["ripple"] is False


def test_plan_in_the_ideal_model_says_so(glowtrace):
    _, out, _ = glowtrace(*PLANNED, "--model", "ideal")
    assert "Planned in the ideal model" in out


def test_plan_saves_writes_and_draws(glowtrace, tmp_path):
    file, picture = tmp_path / "up.toml", tmp_path / "up.png"
    code, out, _ = glowtrace(
        *PLANNED, "--save", "up", "--settings-file", file, "--picture", picture, "--json"
    )
    assert code == 0
    answer = json.loads(out)["answers"][0]["settings"]
    assert load_settings(file).plate_voltage == answer["plate_voltage_v"]
    with open_store() as store:
        assert store.settings.open("up").settings == load_settings(file)
    assert picture.read_bytes()[:4] == b"\x89PNG"
    again = glowtrace(*PLANNED, "--settings-file", file)
    assert again[0] == 2
    assert "--overwrite" in again[2]


def test_goal_without_its_parts_is_refused_as_a_result(glowtrace):
    code, out, err = glowtrace("plan", AXIAL, "null")
    assert (code, err) == (1, "")
    assert "the bench has no plates" in words(out)
    assert "a result, not an error" in out
    code, out, _ = glowtrace("plan", AXIAL, "null", "--json")
    assert code == 1
    assert json.loads(out)["refusal"]["binding"] == {"text": "the bench has no plates"}


def test_goal_beyond_a_rating_names_it_with_what_works_and_what_helps(glowtrace):
    weak = ready_made(TUBE).coils.model_copy(update={"max_current": 0.1})
    with open_store() as store:
        store.benches.save("weak", ready_made(TUBE).model_copy(update={"coils": weak}))
    code, out, _ = glowtrace(
        "plan", "weak", "coil deflection", "--height", "2 cm",
        "--fix", "accelerating_voltage=4.8 kV",
    )  # fmt: skip
    assert code == 1
    text = words(out)
    assert "the coil pair is rated 100 mA" in text
    assert "would be needed" in text
    assert "Nearest that works" in text
    assert "lower the accelerating voltage" in text


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ((TUBE, "full circel"), "did you mean full circle?"),
        ((TUBE, "null", "--height", "1 cm"), "--length, --plates-alone"),
        ((TUBE, "plate deflection", "--height", "1"), "the unit is missing"),
        ((TUBE, "plate deflection", "--height", "0 mm"), "height"),
        ((TUBE, "plate deflection", "--x", "1 kg", "--height", "1 V"), "--height"),
        ((TUBE, "plate deflection", "--fix", "plate"), "SETTING=VALUE"),
        ((TUBE, "plate deflection", "--fix", "plate_voltag=1 V"), "did you mean plate_voltage?"),
        ((TUBE, "plate deflection", "--fix", "plate_voltage=1"), "the unit is missing"),
        ((TUBE, "plate deflection", "--fix", "ripple=maybe"), "give true or false"),
        ((TUBE, "plate deflection", "--answers", "0"), "--answers"),
        ((TUBE, "plate deflection", "--settings-file", "a.txt"), ".toml"),
        ((TUBE, "plate deflection", "--picture", "a.bmp"), ".png, .svg or .pdf"),
        ((AXIAL, "helix focus", "--turns", "1.5"), "whole"),
        ((TUBE,), "goal"),
    ],
)
def test_wrong_plan_is_refused_with_what_to_do(glowtrace, arguments, expected):
    code, out, err = glowtrace("plan", *arguments)
    assert (code, out) == (2, "")
    assert expected in err


# Maps


def test_map_tells_what_happens_and_the_ratings(glowtrace):
    code, out, err = glowtrace(*MAP, "--reverse-coils")
    assert (code, err) == (0, "")
    assert "the coil pair is rated 1.9 A" in out
    assert "hits the upper plate" in out or "hits the lower plate" in out


def test_map_in_all_forms_is_one_map(glowtrace, tmp_path):
    picture, table = tmp_path / "map.svg", tmp_path / "map.csv"
    code, out, _ = glowtrace(
        *MAP, "--across-range", "0 to 300 mA", "--up-range", "1 kV..2 kV",
        "--picture", picture, "--print-look", "--table", table, "--json",
    )  # fmt: skip
    assert code == 0
    made = json.loads(out)
    assert made["labels"] == list(KINDS)
    assert (made["x_a"][0], made["x_a"][-1]) == (0.0, 0.3)
    assert (made["y_v"][0], made["y_v"][-1]) == (1000.0, 2000.0)
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert len(rows) == 9 * 7
    assert [row["outcome"] for row in rows] == [
        made["labels"][code] for line in made["codes"] for code in line
    ]
    drawn = picture.read_text()
    assert drawn.startswith("<?xml")


def test_knobs_beside_the_map_are_set(glowtrace):
    # Twice the voltage, half the deflection: less of the map is off the screen at 4.8 kV.
    lost = []
    for voltage in ("1 kV", "4.8 kV"):
        _, out, _ = glowtrace(*MAP, "--accelerating", voltage, "--json")
        lost.append(1.0 - json.loads(out)["shares"].get("full line", 0.0))
    assert lost[1] < lost[0]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("--coil", "1 A", "--accelerating", "3 kV"), "this knob is turned"),
        (("--size", "big"), "200x200"),
        (("--size", "1x1"), "2 to"),
        (("--across-range", "1 A"), "two ends"),
        (("--across-range", "1 to 2 A"), "the unit is missing"),
        (("--across-range", "2 A to 1 A"), "the lower first"),
        (("--accelerating", "9 kV"), "the gun is rated 4.8 kV"),
        (("--plate-source", "accelerating supply"), "one plate is at the anode"),
        (("--table", "a.xls"), ".csv"),
        (("--up", "coil"), "choose two of"),
        (("--up", "heater"), "accelerating, plate, coil"),
    ],
)
def test_wrong_map_is_refused_with_what_to_do(glowtrace, arguments, expected):
    code, out, err = glowtrace(*MAP, *arguments)
    assert (code, out) == (2, "")
    assert expected in err


def test_knob_that_the_bench_lacks_is_no_axis(glowtrace):
    code, _, err = glowtrace("outcomes", BULB, "--across", "coil", "--up", "plate")
    assert code == 2
    assert "the bench has no plates" in err


# Wiring


def test_wiring_lists_leads_and_checks(glowtrace, tmp_path):
    diagram = tmp_path / "wiring.svg"
    code, out, _ = glowtrace("wiring", TUBE, "--diagram", diagram)
    assert code == 0
    assert "protective earth" in out
    assert "Heater on" in out
    assert "<svg" in diagram.read_text()


def test_wiring_follows_the_settings_and_the_earth(glowtrace):
    _, out, _ = glowtrace(
        "wiring", TUBE, "--accelerating", "3 kV", "--plate", "1 kV", "--plate-tie",
        "lower at anode", "--earth", "cathode", "--json",
    )  # fmt: skip
    made = json.loads(out)
    assert made["earthed"] == "cathode"
    assert made["settings"]["plate_tie"] == "lower at anode"
    joined = {frozenset((lead["from_terminal"], lead["to_terminal"])) for lead in made["leads"]}
    assert frozenset(("cathode", "protective earth")) in joined
    assert [check["number"] for check in made["checks"]] == list(range(1, len(made["checks"]) + 1))


@pytest.mark.parametrize(("tie", "needed"), [("symmetric", True), ("lower at anode", False)])
def test_wiring_gives_the_resistors_of_the_plates_middle(glowtrace, tie, needed):
    _, out, _ = glowtrace(
        "wiring", TUBE, "--accelerating", "3 kV", "--plate", "1 kV", "--plate-tie", tie, "--json"
    )
    data = json.loads(out)
    made = data["middle_resistors"]
    assert (made is not None) == needed
    assert any("without a middle terminal" in note for note in data["notes"]) == needed
    if made:
        # Ohm's law, both in a row across the supply.
        across = made["load_a"] * 2 * made["pieces_each"] * made["piece_ohm"]
        assert across == pytest.approx(made["highest_voltage_v"])


def test_wiring_beyond_a_rating_is_refused(glowtrace):
    code, _, err = glowtrace("wiring", TUBE, "--accelerating", "9 kV")
    assert code == 2
    assert "the gun is rated 4.8 kV" in err


# Safety


@pytest.mark.parametrize("bench", ready_made_names())
def test_safety_of_every_bench_as_it_opens_has_no_stop(glowtrace, bench):
    code, out, _ = glowtrace("safety", bench)
    assert code == 0
    assert "Local rules and the person responsible decide" in words(out)


def test_safety_beyond_a_rating_says_stop(glowtrace):
    code, out, _ = glowtrace("safety", TUBE, "--accelerating", "3 kV", "--coil", "3 A")
    assert code == 1
    assert "verdict: stop" in out
    assert "the coil pair is rated 1.9 A" in words(out)
    code, out, _ = glowtrace("safety", TUBE, "--accelerating", "3 kV", "--coil", "3 A", "--json")
    assert code == 1
    report = json.loads(out)
    assert report["verdict"] == "stop"
    assert all(line["source"] for line in report["lines"])


def test_longer_runs_warm_the_coils_more(glowtrace):
    found = []
    for time in ("2 min", "0.5 h"):
        _, out, _ = glowtrace(
            "safety", TUBE, "--accelerating", "3 kV", "--coil", "1.5 A", "--run-time", time,
            "--room-temperature", "25 degC", "--json",
        )  # fmt: skip
        lines = json.loads(out)["lines"]
        found.append(next(x["value_si"] for x in lines if x["key"] == "safety.topic.touch"))
    assert 298.15 < found[0] < found[1]


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (("--run-time", "10"), "the unit is missing"),
        (("--run-time", "0 s"), "run_minutes"),
        (("--room-temperature", "80 degC"), "room_temperature"),
    ],
)
def test_wrong_safety_option_is_refused(glowtrace, options, expected):
    code, out, err = glowtrace("safety", TUBE, *options)
    assert (code, out) == (2, "")
    assert expected in err


# Run sheets


def test_sheet_of_settings_and_of_a_goal(glowtrace, tmp_path):
    pdf, text = tmp_path / "a.pdf", tmp_path / "a.md"
    code, out, _ = glowtrace("sheet", BULB, "--paper", "us-letter", "--out", pdf)
    assert code == 0
    assert f"written: {pdf}" in out
    assert pdf.read_bytes()[:5] == b"%PDF-"
    code, _, _ = glowtrace("sheet", AXIAL, "--goal", "helix focus", "--turns", 2, "--out", text)
    assert code == 0
    assert text.read_text().startswith("# Focus the beam")


def test_sheet_that_says_stop_is_written_and_told(glowtrace, tmp_path):
    file = tmp_path / "a.md"
    code, out, _ = glowtrace(
        "sheet", AXIAL, "--accelerating", "600 V", "--coil", "2 A", "--out", file, "--json"
    )
    assert code == 1
    assert json.loads(out)["verdict"] == "stop"
    assert "stop" in file.read_text().lower()


def test_refused_goal_gives_no_sheet(glowtrace, tmp_path):
    file = tmp_path / "a.pdf"
    code, out, _ = glowtrace("sheet", AXIAL, "--goal", "null", "--out", file)
    assert code == 1
    assert "the bench has no plates" in words(out)
    assert not file.exists()


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (("--out", "a.doc"), ".pdf or .md"),
        (("--out", "a.md", "--goal", "helix focus", "--coil", "1 A"), "leave --goal out"),
        (("--out", "a.md", "--turns", "2"), "give --goal as well"),
        (("--out", "a.md", "--heater-off"), "heater"),
        (("--out", "a.md", "--goal", "helix focus", "--take", "0"), "--take"),
        ((), "--out"),
    ],
)
def test_wrong_sheet_is_refused_with_what_to_do(glowtrace, options, expected):
    code, out, err = glowtrace("sheet", AXIAL, *options)
    assert (code, out) == (2, "")
    assert expected in err
