"""A screen followed through rendered films, against what the films were made from.

The renderer and its camera (`benchmarks/film_rendering.py`) are the reference: they share no code
with the maps. The careful reader of photographs is a second one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from film_rendering import RenderedFilm
from glowtrace.films.following import begin_following, follow_and_read
from glowtrace.photographs.photograph import Photograph
from glowtrace.photographs.trace_line_extraction import extract_line

FILM = RenderedFilm(size=(480, 270), count=12)


def followed(film: RenderedFilm, *, clicks: float = 0.6):
    """Readings of all frames, begun with clicks that are off by so many pixels."""
    state = begin_following(film.luma(0), film.clicked(uncertainty=clicks), film.grid)
    assert state.can_follow
    readings = []
    for number in range(film.count):
        reading, state = follow_and_read(film.luma(number), state)
        readings.append(reading)
    return readings


def miss_mm(film: RenderedFilm, number: int, reading) -> float:
    """Root mean square distance of the line that is read from the one that was drawn."""
    seen = np.isfinite(reading.v)
    off = reading.v[seen] - film.heights(number, reading.u[seen])
    return 1e3 * float(np.sqrt(np.mean(off**2)))


def map_miss_mm(film: RenderedFilm, number: int, reading) -> float:
    """Largest distance of a crossing of the grid from where the camera sees it."""
    places = np.array([[u, v] for u in film.grid.u for v in film.grid.v])
    there = reading.screen_map.places(film.camera(number).pixels(places))
    return 1e3 * float(np.abs(there - places).max())


@pytest.mark.parametrize(
    "film",
    [
        FILM,
        replace(FILM, shake=3.0, seed=2),
        replace(FILM, room=0.01, seed=3),
        replace(FILM, beam=0.06, seed=4),
        replace(FILM, grid_darkness=-0.6, seed=5),
    ],
    ids=["steady", "shaken", "dim grid", "faint line", "bright print"],
)
def test_the_line_and_the_screen_are_where_the_film_has_them(film):
    for number, reading in enumerate(followed(film)):
        assert not reading.is_lost
        assert miss_mm(film, number, reading) < 0.2
        assert map_miss_mm(film, number, reading) < 0.15
        assert np.isfinite(reading.v).mean() > 0.97


def test_what_a_hand_covers_is_told_and_nothing_else():
    film = replace(FILM, hand=(3, 12), swing=0.0)
    covered, told, clear, wrongly = 0, 0, 0, 0
    for number, reading in enumerate(followed(film)):
        assert not reading.is_lost
        low, high = film.hidden(number) or (1.0, 1.0)
        hidden = (reading.u > low) & (reading.u < high)
        covered, told = covered + hidden.sum(), told + (hidden & reading.is_covered).sum()
        clear, wrongly = clear + (~hidden).sum(), wrongly + (~hidden & reading.is_covered).sum()
        assert np.isnan(reading.v[reading.is_covered]).all()
    assert told >= 0.95 * covered > 0
    assert wrongly <= 0.01 * clear


@pytest.mark.parametrize("push", [(11.0, 0.0), (-6.0, 9.0), (38.0, 4.0)])
def test_after_a_push_the_old_map_is_not_used(push):
    film = replace(FILM, count=20, push=(6, *push))
    readings = followed(film)
    for number, reading in enumerate(readings):
        if not reading.is_lost:
            assert map_miss_mm(film, number, reading) < 0.3
            assert miss_mm(film, number, reading) < 0.2
        else:
            assert not reading.is_line_seen
            assert "lost" in reading.trust
    assert not readings[5].is_lost
    assert not readings[-1].is_lost


def test_a_screen_that_goes_is_lost_and_one_that_comes_back_is_found():
    film = replace(FILM, count=8)
    state = begin_following(film.luma(0), film.clicked(), film.grid)
    black = np.zeros_like(film.luma(0))
    for _ in range(3):
        reading, state = follow_and_read(black, state)
        assert reading.is_lost
    for number in range(4, 8):
        reading, state = follow_and_read(film.luma(number), state)
    assert not reading.is_lost
    assert miss_mm(film, 7, reading) < 0.2


def test_no_line_is_read_where_none_is():
    for reading in followed(replace(FILM, beam=0.0, count=6)):
        assert not reading.is_lost
        assert not reading.is_line_seen
        assert not reading.is_covered.any()


def test_a_grid_that_cannot_be_seen_is_not_followed():
    film = replace(FILM, grid_darkness=0.0)
    assert not begin_following(film.luma(0), film.clicked(), film.grid).can_follow


@pytest.mark.slow
def test_the_careful_reader_of_photographs_says_the_same():
    film = replace(FILM, size=(960, 540), count=6)
    readings = followed(film)
    careful = extract_line(Photograph(film.frame(5)), readings[5].screen_map, grid_pitch=0.01)
    u, v = careful.places.T
    known = np.isfinite(readings[5].v)
    quick = np.interp(u, readings[5].u[known], readings[5].v[known])
    assert len(careful) > 60
    assert 1e3 * np.sqrt(np.mean((quick - v) ** 2)) < 0.1
