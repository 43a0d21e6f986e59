"""The command that looks for a fault.

Exit codes: 0 for success, 1 for a result that says no, 2 for wrong use (common practice of Unix
programs, no source).
"""

from __future__ import annotations

import json
import shlex
from itertools import pairwise

import pytest
from PIL import Image

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli.faults import EXAMPLES, read_points
from glowtrace.errors import GlowtraceError
from glowtrace.faults import checks_for, faults_for, statements_for
from glowtrace.photographs.grid import screen_rectangle_of
from glowtrace.photographs.synthetic import Camera, Conditions, picture_light, take_photograph
from glowtrace.words.faults import statement_words

BULB = ("faults", "fine-beam bulb", "--accelerating", "210 V", "--coil", "1.6 A", "--draws", "3")
SET = Settings(accelerating_voltage=210.0, coil_current=1.6)
STUCK = "line is straight and does not move with the coils"


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "140")


def words(text: str) -> str:
    """Give what was printed without its line breaks."""
    return " ".join(text.split())


def test_without_anything_seen_it_lists_what_can_be_said_done_and_wrong(glowtrace):
    code, out, _ = glowtrace(*BULB)
    assert code == 0
    bench = ready_made("fine-beam bulb")
    for one in statements_for(bench, SET):
        assert one.key in out
        assert statement_words(one) in words(out)
    for check in checks_for(bench, SET):
        assert check.key in out
        assert all(outcome in out for outcome in check.outcomes)
    for fault in faults_for(bench, SET):
        assert fault.title in words(out)
    assert "common practice, no source" in out
    assert "discharged" in out


def test_the_list_as_json_has_odds_that_add_up(glowtrace):
    code, out, _ = glowtrace(*BULB, "--json")
    listed = json.loads(out)
    assert code == 0
    assert sum(one["probability"] for one in listed["faults"]) == pytest.approx(1.0)
    assert listed["bench"]["invented"] is True


def test_causes_are_ranked_with_a_remedy_and_the_next_check(glowtrace):
    code, out, _ = glowtrace(*BULB, "--seen", STUCK)
    assert code == 0
    told = words(out)
    assert "one coil is reversed" in told
    assert "no current flows in the coils" in told
    assert "Next check: coil meter" in told
    assert "Then most likely" in told
    assert told.index("discharged") < told.index("Cure:")
    assert "±" in told
    assert "bench" in told


def test_an_answer_settles_it(glowtrace):
    answer = "coil meter=coil meter shows nothing"
    code, out, _ = glowtrace(*BULB, "--seen", STUCK, "--answer", answer, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["ranking"][0]["fault"] == "no coil current"
    assert found["ranking"][0]["probability"] > 0.7
    assert found["ranking"][0]["remedy"].startswith("High tension off")
    assert found["answers"] == [{"check": "coil meter", "outcome": "coil meter shows nothing"}]
    assert "coil meter" not in {one["check"] for one in found["next_checks"]}
    assert found["model"] == "bench"
    assert sum(row["probability"] for row in found["ranking"]) == pytest.approx(1.0)


def test_once_it_is_settled_no_idle_checks_are_asked_for(glowtrace):
    answers = (
        "coil meter=coil meter shows nothing",
        "accelerating voltage=line does not move",
        "high-tension meter=meter shows what is set",
    )
    given = [each for answer in answers for each in ("--answer", answer)]
    code, out, _ = glowtrace(*BULB, "--seen", STUCK, *given)
    assert code == 0
    assert "No further check would tell much" in words(out)


def test_a_drawn_line_is_read_from_a_file(glowtrace, tmp_path):
    path = tmp_path / "straight.csv"
    path.write_text("u_mm,v_mm\n" + "".join(f"{5 * n},0.4\n" for n in range(12)), "utf-8")
    code, out, _ = glowtrace(*BULB, "--trace", path, "--trace-error", "2 mm", "--json")
    first = {row["fault"] for row in json.loads(out)["ranking"][:2]}
    assert code == 0
    assert first == {"no coil current", "coils opposing"}


def test_a_line_that_no_fault_makes_is_a_no(glowtrace, tmp_path):
    path = tmp_path / "corner.csv"
    rows = "".join(f"{-70 + 2 * n},{120 - n},0.1\n" for n in range(9))
    path.write_text("u_mm,v_mm,v_uncertainty_mm\n" + rows, "utf-8")
    code, out, _ = glowtrace(*BULB, "--trace", path)
    assert code == 1
    assert "None of the known faults explains this" in words(out)


def test_lines_in_other_states_are_taken_too(glowtrace, tmp_path):
    path = tmp_path / "off.csv"
    path.write_text("u_mm,v_mm\n10,0\n30,0\n50,0\n", "utf-8")
    code, out, _ = glowtrace(*BULB, "--trace-at", f"coil current={path}", "--json")
    assert code == 0
    assert json.loads(out)["line_points"] == {"coil current": 3}


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--seen", "line bends dwon"], "did you mean line bends down"),
        (["--seen", "line bends up", "--not-seen", "line bends up"], "choose one of the two"),
        (["--answer", "coil meter"], "CHECK=OUTCOME"),
        (["--answer", "coil metre=nothing"], "did you mean coil meter"),
        (["--answer", "coil meter=shows"], "coil meter shows"),
        (["--trace", "nowhere.csv"], "cannot be read"),
        (["--trace-at", "coil current"], "CHECK=FILE"),
        (["--seen", "line bends up", "--trace-error", "2 V"], "--trace-error"),
        (["--seen", "line bends up", "--draws", "1"], "--draws"),
        (["--seen", "line bends up", "--coil", "90 A"], "coil"),
    ],
)
def test_wrong_use_says_what_to_do(glowtrace, options, told):
    code, _, err = glowtrace(*BULB, *options)
    assert code == 2
    assert told in words(err)


