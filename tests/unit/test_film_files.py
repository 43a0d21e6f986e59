"""Films as telephones and people make them: turned, at a changing rate, of high range, broken.

The layout of the boxes that are patched here is that of ISO/IEC 14496-12; the signals of high range
are those of ITU-R BT.2100 and BT.2408.
"""

from __future__ import annotations

import math
import struct
import threading
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from film_rendering import RenderedFilm, write_film
from glowtrace.errors import MissingPackageError
from glowtrace.films.ahead import ahead
from glowtrace.films.film_file import FilmError, film_frames, open_film
from glowtrace.films.film_reading import PIECE, Cut, read_film
from glowtrace.films.ordinary_range import hlg_luminance, ordinary_light, pq_luminance
from glowtrace.watching import GivenUpError

av = pytest.importorskip("av")

FILM = RenderedFilm(size=(320, 180), count=10, shake=0.5)


@pytest.fixture(scope="module")
def film_path(tmp_path_factory):
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    write_film(path, FILM)
    return path


def write_sound(path: Path) -> None:
    with av.open(str(path), "w") as file:
        stream = file.add_stream("aac", rate=48000)
        stream.layout = "mono"
        frame = av.AudioFrame.from_ndarray(
            np.zeros((1, 1024), np.float32), format="fltp", layout="mono"
        )
        frame.sample_rate, frame.pts = 48000, 0
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


def test_a_film_gives_its_frames_in_turn(film_path):
    film = open_film(film_path)
    frames = list(film_frames(film))
    assert film.size == (320, 180)
    assert film.rate == 25
    assert film.seconds == pytest.approx(0.4)
    assert [round(frame.seconds, 3) for frame in frames] == [n / 25 for n in range(10)]
    assert frames[0].planes[0].shape == (180, 320)
    assert frames[0].planes[1].shape == (90, 160)
    difference = frames[3].planes[0].astype(float) - (16 + 219 / 255 * FILM.luma(3))
    assert np.abs(difference).mean() < 3


def test_a_cut_begins_and_ends_where_it_is_told(film_path):
    film = open_film(film_path)
    times = [frame.seconds for frame in film_frames(film, 0.1, 0.28)]
    assert times == pytest.approx([0.12, 0.16, 0.20, 0.24])
    ticks = [frame.ticks for frame in film_frames(film)]
    assert [frame.ticks for frame in film_frames(film, after=ticks[6])] == ticks[7:]


@pytest.mark.parametrize(("turns", "matrix"), [(1, (0, -1, 1, 0)), (2, (-1, 0, 0, -1))])
def test_a_turn_told_beside_the_picture_is_done(film_path, tmp_path, turns, matrix):
    """The matrix of the track header maps stored places (p, q) to (a p + c q, b p + d q)."""
    content = bytearray(film_path.read_bytes())
    at = content.index(b"tkhd") + 4 + 40
    a, b, c, d = (value * 65536 for value in matrix)
    struct.pack_into(">9i", content, at, a, b, 0, c, d, 0, 0, 0, 1 << 30)
    path = tmp_path / "turned.mp4"
    path.write_bytes(content)
    film = open_film(path)
    plain = next(film_frames(open_film(film_path))).planes[0]
    turned = next(film_frames(film)).planes[0]
    assert film.size == ((180, 320) if turns == 1 else (320, 180))
    assert np.array_equal(turned, np.rot90(plain, turns))


def test_frames_keep_their_times_at_a_changing_rate(tmp_path):
    path = tmp_path / "changing.mp4"
    times = [0, 33, 70, 150, 170, 260]
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 1000)
        for number, ticks in enumerate(times):
            frame = av.VideoFrame.from_ndarray(FILM.frame(number), format="rgb24")
            frame.pts, frame.time_base = ticks, Fraction(1, 1000)
            file.mux(stream.encode(frame))
        file.mux(stream.encode())
    seen = [1000 * frame.seconds for frame in film_frames(open_film(path))]
    assert seen == pytest.approx(times, abs=0.1)


