"""Bench and settings files.

Oracles: the standard library's `tomllib` (TOML 1.0) for what is written; the operating system for
full and read-only places.
"""

from __future__ import annotations

import os
import resource
import tomllib
from contextlib import contextmanager
from pathlib import Path

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.files import (
    bench_from_toml,
    bench_to_toml,
    load_bench,
    load_settings,
    save_bench,
    save_settings,
    settings_from_toml,
    settings_to_toml,
)
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError

TUBE = ready_made("deflection tube")
SETTINGS = Settings(accelerating_voltage=3000.0, plate_voltage=1e3, coil_current=0.14)


def complaint(read, *arguments):
    with pytest.raises(BenchError) as caught:
        read(*arguments)
    (problem,) = caught.value.problems
    return str(problem)


@pytest.mark.parametrize("name", ready_made_names())
def test_benches_survive_saving_and_loading(tmp_path, name):
    bench, path = ready_made(name), tmp_path / "bench.toml"
    save_bench(bench, path)
    assert load_bench(path) == bench
    first = path.read_bytes()
    save_bench(load_bench(path), str(path))
    assert path.read_bytes() == first


def test_settings_survive_saving_and_loading(tmp_path):
    path = tmp_path / "settings.toml"
    save_settings(SETTINGS, path)
    assert load_settings(path) == SETTINGS


def test_a_file_is_plain_toml_in_the_units_of_the_trade():
    written = tomllib.loads(bench_to_toml(TUBE))
    assert written["format"] == "glowtrace-bench 1"
    assert written["plates"] == {
        "length": "76 mm", "width": "47 mm", "gap": "49 mm", "start": "9 mm",
        "height_offset": "0 mm", "tilt_upper": "0 deg", "tilt_lower": "0 deg",
        "max_voltage": "4.8 kV", "terminal_upper": "upper plate", "terminal_lower": "lower plate",
    }  # fmt: skip
    assert written["coils"]["turns"] == 343
    assert written["place"]["date"].isoformat() == "2026-01-01"
    assert tomllib.loads(settings_to_toml(SETTINGS))["coil_current"] == "140 mA"


def test_parts_that_are_absent_are_left_out():
    bare = change(TUBE, {"plates": None, "coils": None, "supplies.plates": None})
    written = tomllib.loads(bench_to_toml(bare))
    assert {"plates", "coils"}.isdisjoint(written)
    assert bench_from_toml(bench_to_toml(bare)) == bare


def test_tables_may_stand_in_any_order():
    head, *tables = bench_to_toml(TUBE).split("\n[")
    assert bench_from_toml("\n[".join([head, *reversed(tables)])) == TUBE


def test_a_byte_order_mark_and_line_ends_of_other_systems_do_no_harm(tmp_path):
    path = tmp_path / "bench.toml"
    text = bench_to_toml(TUBE).replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    # TOML leaves it to the reader what a line end inside a text becomes.
    assert load_bench(path).model_copy(update={"notes": ""}) == change(TUBE, {"notes": ""})


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a = 1\nb = = 2\n", "line 2, column 5"),
        ("a = 1\na = 2\n", "line 2, column 6"),
        ('a = "open\n', "line 1, column 10"),
        ("[gun\n", "line 1, column 5"),
        ('a = """open', "line 1, column 12"),
        ("a = 1\n\n[b]\nc = 2026-13-45\n", "line 4, column 9"),
        ("a = " + "[" * 5000, "line 1, column 104"),
    ],
)
def test_malformed_toml_is_told_with_line_and_column(text, place):
    found = complaint(bench_from_toml, text)
    assert found.startswith(f"{place}: this is no TOML (")
    assert found.endswith("); correct the file at this place")
    assert found.count("line") == 1 or "newline" in found


@pytest.mark.parametrize(
    ("mark", "line"),
    [
        ("", 'nothing was given; start the file with format = "glowtrace-bench 1"'),
        (
            'format = "glowtrace-bench 2"',
            '"glowtrace-bench 2" is not allowed; '
            'this version of Glowtrace reads "glowtrace-bench 1": update Glowtrace',
        ),
        (
            'format = "glowtrace-settings 1"',
            '"glowtrace-settings 1" is not allowed; '
            'this is a settings file; give a bench file (format = "glowtrace-bench 1")',
        ),
        ("format = 1", '1 is not allowed; give format = "glowtrace-bench 1"'),
        ('format = "x"', '"x" is not allowed; give format = "glowtrace-bench 1"'),
    ],
)
def test_a_file_of_another_format_is_told_so(mark, line):
    text = bench_to_toml(TUBE).replace('format = "glowtrace-bench 1"', mark)
    assert complaint(bench_from_toml, text) == f"format: {line}"


