"""The page Film: a rendered film is sent, looked at, annotated and taken away."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import av
import pytest
from playwright.sync_api import Page, expect
from visitor import PATIENCE, Server, grave

from film_rendering import RenderedFilm, write_film
from glowtrace.report.films.description_file import load_description

pytestmark = pytest.mark.browser

TUBE = "film?bench=ready-made/deflection tube&accelerating_voltage=3000"


def test_a_film_is_annotated_and_told_by_its_description(
    open_page: Callable[..., Page], server: Server, tmp_path: Path
) -> None:
    film = tmp_path / "lesson.mp4"
    write_film(film, RenderedFilm(size=(640, 360), count=10, shake=0.5))
    trouble: list[str] = []
    page = open_page(TUBE, listen=lambda page: page.on("pageerror", lambda e: trouble.append(e)))
    # What is no film is refused in one line, and the page goes on.
    broken = tmp_path / "broken.mp4"
    broken.write_bytes(film.read_bytes()[:2000])
    chooser = page.locator(".film-head input[type=file]")
    chooser.set_input_files(broken)
    expect(page.get_by_text("cannot be read as a film")).to_be_visible(timeout=PATIENCE)
    chooser.set_input_files(film)
    says = page.get_by_role("status").filter(has_text="pieces of the grid fit")
    expect(says).to_be_visible(timeout=PATIENCE)
    assert grave(page) == []

    seen = page.get_by_role("img", name="A frame of the film")
    before = seen.get_attribute("src")
    page.get_by_role("button", name="Note the knobs here").click()
    plates = page.get_by_label("moment 1: plate voltage")
    plates.fill("900 V")
    plates.press("Tab")
    expect(seen).not_to_have_attribute("src", before or "", timeout=PATIENCE)

    page.get_by_role("button", name="Make the film").click()
    video = page.locator(".film-made video")
    expect(video).to_be_visible(timeout=PATIENCE)
    address = server.address.rstrip("/") + str(video.get_attribute("src"))
    with av.open(io.BytesIO(page.request.get(address).body())) as file:
        assert (file.streams.video[0].width, sum(1 for _ in file.decode(video=0))) == (640, 10)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the description").click()
    description = tmp_path / "film.toml"
    download.value.save_as(description)
    told = load_description(description)
    assert told.knobs.at(0.0).plate_voltage == 900.0
    assert Path(told.film).read_bytes() == film.read_bytes()
    # The address brings the film back as it was.
    page.reload()
    expect(plates).to_have_value(re.compile("900 V"), timeout=PATIENCE)
    assert trouble == []
