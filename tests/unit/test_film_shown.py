"""What is laid over a film: nothing that was neither computed nor read, and where it comes from.

No outside source but the closed geometry of the rendered film and the bench's own band, which has
its references in `tests/reference/test_bands.py`.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from film_rendering import RenderedFilm, write_film
from glowtrace.bench.checking import change
from glowtrace.bench.learning import learn
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ratings import settings_record
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError
from glowtrace.films.film_file import FilmError, film_frames, open_film
from glowtrace.films.film_reading import Cut, FilmReadings, find_screen, read_film, read_frame
from glowtrace.films.knob_estimate import NOTHING, Estimate
from glowtrace.films.knob_times import KnobTimes
from glowtrace.report.films.description import FilmDescription, Moment
from glowtrace.report.films.description_file import (
    description_to_toml,
    load_description,
    require_sound,
)
from glowtrace.report.films.film_table import table_rows
from glowtrace.report.films.filmed_shots import FilmedShot, shots_from_json, with_shots
from glowtrace.report.films.making import expected_words
from glowtrace.report.films.overlay import COMPUTED, FilmOverlay
from glowtrace.web.film.film_shelf import FilmShelf

pytest.importorskip("av")

FILM = RenderedFilm(size=(640, 360), count=6, shake=0.5)
BASE = Settings(accelerating_voltage=3000.0, coil_reversed=True)
ALL = ("computed", "band", "textbook", "read", "difference", "numbers", "forces")


@pytest.fixture(scope="module")
def readings(tmp_path_factory) -> FilmReadings:
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    write_film(path, FILM)
    points = FILM.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    return read_film(open_film(path), FILM.grid, points=points)


def described(**more: object) -> FilmDescription:
    return FilmDescription(film="lesson.mp4", bench="deflection tube", settings=BASE, **more)


def drawn(overlay: FilmOverlay, colour: str) -> np.ndarray:
    """Pixels of a colour, strong or faint, below the words at the top."""
    pixels = overlay.draw(3)[90:].astype(int)
    wanted = [int(colour[n : n + 2], 16) for n in (1, 3, 5)]
    alike = np.abs(pixels[..., :3] - wanted).max(axis=2) < 12
    return alike & (pixels[..., 3] > 40)


def test_one_frame_alone_is_read_as_it_is_in_the_whole_film(readings) -> None:
    film = readings.film
    points = FILM.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    found = find_screen(film, FILM.grid, Cut(), points)
    frame = next(film_frames(film, 0.16))
    alone = read_frame(film, FILM.grid, found, frame)
    assert (len(alone), alone.seconds[0]) == (1, readings.seconds[4])
    off = alone.heights[0] - readings.heights[4]
    assert np.nanmax(np.abs(off)) < 0.05e-3
    assert np.isfinite(off).mean() > 0.9


def test_the_band_of_doubt_lies_where_the_bench_has_it(readings) -> None:
    tube = prepare(change(ready_made("deflection tube"), {"plates.gap": "49(4) mm"}))
    settings = BASE.changed(plate_voltage=700.0)
    belief = learn(tube).after
    overlay = FilmOverlay(tube, readings, KnobTimes(settings), ("band",), belief=belief)
    shown = drawn(overlay, COMPUTED)
    height = predict(tube, settings, belief=belief).height(tube.plane.x_of(0.09))
    screen_map = readings.screen_map(3)
    assert screen_map is not None
    for off, is_in in ((0.0, True), (1.6, True), (-1.6, True), (2.6, False), (-2.6, False)):
        place = [[0.09, height.value + off * height.uncertainty]]
        column, row = np.rint(screen_map.pixels(place)[0]).astype(int)
        assert shown[row - 90, column] == is_in
    unknown = FilmOverlay(tube, readings, KnobTimes(settings), ("band",))
    assert not drawn(unknown, COMPUTED).any()


def test_without_a_beam_or_a_told_knob_no_line_is_computed(deflection_tube, readings) -> None:
    dark = FilmOverlay(
        deflection_tube, readings, KnobTimes(BASE.changed(accelerating_voltage=0.0)), ALL
    )
    untold = FilmOverlay(
        deflection_tube, readings, KnobTimes(BASE), ALL, (), [NOTHING] * 6, "plate_voltage"
    )
    for overlay in (dark, untold):
        assert not drawn(overlay, COMPUTED).any()
        assert all(row[4] is None and row[5] is None for row in table_rows(overlay, 3))
    assert {row[7] for row in table_rows(untold, 3)} == {None}
    told = replace(untold, estimates=[Estimate(500.0, 20.0)] * 6)
    assert drawn(told, COMPUTED).any()
    assert {row[7] for row in table_rows(told, 3)} == {500.0}


def test_a_description_reads_back_from_its_text(tmp_path) -> None:
    whole = described(
        start=0.1,
        end=2.5,
        points=("20 mm, -10 mm = 81.25, 143.5",),
        between="held",
        moment=(Moment(time=0.2, plate_voltage=-300.0), Moment(time=1.0, plate_voltage=0.0)),
        shows=("computed", "band"),
        stills=(0.4,),
        burnt_in=True,
    )
    shots = (FilmedShot(4, "Turn it up.", "It bends. It stays.", BASE.changed(coil_current=0.1)),)
    whole = with_shots(whole, shots, {4: 1.5})
    path = tmp_path / "film.toml"
    path.write_text(description_to_toml(whole), encoding="utf-8")
    again = load_description(path)
    assert again == whole.model_copy(update={"film": str(tmp_path / "lesson.mp4")})


def test_shots_give_knobs_captions_and_chapters() -> None:
    shots = (
        FilmedShot(1, "Heater on.", "", BASE.changed(accelerating_voltage=0.0, heater_on=False)),
        FilmedShot(
            2,
            "Coil current to 68 mA.",
            "It bends down. So it does.",
            BASE.changed(coil_current=0.068),
        ),
        FilmedShot(
            3,
            "Turn it round.",
            "Now it bends up.",
            BASE.changed(coil_current=0.068, coil_reversed=False),
        ),
    )
    text = json.dumps(
        {
            "format": "glowtrace-shots 1",
            "shots": [
                {
                    "number": s.number,
                    "do": s.do,
                    "script": s.script,
                    "settings": settings_record(s.settings),
                }
                for s in shots
            ],
        }
    )
    assert shots_from_json(text, "shots") == shots
    film = with_shots(described(end=9.0), shots, {3: 6.0, 1: 0.0, 2: 4.0})
    assert [film.knobs.at(time) for time in (1.0, 5.0, 7.0)] == [
        BASE.changed(accelerating_voltage=0.0),
        shots[1].settings,
        shots[2].settings,
    ]
    assert [(each.time, each.title) for each in film.chapter] == [
        (0.0, "Heater on."),
        (4.0, "Coil current to 68 mA."),
        (6.0, "Turn it round."),
    ]
    # 130 words a minute: six words take 2.8 s, told as 3; the next shot cuts them off.
    assert [(each.start, each.end, each.text) for each in film.caption] == [
        (4.0, 5.5, "It bends down."),
        (5.5, 6.0, "So it does."),
        (6.0, 8.0, "Now it bends up."),
    ]
    require_sound(film)
    answer = {"goal": {"title": "Null"}, "settings": settings_record(BASE)}
    plan = {"format": "glowtrace-plan 1", "answers": [answer]}
    assert shots_from_json(json.dumps(plan), "plan") == (FilmedShot(1, "Null", "", BASE),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "this is no shot list"),
        ('{"format": "glowtrace-light 1"}', '"glowtrace-light 1"'),
        ('{"format": "glowtrace-shots 1"}', "this is no shot list"),
    ],
)
def test_what_is_no_shot_list_is_refused(text: str, says: str) -> None:
    with pytest.raises(BenchError, match=says):
        shots_from_json(text, "shots")


def test_shots_that_do_not_fit_are_refused() -> None:
    tied = FilmedShot(1, "", "", BASE.changed(plate_tie="lower at anode"))
    for times, says in (({1: 0.0}, "film it by itself"), ({2: 0.0}, "there are shots 1 to 1")):
        with pytest.raises(BenchError, match=says):
            with_shots(described(), [tied], times)


def test_a_knob_is_estimated_only_while_the_others_rest() -> None:
    turned = (Moment(time=1.0, coil_current=0.0), Moment(time=3.0, coil_current=0.2))
    with pytest.raises(BenchError, match="only while no other knob is turned"):
        require_sound(described(estimate="plate_voltage", moment=turned))
    require_sound(described(estimate="plate_voltage", moment=turned, start=3.0))
    require_sound(described(estimate="plate_voltage", moment=turned, end=1.0))
    assert KnobTimes(BASE).is_steady(0.0, math.inf, but="")


@pytest.mark.parametrize(
    ("value", "half", "says"),
    [
        (1012.34, 3.04, "1.0123 kV ± 3.0 V"),
        (-812.7, 31.0, "−813 V ± 31 V"),
        (0.02, 3.2, "0 V ± 3.2 V"),
    ],
)
def test_an_estimate_has_the_figures_of_its_interval(value: float, half: float, says: str) -> None:
    """Two figures of the uncertainty, and the value to its last place (JCGM 100, 7.2.6)."""
    assert Estimate(value, half).words("V") == f"{says} (95 %, estimate)"


def test_an_hour_of_film_is_told_to_take_long(readings) -> None:
    film = replace(readings.film, size=(1920, 1080))
    assert "90000 frames" in expected_words(film, 3600.0)
    assert "Cut out what you need" in expected_words(film, 3600.0)
    assert expected_words(film, 6.0).startswith("150 frames: under a minute")


def test_the_shelf_gives_only_films_that_it_has(tmp_path, monkeypatch, readings) -> None:
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path))
    shelf = FilmShelf()
    with pytest.raises(FilmError, match="not kept any more"):
        shelf.folder("../films")
    with pytest.raises(FilmError, match="no whole path"):
        shelf.open_path(Path("lesson.mp4"), described())
    with pytest.raises(FilmError, match="there is no film"):
        shelf.open_path(tmp_path / "none.mp4", described())
    key = shelf.open_path(readings.film.path, described())
    assert [(each.key, each.name) for each in shelf.films()] == [(key, "film.mp4")]
    shelf.remove(key)
    assert list(shelf.films()) == []
    assert readings.film.path.exists()
