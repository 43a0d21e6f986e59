"""The commands that read a photograph and keep the logbook, as a user calls them."""

import csv
import json

import pytest
from PIL import Image

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli import run
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.photographs.grid import screen_rectangle_of
from glowtrace.photographs.synthetic import Camera, Conditions, picture_light, take_photograph
from glowtrace.store import Attachment, open_store

BENCH = "deflection tube"
KNOBS = ["--accelerating", "3 kV", "--coil", "100 mA"]
SETTINGS = Settings(accelerating_voltage=3000.0, coil_current=0.1)


@pytest.fixture(scope="module")
def image(deflection_tube, tmp_path_factory):
    """A made-up photograph of the screen, taken a little from the side."""
    picture = deflection_tube.picture(SETTINGS, electrons=20_000)
    camera = Camera(aim=(0.0577, 0.0), distance=0.16, turn=0.1, tilt=0.05)
    taken = take_photograph(
        picture_light(picture),
        camera,
        screen_rectangle_of(ready_made(BENCH)),
        Conditions(grid_pitch=0.01, room_light=0.08),
    )
    path = tmp_path_factory.mktemp("photograph") / "trace.png"
    Image.fromarray(taken.pixels).save(path)
    return path


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


@pytest.mark.slow
def test_photograph_to_points_readings_and_e_over_m(image, tmp_path, capsys, deflection_tube):
    points, readings, seen = (tmp_path / name for name in ("p.csv", "r.csv", "seen.png"))
    code = run(["photograph", str(image), BENCH, *KNOBS, "--points", str(points),
                "--readings", str(readings), "--overlay", str(seen)])  # fmt: skip
    assert code == 0, capsys.readouterr()
    assert "Grid found" in capsys.readouterr().out
    with points.open() as file:
        rows = [{name: float(value) for name, value in row.items()} for row in csv.DictReader(file)]
    trace = deflection_tube.picture(SETTINGS, electrons=20_000).mean_trace
    assert len(rows) > 20
    inner = [row for row in rows if 20.0 < row["u_mm"] < 95.0]
    assert max(abs(1e3 * trace.at(row["u_mm"] / 1e3)[0] - row["v_mm"]) for row in inner) < 0.3
    assert Image.open(seen).size == Image.open(image).size

    arguments = ["coils only", str(readings), BENCH, "--model", "bench", "--json"]
    assert run(["measure", *arguments]) == 0
    found = json.loads(capsys.readouterr().out)
    # The photograph was made with the accepted e/m.
    assert found["specific_charge_c_per_kg"] == pytest.approx(SPECIFIC_CHARGE, rel=0.01)


@pytest.fixture(scope="module")
def cut(image, tmp_path_factory):
    """The same photograph without its left and right end, and pixels of places in it."""
    whole = Image.open(image)
    columns = 250, whole.width - 250
    path = tmp_path_factory.mktemp("cut") / "cut.png"
    whole.crop((columns[0], 0, columns[1], whole.height)).save(path)
    camera = Camera(aim=(0.0577, 0.0), distance=0.16, turn=0.1, tilt=0.05)

    def at(u, v):
        column, row = camera.pixels([(u, v)])[0]
        return f"--at={1e3 * u:.0f} mm, {1e3 * v:.0f} mm = {column - columns[0]:.0f}, {row:.0f}"

    return path, at


