"""The command line: what people type, what comes out, and one clear line where it cannot be.

Exit codes: 0 for success, 2 for wrong use (common practice of Unix programs, no source).
Planning and preparing have a file of their own.
"""

from __future__ import annotations

import csv
import io
import json
import math
import statistics
import tomllib

import pytest
import typer.testing

from glowtrace.bench.beginnings import own_copy
from glowtrace.bench.files import bench_to_toml, load_bench, load_settings, save_bench
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.cli import app, run
from glowtrace.errors import GlowtraceWarning
from glowtrace.store import open_store

TUBE = "deflection tube"
FEW = ("--electrons", "300")


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path / "data"))


def refused(result: tuple[int, str, str]) -> str:
    """Give the message of a refusal, having checked its form: one line, or one a field."""
    code, out, err = result
    assert code == 2
    assert out == ""
    first, *rest = err.splitlines()
    assert first.startswith("glowtrace: ")
    assert all(line.startswith("  ") for line in rest)
    return err


# Help


@pytest.mark.parametrize(
    "command",
    [
        "",
        "trace",
        "goals",
        "plan",
        "outcomes",
        "wiring",
        "safety",
        "sheet",
        "measure",
        "page",
        "bench",
        "bench list",
        "bench new",
        "bench check",
        "bench show",
        "bench doubts",
        "bench learn",
        "bench ask",
        "settings",
        "settings list",
        "settings save",
        "settings open",
        "settings rename",
        "settings delete",
        "faults",
        "light",
        "clip",
        "worksheet",
        "explain",
        "readings",
        "photograph",
        "calibration",
        "calibration make",
        "logbook",
    ],
)
def test_every_command_has_help(command):
    result = typer.testing.CliRunner().invoke(app, [*command.split(), "--help"])
    assert result.exit_code == 0
    assert "Usage: " in result.output
    assert "..." not in result.output.replace("[ARGS]...", "")  # nothing is cut short


def test_help_of_trace_gives_examples_that_work(glowtrace):
    code, out, _ = glowtrace("trace", "--help")
    assert code == 0
    assert 'glowtrace trace "deflection tube" --accelerating "3 kV" --plate "1 kV"' in out


def test_no_command_shows_the_help(glowtrace):
    code, out, err = glowtrace()
    assert (code, err) == (0, "")
    assert "Usage: glowtrace" in out


def test_version(glowtrace):
    code, out, _ = glowtrace("--version")
    assert code == 0
    assert out.startswith("glowtrace 0.")


# Benches


def test_bench_list_has_ready_made_and_saved_ones(glowtrace):
    with open_store() as store:
        store.benches.save("mine", ready_made(TUBE))
    code, out, _ = glowtrace("bench", "list", "--json")
    assert code == 0
    listed = {bench["name"]: bench["kind"] for bench in json.loads(out)["benches"]}
    assert listed == dict.fromkeys(ready_made_names(), "ready-made") | {"mine": "saved"}
    _, out, _ = glowtrace("bench", "list")
    assert all(name in out for name in listed)


def test_bench_list_makes_no_database(glowtrace, tmp_path):
    assert glowtrace("bench", "list")[0] == 0
    assert not (tmp_path / "data").exists()


def test_bench_new_makes_a_file_that_reads_back(glowtrace, tmp_path):
    file = tmp_path / "upper-shelf.toml"
    assert glowtrace("bench", "new", file, "--from", "fine-beam bulb")[0] == 0
    assert load_bench(file) == own_copy(ready_made("fine-beam bulb"), "upper shelf")
    assert "\n# " in file.read_text("utf-8")  # each number is explained
    assert glowtrace("bench", "check", file)[0] == 0


def test_bench_new_overwrites_only_when_told(glowtrace, tmp_path):
    file = tmp_path / "my.toml"
    file.write_text("mine")
    assert "--overwrite" in refused(glowtrace("bench", "new", file))
    assert file.read_text() == "mine"
    assert glowtrace("bench", "new", file, "--overwrite")[0] == 0
    assert load_bench(file) == own_copy(ready_made(TUBE), "my")


def test_bench_check_names_every_wrong_field(glowtrace, tmp_path):
    file = tmp_path / "my.toml"
    text = bench_to_toml(ready_made(TUBE))
    file.write_text(text.replace('gap = "49 mm"', 'gap = "49"').replace("turns = 343", "turns = 0"))
    message = refused(glowtrace("bench", "check", file))
    assert "plates.gap" in message
    assert "coils.turns" in message


