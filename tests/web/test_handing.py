"""The page of handouts in a real browser: pictures, a clip that plays, sheets with answers."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.request import urlopen

import av
import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect
from pypdf import PdfReader
from visitor import PATIENCE, Bench, Server, go

pytestmark = pytest.mark.browser

TURN_BACK = (
    "bench=ready-made/deflection+tube&accelerating_voltage=1000&plate_voltage=2500"
    "&coil_current=1.2&coil_reversed=true"
)
SHORT = (
    "&clip.shows=sweep&clip.knob=plate_voltage&clip.from=0&clip.to=2000&clip.seconds=2.0"
    "&clip.rate=10&clip.size=480p&clip.file=.mp4"
)


@pytest.fixture(scope="module")
def page(browser: Browser, server: Server) -> Iterator[Page]:
    """One page for all tests of this file, with what it complains about."""
    context = browser.new_context(viewport={"width": 1400, "height": 900})
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    yield page
    context.close()
    assert trouble == []


def open_handouts(page: Page, server: Server, more: str = "") -> None:
    page.goto(f"{server.address}handouts?{TURN_BACK}{more}")
    page.locator(".handout-pages img").first.wait_for()


def section(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name)


def saved(page: Page, link: Locator) -> tuple[str, bytes]:
    with page.expect_download() as download:
        link.click()
    return download.value.suggested_filename, Path(download.value.path()).read_bytes()


@pytest.mark.thorough
def test_the_live_trace_comes_along(page: Page, server: Server) -> None:
    page.goto(f"{server.address}?{TURN_BACK}")
    Bench(page).wait_for_rest()
    go(page, "Handouts")
    page.wait_for_url(re.compile(r"/handouts\?"))
    expect(page.locator(".facts")).to_contain_text("2.50 kV")
    assert "plate_voltage=2500" in page.url


@pytest.mark.thorough
def test_the_picture_in_three_kinds_of_file(page: Page, server: Server) -> None:
    open_handouts(page, server)
    part = section(page, "Picture")
    part.get_by_role("switch", name="Arrows of the forces").click()
    part.get_by_role("radio", name="paper").check(force=True)
    shown = part.locator("img")
    expect(shown).to_have_attribute("src", re.compile("look=print.*forces=true"))
    page.wait_for_function("() => document.querySelector('.handout-picture').naturalWidth > 400")
    name, svg = saved(page, part.get_by_role("link", name="Save the picture as SVG"))
    assert name == "deflection-tube.svg"
    assert b"<svg" in svg
    _, pdf = saved(page, part.get_by_role("link", name="Save the picture as PDF"))
    assert pdf.startswith(b"%PDF")
    _, png = saved(page, part.get_by_role("link", name="Save the picture as PNG"))
    with Image.open(io.BytesIO(png)) as image:
        assert image.format == "PNG"
        assert image.convert("RGB").getpixel((3, 3)) == (255, 255, 255)


def test_a_clip_is_made_plays_and_is_saved(page: Page, server: Server) -> None:
    open_handouts(page, server, SHORT)
    part = section(page, "Clip")
    part.get_by_role("button", name="Make the clip").click()
    video = part.locator("video")
    video.wait_for()
    played = page.evaluate(
        """async () => {
          const video = document.querySelector("video");
          video.muted = true;
          await video.play();
          await new Promise((resolve) => setTimeout(resolve, 600));
          const track = video.textTracks[0];
          track.mode = "showing";
          await new Promise((resolve) => setTimeout(resolve, 400));
          return [video.duration, video.videoWidth, video.videoHeight, video.currentTime > 0,
                  [...track.cues].map((cue) => cue.text)];
        }"""
    )
    assert played[:4] == [pytest.approx(2.0, abs=0.06), 854, 480, True]
    assert played[4][0].startswith("plate voltage")
    name, content = saved(page, part.get_by_role("link", name="Save the clip"))
    assert name == "deflection-tube-plate-voltage-from-0-v-to-2-kv.mp4"
    with av.open(io.BytesIO(content)) as file:
        assert sum(1 for _ in file.decode(video=0)) == 20
    # A browser that seeks asks for a range of bytes (RFC 9110, section 14).
    address = server.address.rstrip("/") + str(video.get_attribute("src"))
    answer = page.request.get(address, headers={"Range": "bytes=0-99"})
    assert answer.status == 206
    assert len(answer.body()) == 100
    assert answer.body()[4:8] == b"ftyp"


@pytest.mark.thorough
def test_a_clip_can_be_given_up(page: Page, server: Server) -> None:
    open_handouts(page, server, SHORT.replace("seconds=2.0", "seconds=60.0"))
    part = section(page, "Clip")
    part.get_by_role("button", name="Make the clip").click()
    part.get_by_text(re.compile(r"Frame \d+ of 600")).wait_for()
    expect(part.get_by_role("progressbar")).to_be_visible()
    part.get_by_role("button", name="Cancel").click()
    expect(part.get_by_role("button", name="Cancel")).to_be_hidden()
    expect(part.get_by_role("button", name="Make the clip")).to_be_enabled()
    assert part.locator("video").count() == 0
    assert part.get_by_role("link", name="Save the clip").is_hidden()


@pytest.mark.thorough
def test_a_reloaded_page_comes_back_as_it_was(page: Page, server: Server) -> None:
    open_handouts(page, server)
    clip = section(page, "Clip")
    clip.get_by_role("radio", name="two observers").check(force=True)
    clip.get_by_label("Seconds").fill("4")
    clip.get_by_label("Seconds").press("Tab")
    sheets = section(page, "Worksheets")
    sheets.get_by_role("radio", name="proportion").check(force=True)
    sheets.get_by_label("Seed").fill("77")
    sheets.get_by_label("Seed").press("Tab")
    page.wait_for_url(re.compile(r"sheet\.seed=77"))
    page.reload()
    page.locator(".handout-pages img").first.wait_for()
    assert clip.get_by_role("radio", name="two observers").is_checked()
    assert clip.get_by_label("Seconds").input_value() == "4"
    assert sheets.get_by_role("radio", name="proportion").is_checked()
    assert sheets.get_by_label("Seed").input_value() == "77"


def test_what_is_not_allowed_is_told_in_its_part(page: Page, server: Server) -> None:
    open_handouts(page, server)
    for name, label, text, complaint in (
        ("Clip", "Seconds", "500", "give from 1 s to 120 s"),
        ("Worksheets", "Learners", "0", 'Learners: "0" is not allowed; give a whole number'),
    ):
        part = section(page, name)
        part.get_by_label(label).fill(text)
        part.get_by_label(label).press("Tab")
        expect(part.get_by_role("alert")).to_contain_text(complaint)


@pytest.mark.thorough
def test_two_observers_need_crossed_fields(page: Page, server: Server) -> None:
    page.goto(
        f"{server.address}handouts?bench=ready-made/deflection+tube&accelerating_voltage=3000"
    )
    part = section(page, "Clip")
    part.get_by_role("radio", name="two observers").check(force=True)
    expect(part.get_by_role("alert")).to_contain_text("Without a magnetic field")
    page.goto(f"{server.address}handouts?bench=ready-made/fine-beam+bulb")
    part.get_by_role("radio", name="one electron").wait_for(state="attached")
    assert part.get_by_role("radio", name="two observers").count() == 0


def test_worksheets_are_made_for_a_class_with_their_answers(page: Page, server: Server) -> None:
    open_handouts(page, server, "&sheet.level=proportion&sheet.seed=9")
    part = section(page, "Worksheets")
    part.get_by_label("Learners").fill("2")
    part.get_by_label("Learners").press("Tab")
    part.get_by_role("button", name="Make the worksheets").click()
    name, sheets = saved(page, part.get_by_role("link", name="Save the sheets (PDF)"))
    assert name == "worksheets-deflection-tube-proportion-9.pdf"
    text = text_of(sheets)
    assert "9–1" in text
    assert "9–2" in text
    assert "Answers, for the teacher" not in text
    name, answers = saved(page, part.get_by_role("link", name="Save the answers (PDF)"))
    assert name == "worksheets-deflection-tube-proportion-9-answers.pdf"
    assert text_of(answers).count("Answers, for the teacher") == 2
    _, markdown = saved(page, part.get_by_role("link", name="Answers as Markdown"))
    assert markdown.decode().count("# Electron beam: deflection tube: answers 9–") == 2


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.thorough
def test_nothing_is_wider_than_a_phone(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    open_handouts(page, server)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    small = page.evaluate(
        """() => [...document.querySelectorAll(".handouts :is(button, a.key, input)")]
          .filter((each) => each.offsetParent && each.type !== "radio")
          .map((each) => each.getBoundingClientRect())
          .filter((box) => box.height < 40).length"""
    )
    assert small == 0
    context.close()


def test_a_kind_of_picture_that_is_not_there(server: Server) -> None:
    with pytest.raises(OSError, match="404"):
        urlopen(f"{server.address}glowtrace-picture.bmp?{TURN_BACK}")
    with pytest.raises(OSError, match="404"):
        urlopen(f"{server.address}glowtrace-made/nothing/clip.mp4")
