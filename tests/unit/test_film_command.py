"""Annotated films from their description, as the command makes them."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest

from film_rendering import RenderedFilm, write_film
from glowtrace.cli import run
from glowtrace.films.film_file import open_film
from glowtrace.films.film_reading import read_film
from glowtrace.report.films import annotated, making
from glowtrace.watching import UNWATCHED, GivenUpError, Watch

av = pytest.importorskip("av")

DOCUMENT = Path(__file__).parents[2] / "docs" / "film.md"
FILM = RenderedFilm(size=(480, 270), count=18, swing=0.02, seconds=3.0, shake=0.6)


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(making, "work_folder", lambda: tmp_path / "work")


def example() -> str:
    (text,) = re.findall(r"```toml\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), re.S)
    return text


def described(folder: Path, text: str, film: RenderedFilm = FILM) -> Path:
    """Write the film with sound and a description with clicks."""
    plain = folder / "plain.mp4"
    write_film(plain, film)
    with av.open(str(plain)) as source, av.open(str(folder / "lesson.mp4"), "w") as copy:
        video = copy.add_stream_from_template(source.streams.video[0])
        sound = copy.add_stream("aac", rate=48000)
        sound.layout = "mono"
        for packet in source.demux(video=0):
            if packet.size:
                packet.stream = video
                copy.mux(packet)
        wave = np.sin(np.arange(48000 * film.count // 25) / 20).astype(np.float32)
        for n in range(0, len(wave) - 1024, 1024):
            frame = av.AudioFrame.from_ndarray(wave[None, n : n + 1024], "fltp", "mono")
            frame.sample_rate, frame.pts = 48000, n
            copy.mux(sound.encode(frame))
        copy.mux(sound.encode(None))
    clicks = film.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    points = [f"{1e3 * p.u:g} mm, {1e3 * p.v:g} mm = {p.column:.1f}, {p.row:.1f}" for p in clicks]
    path = folder / "lesson.toml"
    path.write_text(text.replace("\nshows", f"\npoints = {json.dumps(points)}\nshows", 1))
    return path


@pytest.mark.thorough
@pytest.mark.slow
def test_the_example_of_the_document_gives_an_annotated_film(tmp_path, capsys):
    path = described(tmp_path, example())
    taken = (tmp_path / "lesson.mp4").read_bytes()
    out, table = tmp_path / "annotated.mp4", tmp_path / "line.csv"
    assert run(["film", str(path), "--out", str(out), "--table", str(table), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["frames"], told["size"]) == (15, [480, 270])
    assert told["frames_with_lost_screen"] == 0
    assert [Path(each).name for each in told["written"]] == [
        "annotated.mp4",
        "annotated-0.40s.png",
        "line.csv",
    ]
    assert (tmp_path / "lesson.mp4").read_bytes() == taken
    with av.open(str(out)) as file:
        (video,), (words,) = file.streams.video, file.streams.subtitles
        assert (video.width, video.height, video.average_rate) == (480, 270, 25)
        assert file.chapters()[0]["metadata"]["title"] == "Turning up"
        assert "invented" in file.metadata["title"]
        assert words.codec_context.name == "mov_text"
        times = [frame.time for frame in file.decode(video)]
    assert len(times) == 15 + 25
    assert np.diff(times) == pytest.approx(0.04, abs=1e-6)
    with av.open(str(out)) as file:
        heard = np.hstack([frame.to_ndarray() for frame in file.decode(audio=0)])
    assert np.abs(heard).max() > 0.5
    rows = list(csv.DictReader(table.open()))
    assert {row["seen"] for row in rows} == {"yes"}
    read = np.array([[float(row[n]) for n in ("time_s", "u_mm", "read_mm")] for row in rows])
    true = [1e3 * FILM.heights(round(25 * t), np.array(u / 1e3)) for t, u, _ in read]
    assert np.sqrt(np.mean((read[:, 2] - true) ** 2)) < 0.2


def test_the_lines_lie_where_they_are_said_to_lie(tmp_path):
    """White points on the line that was drawn; nothing on the screen's dark part."""
    text = re.sub(r"shows = .*", 'shows = ["read"]', example()).replace("burnt_in = true", "")
    text = text[: text.index("[[caption]]")]
    path = described(tmp_path, text, FILM)
    out = tmp_path / "annotated.mp4"
    assert run(["film", str(path), "--out", str(out), "--preview", "0.2", "--json"]) == 0
    with av.open(str(out)) as file:
        frames = [frame.to_ndarray(format="rgb24").astype(int) for frame in file.decode(video=0)]
    assert len(frames) == 5
    at = FILM.camera(4).pixels([[u, float(FILM.heights(4, np.array(u)))] for u in (0.03, 0.09)])
    changed = np.abs(frames[4] - FILM.frame(4).astype(int)).max(axis=2)
    for column, row in np.rint(at).astype(int):
        assert changed[row - 2 : row + 3, column - 5 : column + 6].max() > 60
    below = np.rint(FILM.camera(4).pixels([[0.06, -0.012]])[0]).astype(int)
    assert changed[below[1] - 6 : below[1] + 6, below[0] - 20 : below[0] + 20].max() < 40


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('end = "0.6 s"', 'end = "0 s"'), "end: 0 s is not allowed; give a time after the start"),
        (('"computed", ', '"bananas", '), "bananas"),
        (('"3 kV"', '"30 kV"'), "accelerating_voltage: 30 kV is not allowed; the gun is rated"),
        (('film = "lesson.mp4"', 'film = "none.mp4"'), "there is no film"),
        (('format = "glowtrace-film 1"', 'format = "glowtrace-film 9"'), "update Glowtrace"),
        (("\nshows", '\nestimate = "plate_voltage"\nshows'), "leave it out of the moments"),
        (("\nshows", '\npoints = ["20 mm = 3"]\nshows'), "give a crossing and its pixel"),
    ],
)
def test_what_is_wrong_is_said_in_one_line_each(tmp_path, capsys, change, says):
    path = tmp_path / "lesson.toml"
    path.write_text(example().replace(*change))
    assert run(["film", str(path), "--out", str(tmp_path / "out.mp4")]) == 2
    assert says in capsys.readouterr().err
    assert not (tmp_path / "out.mp4").exists()


def test_drawing_that_was_stopped_goes_on_where_it_was(tmp_path, monkeypatch):
    monkeypatch.setattr(annotated, "STRETCH", 5)
    write_film(tmp_path / "film.mp4", FILM)
    clicks = FILM.camera(0).clicks([(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)])
    readings = read_film(open_film(tmp_path / "film.mp4"), FILM.grid, points=clicks)
    drawn: list[int] = []

    def draw(number: int, _flight: float | None) -> np.ndarray:
        drawn.append(number)
        return np.zeros((270, 480, 4), np.uint8)

    def write(watch: Watch) -> None:
        annotated.write_annotated(
            tmp_path / "out.mp4", readings, draw, tmp_path / "kept", watch=watch
        )

    asked: list[int] = []
    with pytest.raises(GivenUpError):
        write(Watch(cancelled=lambda: asked.append(1) or len(asked) > 12))
    assert not (tmp_path / "out.mp4").exists()
    drawn.clear()
    write(UNWATCHED)
    assert drawn == list(range(10, 18))
    with av.open(str(tmp_path / "out.mp4")) as file:
        frames = [frame.to_ndarray(format="gray").astype(int) for frame in file.decode(video=0)]
    assert len(frames) == 18
    assert np.abs(frames[12] - FILM.luma(12)).mean() < 6