def test_bench_show_tells_what_limits_each_knob(glowtrace):
    code, out, _ = glowtrace("bench", "show", TUBE)
    assert code == 0
    assert "the gun is rated 4.8 kV" in out
    assert "the coil pair is rated 1.9 A" in out
    _, out, _ = glowtrace("bench", "show", TUBE, "--toml")
    assert tomllib.loads(out)["plates"]["gap"] == "49 mm"
    _, out, _ = glowtrace("bench", "show", TUBE, "--json")
    assert json.loads(out)["bench"]["plates"]["gap"] == "49 mm"


def test_unknown_bench_is_told_what_there_is(glowtrace):
    message = refused(glowtrace("bench", "show", "no such tube"))
    assert all(name in message for name in ready_made_names())


@pytest.mark.parametrize("choice", ["", " ", "x" * 5000, "x" * 5000 + ".toml", "a\nb", ".", "/"])
def test_bench_that_can_be_no_name_and_no_file_is_refused(glowtrace, choice):
    refused(glowtrace("bench", "show", choice))


def test_codes_that_steer_a_terminal_are_not_passed_on(glowtrace):
    assert "\x1b" not in refused(glowtrace("bench", "show", "\x1b[2J.toml"))


def test_missing_bench_file_is_one_clear_block(glowtrace):
    assert "nowhere.toml" in refused(glowtrace("trace", "nowhere.toml"))


# Tracing


def test_trace_of_a_saved_bench_and_of_a_file_is_that_of_the_bench(glowtrace, tmp_path):
    with open_store() as store:
        store.benches.save("mine", ready_made(TUBE))
    file = tmp_path / "mine.toml"
    save_bench(ready_made(TUBE), file)
    outputs = {
        glowtrace("trace", bench, "--accelerating", "3 kV", *FEW, "--json")[1]
        for bench in (TUBE, "mine", file)
    }
    assert len(outputs) == 1


def test_trace_json_is_one_object_and_nothing_else(glowtrace):
    code, out, err = glowtrace(
        *("trace", TUBE, "--accelerating", "3 kV", "--plate", "1.2 kV", "--coil", "250 mA"),
        *("--reverse-coils", "--plate-tie", "lower at anode", "--without", "ripple"),
        *("--seed", 7, "--model", "bench", *FEW, "--json"),
    )
    assert (code, err) == (0, "")
    whole = json.loads(out)
    assert whole["bench"]["name"] == TUBE
    assert whole["model"] == "bench"
    assert whole["seed"] == 7
    assert sum(whole["ends"].values()) == whole["electrons"] == 300
    assert whole["settings"] == {
        "accelerating_voltage_v": 3000.0,
        "plate_voltage_v": 1200.0,
        "plate_tie": "lower at anode",
        "plate_source": "own supply",
        "plate_reversed": False,
        "coil_current_a": 0.25,
        "coil_reversed": True,
        "heater_on": True,
        "thermal_spread": True,
        "ripple": False,
        "divergence": True,
    }


def test_ideal_trace_lies_on_the_textbook(glowtrace):
    # The mean of n electrons scatters by width / sqrt(n) about the closed form of one.
    _, out, _ = glowtrace(
        *("trace", TUBE, "--accelerating", "3 kV", "--plate", "1 kV", "--model", "ideal"),
        *("--electrons", 20_000, "--json"),
    )
    rows = [row for row in json.loads(out)["trace"] if row["textbook_v_m"] is not None]
    assert len(rows) > 100
    away = [row["v_m"] - row["textbook_v_m"] for row in rows]
    scatter = [row["width_m"] / math.sqrt(row["weight"]) for row in rows]
    in_scatters = [one / expected for one, expected in zip(away, scatter, strict=True)]
    assert statistics.pstdev(in_scatters, 0.0) < 1.5
    assert abs(statistics.mean(away)) < 0.02e-3


def test_plates_lift_the_beam_and_reversed_they_lower_it(glowtrace):
    ends = []
    for reverse in ((), ("--reverse-plates",)):
        _, out, _ = glowtrace(
            "trace", TUBE, "--accelerating", "3 kV", "--plate", "1 kV", *reverse, *FEW, "--json"
        )
        ends.append(json.loads(out)["trace"][-1]["v_m"])
    assert ends[0] > 5e-3
    assert ends[1] == pytest.approx(-ends[0], rel=0.05)