@pytest.mark.parametrize(("curve", "number"), [("PQ", 16), ("HLG", 18)])
def test_a_film_of_high_range_becomes_an_ordinary_one(tmp_path, curve, number):
    path = tmp_path / "high.mp4"
    grey = np.full((180 * 3 // 2, 320), 512, np.uint16)
    paper = {"PQ": 0.58, "HLG": 0.75}[curve]  # of 203 cd/m2, ITU-R BT.2408
    grey[:180] = round(64 + 876 * paper)
    with av.open(str(path), "w") as file:
        # With frames that look ahead, so short a film is now and then not written at all.
        options = {"x265-params": "log-level=none:bframes=0"}
        stream = file.add_stream("libx265", rate=25, options=options)
        stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p10le"
        context = stream.codec_context
        context.color_trc, context.color_primaries, context.colorspace = number, 9, 9
        for number in range(2):
            frame = av.VideoFrame.from_ndarray(grey, format="yuv420p10le")
            frame.pts, frame.time_base = number, Fraction(1, 25)
            file.mux(stream.encode(frame))
        file.mux(stream.encode())
    film = open_film(path)
    assert film.high_range == curve
    luma, blue, red = next(film_frames(film)).planes
    wanted = 16 + 219 * 0.75 ** (1 / 2.4)
    assert luma.mean() == pytest.approx(wanted, abs=3)
    assert blue.mean() == pytest.approx(128, abs=1)
    assert red.mean() == pytest.approx(128, abs=1)


def test_the_curves_of_high_range_are_those_of_the_standard():
    """ITU-R BT.2408: 203 cd/m2 at 58 % of PQ and 75 % of HLG; BT.2100: PQ ends at 10 000."""
    assert pq_luminance(np.array([0.58]))[0] == pytest.approx(203, rel=0.02)
    assert hlg_luminance(np.array([0.75]))[0] == pytest.approx(203, rel=0.01)
    assert pq_luminance(np.array([0.0, 1.0])) == pytest.approx([0.0, 10_000.0])
    rising = ordinary_light(np.linspace(0, 1500, 400))
    assert (np.diff(rising) >= -1e-12).all()
    assert rising[-1] == pytest.approx(1.0)


def test_each_file_that_is_no_film_says_why(tmp_path, film_path):
    empty, text, sound, short = (tmp_path / n for n in ("0.mp4", "t.mp4", "s.mp4", "c.mp4"))
    empty.touch()
    text.write_text("no film at all" * 50)
    write_sound(sound)
    short.write_bytes(film_path.read_bytes()[: film_path.stat().st_size // 2])
    for path, says in (
        (empty, "is empty"),
        (text, "cannot be read as a film"),
        (sound, "sound only"),
        (short, "cut short"),
        (tmp_path / "none.mp4", "there is no film"),
    ):
        with pytest.raises(FilmError, match=says):
            open_film(path)


def test_a_film_that_was_read_to_its_end_is_not_called_cut_short(tmp_path):
    path = tmp_path / "film.mp4"
    write_film(path, replace(FILM, rate=5.0))
    points = FILM.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    for _ in range(2):  # the second time nothing is left to be read
        readings = read_film(open_film(path), FILM.grid, points=points, folder=tmp_path / "kept")
        assert (len(readings), readings.notes) == (10, ())


def test_a_film_that_breaks_off_is_read_as_far_as_it_goes(tmp_path):
    path = tmp_path / "film.mp4"
    write_film(path, replace(FILM, rate=5.0))
    content = path.read_bytes()
    # With its index in front, a film can be opened though its end is missing.
    with (
        av.open(str(path)) as source,
        av.open(str(tmp_path / "front.mp4"), "w", options={"movflags": "+faststart"}) as copy,
    ):
        stream = copy.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(source.streams.video[0]):
            if packet.dts is not None:
                packet.stream = stream
                copy.mux(packet)
    content = (tmp_path / "front.mp4").read_bytes()
    (tmp_path / "broken.mp4").write_bytes(content[: int(0.4 * len(content))])
    film = open_film(tmp_path / "broken.mp4")
    points = FILM.camera(0).clicks(
        [(u, v) for u in (0.02, 0.06, 0.1) for v in (-0.02, 0.02)], uncertainty=0.2
    )
    readings = read_film(film, FILM.grid, points=points)
    assert 0 < len(readings) < 10
    assert "breaks off" in readings.notes[0]
    assert (tmp_path / "broken.mp4").stat().st_size == int(0.4 * len(content))


def test_without_the_package_it_says_how_to_get_it(film_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    with pytest.raises(MissingPackageError, match=r"glowtrace\[clips\]"):
        open_film(film_path)


def clicked(film: RenderedFilm):
    places = [(u, v) for u in (0.02, 0.06, 0.1) for v in (-0.02, 0.02)]
    return film.camera(0).clicks(places, uncertainty=0.3)


def test_a_film_is_read_from_its_file(film_path):
    readings = read_film(open_film(film_path), FILM.grid, points=clicked(FILM))
    assert len(readings) == 10
    assert not readings.is_lost.any()
    for number in range(10):
        off = readings.heights[number] - FILM.heights(number, readings.u)
        assert 1e3 * math.sqrt(np.nanmean(off**2)) < 0.2
        screen_map = readings.screen_map(number)
        assert screen_map is not None
        corner = np.array([[0.1, 0.02]])
        assert np.abs(screen_map.pixels(corner) - FILM.camera(number).pixels(corner)).max() < 1.0


def test_a_film_without_the_screen_says_so(film_path):
    other = replace(FILM.grid, u=tuple(0.017 * n for n in range(1, 7)))
    with pytest.raises(FilmError, match=r"grid was not found|click one crossing"):
        read_film(open_film(film_path), other, cut=Cut(0.0, 0.1))
    with pytest.raises(FilmError, match="has no frame from 5 s"):
        read_film(open_film(film_path), FILM.grid, cut=Cut(5.0, 6.0), points=clicked(FILM))


@pytest.mark.slow
def test_work_that_was_stopped_goes_on_and_gives_the_same(tmp_path, monkeypatch):
    path = tmp_path / "film.mp4"
    film = replace(FILM, count=24)
    write_film(path, film)
    monkeypatch.setattr("glowtrace.films.film_reading.PIECE", 7)
    assert PIECE == 100
    whole = read_film(open_film(path), film.grid, points=clicked(film))
    asked = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 16

    folder = tmp_path / "kept"
    with pytest.raises(GivenUpError):
        read_film(open_film(path), film.grid, points=clicked(film), folder=folder, cancelled=stop)
    asked.clear()
    told: list[str] = []
    again = read_film(
        open_film(path),
        film.grid,
        points=clicked(film),
        folder=folder,
        progress=lambda _part, words: told.append(words),
    )
    assert len(told) == 24 - 14
    assert np.array_equal(again.ticks, whole.ticks)
    assert np.allclose(again.heights, whole.heights, atol=1e-7, equal_nan=True)
    assert np.allclose(again.parameters, whole.parameters, atol=1e-9)


def test_an_error_ahead_is_raised_where_the_frames_are_taken():
    def frames():
        yield 1
        raise FilmError("breaks off")

    taken = ahead(frames())
    assert next(taken) == 1
    with pytest.raises(FilmError, match="breaks off"):
        next(taken)


def test_whoever_leaves_early_leaves_no_thread_behind():
    before = threading.active_count()
    taken = ahead(iter(range(1000)))
    assert next(taken) == 0
    taken.close()
    assert threading.active_count() == before