def test_points_are_told_where_the_grid_does_not_tell_its_labels(cut, capsys):
    path, at = cut
    assert run(["photograph", str(path), BENCH, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)["grid"]
    assert "not which is which" in told
    assert told.endswith("give one crossing that you know with --at")
    places = [(0.03, -0.02), (0.09, -0.02), (0.09, 0.02), (0.03, 0.02), (0.06, 0.0), (0.07, 0.01)]
    four, six = ([at(*place) for place in places[:count]] for count in (4, 6))
    assert run(["photograph", str(path), BENCH, *four, "--json"]) == 0
    assert "4 grid points" in json.loads(capsys.readouterr().out)["grid"]
    assert run(["photograph", str(path), BENCH, *six, "--json"]) == 0
    assert "with the lens's distortion" in json.loads(capsys.readouterr().out)["grid"]


def test_a_line_far_from_where_the_settings_put_it_is_told(image, tmp_path, capsys):
    # The photograph was taken at +100 mA.
    wrong = [*KNOBS, "--reverse-coils"]
    readings = tmp_path / "r.csv"
    arguments = ["photograph", str(image), BENCH, *wrong, "--readings", str(readings), "--json"]
    assert run(arguments) == 0
    (note,) = json.loads(capsys.readouterr().out)["notes"]
    assert "from where the settings put it" in note


def test_nothing_in_the_dark_is_a_result_that_says_no(tmp_path, capsys):
    black = tmp_path / "dark.png"
    Image.new("RGB", (640, 480)).save(black)
    assert run(["photograph", str(black), BENCH]) == 1
    assert "The grid was not found" in capsys.readouterr().out
    corners = ["--at", "20 mm, 20 mm = 10, 10", "--at", "100 mm, 20 mm = 600, 10",
               "--at", "100 mm, -20 mm = 600, 400", "--at", "20 mm, -20 mm = 10, 400"]  # fmt: skip
    assert run(["photograph", str(black), BENCH, *corners]) == 1
    assert "no line brighter than the noise" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--at", "here"], "PLACE=PIXEL"),
        (["--at", "1 V, 2 mm = 3, 4"], "1 V"),
        (["--points", "points.txt"], ".csv"),
    ],
)
def test_bad_options_are_told(image, arguments, words, capsys):
    assert run(["photograph", str(image), BENCH, *arguments]) == 2
    assert words in capsys.readouterr().err


def test_a_file_that_is_no_photograph_is_told(tmp_path, capsys):
    text = tmp_path / "notes.jpg"
    text.write_text("no picture")
    assert run(["photograph", str(text), BENCH]) == 2
    assert "notes.jpg" in capsys.readouterr().err


@pytest.mark.usefixtures("kept")
def test_logbook_is_listed_shown_and_carried_to_another_place(tmp_path, capsys, monkeypatch):
    photo = Attachment("trace.txt", "text/plain", b"not much of a photograph")
    with open_store() as store:
        entry = store.logbook.add(
            "readings", "null of Monday", bench=ready_made(BENCH),
            settings=Settings(accelerating_voltage=3000.0), payload={"rows": [1.0, 2.0]},
            attachments=[photo],
        )  # fmt: skip
    assert run(["logbook", "list", "--json"]) == 0
    (listed,) = json.loads(capsys.readouterr().out)["entries"]
    assert (listed["id"], listed["title"], listed["kind"]) == (
        entry.id,
        "null of Monday",
        "readings",
    )
    assert run(["logbook", "list", "--text", "tuesday"]) == 0
    assert "No such entry" in capsys.readouterr().out
    assert run(["logbook", "show", entry.id, "--attachments-to", str(tmp_path)]) == 0
    shown = capsys.readouterr().out
    for words in ("null of Monday", 'name = "deflection tube"', "3 kV", "rows", "trace.txt"):
        assert words in shown
    assert (tmp_path / "trace.txt").read_bytes() == photo.data

    file = tmp_path / "logbook.zip"
    assert run(["logbook", "export", str(file)]) == 0
    assert run(["logbook", "export", str(file)]) == 2
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "elsewhere"))
    assert run(["logbook", "import", str(file)]) == 0
    assert "added: 1 entries" in capsys.readouterr().out
    assert run(["logbook", "show", entry.id, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["payload"] == {"rows": [1.0, 2.0]}


@pytest.mark.usefixtures("kept")
def test_unknown_entry_and_wrong_file_are_told(tmp_path, capsys):
    assert run(["logbook", "show", "0000000000000000"]) == 2
    assert "0000000000000000" in capsys.readouterr().err
    wrong = tmp_path / "wrong.zip"
    wrong.write_text("no zip")
    assert run(["logbook", "import", str(wrong)]) == 2
    assert "wrong.zip" in capsys.readouterr().err