def test_trace_writes_picture_and_table(glowtrace, tmp_path):
    png, svg, table = tmp_path / "a.png", tmp_path / "a.svg", tmp_path / "a.csv"
    code, out, err = glowtrace("trace", TUBE, *FEW, "--picture", png, "--table", table)
    assert (code, err) == (0, "")
    assert f"written: {png}" in out
    assert png.read_bytes()[:4] == b"\x89PNG"
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert float(rows[-1]["u_mm"]) > float(rows[0]["u_mm"])
    glowtrace("trace", TUBE, *FEW, "--picture", svg, "--print-look")
    assert svg.read_text().startswith("<?xml")


def test_trace_without_knobs_shows_the_benchs_demonstration(glowtrace):
    for bench in ready_made_names():
        code, out, _ = glowtrace("trace", bench, *FEW)
        assert code == 0
        assert "accelerating" in out
        assert "300 electrons" in out


def test_heater_off_gives_no_light_and_that_is_a_result(glowtrace, tmp_path):
    picture = tmp_path / "dark.png"
    code, out, _ = glowtrace("trace", TUBE, "--heater-off", *FEW, "--picture", picture, "--json")
    assert code == 0
    assert json.loads(out)["trace"] == []
    assert picture.exists()


def test_settings_file_is_the_start_and_options_change_it(glowtrace, tmp_path):
    file = tmp_path / "set.toml"
    file.write_text(
        'format = "glowtrace-settings 1"\naccelerating_voltage = "4 kV"\ncoil_reversed = true\n'
        'coil_current = "100 mA"\n'
    )
    _, out, _ = glowtrace(
        "trace", TUBE, "--settings", file, "--coil", "50 mA", "--keep-coils", *FEW, "--json"
    )
    settings = json.loads(out)["settings"]
    assert settings["accelerating_voltage_v"] == 4000.0
    assert settings["coil_current_a"] == 0.05
    assert settings["coil_reversed"] is False


# Wrong input


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (("--accelerating", "9 kV"), "the gun is rated 4.8 kV"),
        (("--accelerating", "3 kV", "--coil", "2.2 A"), "the coil pair is rated 1.9 A"),
        (("--accelerating", "3 kV", "--plate", "6 kV"), "the plates are rated 4.8 kV"),
        (("--accelerating", "3 kV", "--plate", "1200"), "the unit is missing"),
        (("--accelerating", "3 kA"), "a voltage"),
        (("--accelerating", "nan V"), "--accelerating"),
        (("--accelerating=-3 kV",), "--accelerating"),
        (("--accelerating", "1e300 V"), "60 kV"),
        (("--coil_current", "1e300 A"), "100 A"),
        (("--plate-tie", "both"), "'lower at anode'"),
        (("--without", "gravity"), "'thermal-spread', 'ripple', 'divergence'"),
        (("--model", "best"), "'bench', 'ideal'"),
        (("--electrons", "0"), "--electrons"),
        (("--electrons", "many"), "--electrons"),
        (("--seed", "-1"), "--seed"),
        (("--picture", "a.bmp"), ".png, .svg or .pdf"),
        (("--table", "a.xls"), ".csv or .json"),
        (("--picture", "/nowhere/at/all/a.png"), "/nowhere/at/all/a.png"),
        (("--settings", "nowhere.toml"), "nowhere.toml"),
        (("--nonsense",), "--nonsense"),
        (("stray",), "stray"),
    ],
)
def test_wrong_option_is_refused_with_what_to_do(glowtrace, options, expected):
    assert expected in refused(glowtrace("trace", TUBE, *FEW, *options))


def test_several_wrong_values_are_told_together(glowtrace):
    message = refused(glowtrace("trace", TUBE, "--accelerating", "x", "--coil", "y"))
    assert "--accelerating" in message
    assert "--coil" in message


@pytest.mark.parametrize("arguments", [("nonsense",), ("trace",), ("settings", "open")])
def test_wrong_command_is_one_line(glowtrace, arguments):
    assert len(refused(glowtrace(*arguments)).splitlines()) == 1


def test_database_that_cannot_be_opened_is_one_line(glowtrace, tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "glowtrace.sqlite").write_text("no database " * 100)
    assert "no database" in refused(glowtrace("settings", "list"))


def test_warning_is_a_note_on_stderr(glowtrace, monkeypatch):
    import warnings

    def warned(_):
        warnings.warn("the field map could not be kept", GlowtraceWarning, stacklevel=1)
        return ready_made(TUBE)

    monkeypatch.setattr("glowtrace.cli.bench.find_bench", warned)
    monkeypatch.setattr("warnings.filters", [])
    code, _, err = glowtrace("bench", "check", TUBE)
    assert code == 0
    assert err == "glowtrace: note: the field map could not be kept\n"


# Saved settings