@pytest.mark.parametrize(
    "content",
    ["", "x,y\n1,2\n", "u_mm,v_mm\n1,two\n", "u_mm,v_mm\n1\n", "u_mm,v_mm\n"],
)
def test_a_file_without_points_is_refused(tmp_path, content):
    path = tmp_path / "points.csv"
    path.write_text(content, "utf-8")
    with pytest.raises(GlowtraceError, match="give"):
        read_points(path)


def test_points_of_a_photograph_are_known_by_their_uncertainties(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text("u_mm,v_mm,u_uncertainty_mm,v_uncertainty_mm\n10,2.5,0.1,0.1\n", "utf-8")
    points, is_measured = read_points(path)
    assert points == ((0.01, 0.0025),)
    assert is_measured


@pytest.mark.thorough
def test_a_photograph_of_swapped_plates_names_them(glowtrace, deflection_tube, tmp_path):
    """The picture is made with the full model of the bench, and with its leads swapped."""
    truth = Settings(accelerating_voltage=3000.0, plate_voltage=900.0, plate_reversed=True)
    taken = take_photograph(
        picture_light(deflection_tube.picture(truth, electrons=20_000)),
        Camera(aim=(0.0577, 0.0), distance=0.16, turn=0.1, tilt=0.05),
        screen_rectangle_of(deflection_tube.bench),
        Conditions(grid_pitch=0.01, room_light=0.08),
    )
    image, points = tmp_path / "trace.png", tmp_path / "points.csv"
    Image.fromarray(taken.pixels).save(image)
    code, _, _ = glowtrace("photograph", image, "deflection tube", "--points", points)
    assert code == 0
    code, out, _ = glowtrace(
        "faults", "deflection tube", "--accelerating", "3 kV", "--plate", "900 V",
        "--trace", points, "--draws", "32", "--json",
    )  # fmt: skip
    found = json.loads(out)
    assert code == 0
    assert found["ranking"][0]["fault"] == "plates swapped"
    assert found["ranking"][0]["probability"] > 0.5


@pytest.mark.parametrize("told", ["bends_less", "circle is larger than it should be"])
def test_a_statement_is_said_by_its_key_or_its_sentence(glowtrace, told):
    code, out, _ = glowtrace(*BULB, "--seen", told, "--json")
    assert code == 0
    assert json.loads(out)["seen"] == ["bends_less"]


def test_names_are_checked_before_anything_is_computed(glowtrace, monkeypatch):
    def compute(*given, **named):
        raise AssertionError

    monkeypatch.setattr("glowtrace.faults.prepare_suspects", compute)
    monkeypatch.setattr("glowtrace.bench.prepared.prepare", compute)
    wrong = ("--seen", "line bends dwon", "--answer", "coil meter=shows", "--not-seen", "up",
             "--seen", "up")  # fmt: skip
    code, _, err = glowtrace(*BULB, *wrong)
    assert code == 2
    told = words(err)
    assert "dwon" in told
    assert "coil meter shows" in told
    assert "choose one of the two" in told


def test_examples_in_the_help_name_what_exists():
    examples = EXAMPLES.replace("\\\n", " ").splitlines()
    commands = [shlex.split(line) for line in examples if line.startswith("glowtrace faults")]
    assert len(commands) == 3
    for command in commands:
        bench = ready_made(command[2])
        settings = Settings(accelerating_voltage=200.0, plate_voltage=10.0, coil_current=0.1) \
            if bench.plates else SET  # fmt: skip
        said = {statement_words(one) for one in statements_for(bench, settings)}
        outcomes = {f"{c.key}={o}" for c in checks_for(bench, settings) for o in c.outcomes}
        for option, value in pairwise(command):
            assert option != "--seen" or value in said
            assert option != "--answer" or value in outcomes