def test_a_bench_file_given_for_settings_is_told_so():
    assert complaint(settings_from_toml, bench_to_toml(TUBE)) == (
        'format: "glowtrace-bench 1" is not allowed; '
        'this is a bench file; give a settings file (format = "glowtrace-settings 1")'
    )


def test_bare_numbers_are_refused_in_files_where_a_unit_is_needed():
    text = settings_to_toml(SETTINGS).replace('"3 kV"', "3000")
    assert complaint(settings_from_toml, text) == (
        "accelerating_voltage: the bare number 3000 is not allowed; "
        'give a voltage, for example "3.2 kV": choose between 0 V and 60 kV'
    )


def test_a_missing_file(tmp_path):
    with pytest.raises(BenchError) as caught:
        load_bench(tmp_path / "none.toml")
    assert str(caught.value) == (
        f'bench file "{tmp_path / "none.toml"}":\n'
        "  file: this file does not exist; give the path of an existing bench file"
    )


def test_files_that_cannot_be_read(tmp_path):
    assert complaint(load_bench, tmp_path) == (
        "file: this file cannot be read (Is a directory); give a file that can be read"
    )
    assert "embedded null byte" in complaint(load_bench, "a\0b")


def test_a_file_that_is_no_text(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_bytes(b'format = "glowtrace-bench 1"\nname = "\xff"\n')
    assert complaint(load_bench, path) == ("line 2: this text is not UTF-8; save the file as UTF-8")


def test_a_file_that_is_far_too_large(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_bytes(b"#" * 1_000_001)
    assert complaint(load_bench, path) == (
        "file: this file is too large; a bench file has at most 1000000 bytes: is it the right one?"
    )


@contextmanager
def files_of_at_most(size):
    """Let the operating system refuse to write more than so many bytes, as a full disk does."""
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)


def test_a_write_that_fails_half_way_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "bench.toml"
    save_bench(TUBE, path)
    old = path.read_bytes()
    with files_of_at_most(500), pytest.raises(BenchError) as caught:
        save_bench(change(TUBE, {"name": "other"}), path)
    assert str(caught.value) == (
        f'saving bench file "{path}":\n'
        "  file: this place cannot be written to (File too large); nothing was "
        "changed there: make room, or save to a folder that you may write to"
    )
    assert path.read_bytes() == old
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    "place", ["/proc/bench.toml", "/dev/null/bench.toml", "no/such/bench.toml"]
)
def test_places_that_cannot_be_written(place):
    assert complaint(save_bench, TUBE, place).startswith("file: this place cannot be written to (")


def test_a_folder_is_not_replaced_by_a_file(tmp_path):
    folder = tmp_path / "bench.toml"
    folder.mkdir()
    assert "Is a directory" in complaint(save_bench, TUBE, folder)
    assert list(tmp_path.iterdir()) == [folder]


def test_saving_through_a_link_and_over_a_private_file_keeps_both_so(tmp_path):
    target, link = tmp_path / "real.toml", tmp_path / "link.toml"
    save_settings(SETTINGS, target)
    target.chmod(0o600)
    link.symlink_to(target)
    save_settings(change(SETTINGS, {"coil_current": "1 A"}), link)
    assert link.is_symlink()
    assert load_settings(target).coil_current == 1.0
    assert target.stat().st_mode & 0o777 == 0o600


def test_a_new_file_follows_the_user_mask(tmp_path):
    old = os.umask(0o027)
    try:
        save_settings(SETTINGS, tmp_path / "settings.toml")
    finally:
        os.umask(old)
    assert (tmp_path / "settings.toml").stat().st_mode & 0o777 == 0o640


def test_names_as_long_as_the_file_system_allows(tmp_path):
    path = Path(tmp_path / ("b" * 250 + ".toml"))
    save_settings(SETTINGS, path)
    assert load_settings(path) == SETTINGS