def save(glowtrace, name="null", *options):
    knobs = ("--accelerating", "3 kV", "--plate", "1 kV", "--coil", "140 mA", *options)
    return glowtrace("settings", "save", name, TUBE, *knobs)


def test_settings_are_saved_listed_and_opened(glowtrace, tmp_path):
    assert save(glowtrace)[0] == 0
    _, out, _ = glowtrace("settings", "list")
    assert "null" in out
    assert "accelerating 3 kV" in " ".join(out.split())
    _, out, _ = glowtrace("settings", "list", "--json")
    (one,) = json.loads(out)["settings"]
    assert (one["name"], one["versions"]) == ("null", 1)
    assert one["created"].endswith("+00:00")

    _, out, _ = glowtrace("settings", "open", "null")
    assert tomllib.loads(out)["coil_current"] == "140 mA"
    files = tmp_path / "set.toml", tmp_path / "bench.toml"
    assert glowtrace("settings", "open", "null", "--to", files[0], "--bench-to", files[1])[0] == 0
    assert load_settings(files[0]).coil_current == 0.14
    assert load_bench(files[1]) == ready_made(TUBE)


def test_saving_over_a_name_needs_overwrite_and_keeps_the_old(glowtrace):
    save(glowtrace)
    assert "taken" in refused(save(glowtrace))
    assert save(glowtrace, "null", "--overwrite")[0] == 0
    with open_store() as store:
        assert store.settings.open("null").versions == 2


def test_settings_beyond_a_rating_are_not_saved(glowtrace):
    refused(glowtrace("settings", "save", "hot", TUBE, "--accelerating", "3 kV", "--coil", "9 A"))
    with open_store() as store:
        assert store.settings.list() == ()


def test_opening_to_a_file_overwrites_only_when_told(glowtrace, tmp_path):
    save(glowtrace)
    file = tmp_path / "set.toml"
    file.write_text("mine")
    refused(glowtrace("settings", "open", "null", "--to", file))
    assert file.read_text() == "mine"
    assert glowtrace("settings", "open", "null", "--to", file, "--overwrite")[0] == 0
    assert load_settings(file).coil_current == 0.14


def test_rename_and_delete(glowtrace):
    save(glowtrace)
    assert glowtrace("settings", "rename", "null", "zero")[0] == 0
    assert '"null"' in refused(glowtrace("settings", "open", "null"))
    assert glowtrace("settings", "delete", "zero", "--yes")[0] == 0
    _, out, _ = glowtrace("settings", "list")
    assert "Nothing is saved yet" in out


@pytest.mark.parametrize(("answer", "left"), [("y\n", 0), ("n\n", 1), ("", 1)])
def test_delete_asks_first(glowtrace, monkeypatch, answer, left):
    save(glowtrace)
    monkeypatch.setattr("sys.stdin", io.StringIO(answer))
    glowtrace("settings", "delete", "null")
    with open_store() as store:
        assert len(store.settings.list()) == left


def test_what_a_newer_version_saved_does_not_hide_the_rest(glowtrace):
    save(glowtrace, "known")
    with open_store() as store:
        known = store.settings.open("known")
        later = known.text.replace("settings 1", "settings 9")
        texts = {"settings_text": later, "bench_text": known.bench_text}
        store.settings._save("from the future", texts, False)
    code, out, _ = glowtrace("settings", "list")
    assert code == 0
    assert "known" in out
    assert "cannot be read by this version" in " ".join(out.split())


# The page


def test_page_passes_its_options_on(glowtrace, monkeypatch):
    seen = []
    monkeypatch.setattr("glowtrace.web.page.open_page", lambda *a, **k: seen.append((a, k)))
    code, _, _ = glowtrace("page", "--serve", "--port", 8123, "--bench", TUBE)
    assert code == 0
    assert seen == [((TUBE,), {"serve": True, "host": "127.0.0.1", "port": 8123})]


def test_trace_says_how_accurate_the_fields_are(capsys):
    arguments = ["trace", "deflection tube", "--accelerating", "3 kV", "--plate", "1 kV"]
    assert run(arguments) == 0
    assert "Computed fields: electric to 0.0" in capsys.readouterr().out
    assert run([*arguments, "--json"]) == 0
    accuracy = json.loads(capsys.readouterr().out)["field_accuracy"]
    assert 0.0 < accuracy["electric_typical"] < 5e-4
    assert 0.0 < accuracy["flux_typical"] < 1e-5
    assert run([*arguments, "--model", "ideal"]) == 0
    assert "Computed fields" not in capsys.readouterr().out
