"""What a lesson lays over the picture, in a real browser, and the colours that it is drawn in.

Contrast is that of WCAG 2.2, 3 to 1 for what is no text (success criterion 1.4.11); reduced colour
vision is simulated with the matrices of Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput.
Graph. 15 (2009) 1291. Both from memory.
"""

from __future__ import annotations

import asyncio
import re
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect
from test_audience import SHARE, wait_for

import glowtrace.web.audience
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.lesson.shown import NOTHING_SHOWN, Invitation, LessonShown, Mark, Tally
from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.feed import audience_app
from glowtrace.web.surface import GAS_GLOW, PHOSPHOR_GLOW

CSS = (Path(glowtrace.web.audience.__file__).parent / "static" / "audience.css").read_text("utf-8")
LOOKS = dict(zip(("dark", "light"), re.findall(r":root[^{]*\{([^}]*)\}", CSS), strict=True))
ROLES = ("prediction", "computed", "seen")
NON_TEXT_AA, TEXT_AA = 3.0, 4.5
REDUCED = {
    "red": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
            (-0.003882, -0.048116, 1.051998)),
    "green": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
              (-0.011820, 0.042940, 0.968881)),
}  # fmt: skip
EMPTY = {"number": 1, "kind": "dots", "pairs": "", "points": 1, "weight": 0.0, "textbook": "",
         "band": "", "held": "", "box_mm": (0, 1, 0, 1), "resting": True}  # fmt: skip
LIKE = """(name) => {
  const canvas = document.getElementById("canvas");
  const hex = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  const wanted = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16));
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let count = 0;
  for (let i = 0; i < data.length; i += 4) {
    if (wanted.every((c, k) => Math.abs(c - data[i + k]) < 6)) count += 1;
  }
  return count;
}"""


class Room:
    """An audience with its page, served from a thread of its own."""

    def __init__(self) -> None:
        self.audience = Audience()
        app = audience_app(self.audience, commands=False)
        self._server = uvicorn.Server(
            uvicorn.Config(app, port=0, log_level="error", lifespan="off")
        )
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(
            target=self._loop.run_until_complete, args=(self._server.serve(),)
        )
        self._thread.start()
        while not self._server.started:
            time.sleep(0.02)
        port = self._server.servers[0].sockets[0].getsockname()[1]
        self.address = f"http://127.0.0.1:{port}/"

    def tell(self, call: Callable[..., None], *what: object) -> None:
        self._loop.call_soon_threadsafe(call, *what)

    def end(self) -> None:
        self._server.should_exit = True
        self._thread.join()
        self._loop.close()


@pytest.fixture
def room() -> Iterator[Room]:
    room = Room()
    yield room
    room.end()


@pytest.fixture
def window(room: Room, browser: Browser) -> Iterator[Page]:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
    room.tell(room.audience.show_picture, ready_made("deflection tube"), settings, EMPTY)
    size = {"width": 1366, "height": 768}
    context = browser.new_context(viewport=size, screen=size)
    page = context.new_page()
    page.goto(room.address)
    wait_for(page, "document.getElementById('canvas').glowtrace?.resting")
    yield page
    context.close()


def line(role: str, height: float) -> Mark:
    """Give a straight line over the whole sheet of the deflection tube."""
    return Mark(role, ((0.013, 0.0), (0.104, height)))  # type: ignore[arg-type]


@pytest.mark.browser
def test_lines_of_all_roles_lie_over_the_screen(room: Room, window: Page) -> None:
    before = {role: window.evaluate(LIKE, role) for role in ROLES}
    marks = (line("prediction", 0.015), line("computed", -0.01), line("seen", -0.015))
    room.tell(room.audience.show_lesson, LessonShown(True, (*marks, *20 * marks[:1])))
    wait_for(window, f"([name, least]) => ({LIKE})(name) > least", ["seen", before["seen"] + 500])
    after = {role: window.evaluate(LIKE, role) for role in ROLES}
    assert all(after[role] > before[role] + 500 for role in ROLES)
    # Dashes leave gaps: as long as the other line and hardly thinner, it covers clearly less.
    assert after["seen"] - before["seen"] < 0.8 * (after["computed"] - before["computed"])
    room.tell(room.audience.show_lesson, NOTHING_SHOWN)
    wait_for(window, f"([name, most]) => ({LIKE})(name) <= most", ["seen", before["seen"]])


@pytest.mark.browser
def test_words_of_learners_are_words_and_the_picture_stays_large(room: Room, window: Page) -> None:
    told: list[str] = []
    window.on("dialog", lambda dialog: told.append(dialog.message))
    nasty = "<img src=x onerror=alert(1)> too little"
    tallies = (Tally("up, a parabola", 23), Tally(nasty, 14), Tally("down", 9))
    question = "Where will the beam go when the upper plate is made positive?"
    room.tell(
        room.audience.show_lesson, LessonShown(True, (), question, "46 answers", tallies, None)
    )
    expect(window.get_by_text(question)).to_be_visible()
    expect(window.get_by_text(nasty)).to_be_visible()
    expect(window.get_by_role("listitem")).to_have_count(3)
    assert window.locator("img").count() == 0
    assert window.evaluate(SHARE) >= 0.6
    assert window.evaluate("document.documentElement.scrollHeight") <= 768
    assert told == []


@pytest.mark.browser
def test_the_way_in_is_shown_large_and_runs_nothing(room: Room, window: Page) -> None:
    drawing = (
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9' onload='parent.ran=1'>"
        "<script>parent.ran = 1</script><rect width='9' height='9' fill='#fff'/></svg>"
    )
    way_in = Invitation("http://192.168.178.23:8851/r/k7m2qx", "k7m2qx", drawing)
    room.tell(room.audience.show_lesson, LessonShown(True, invitation=way_in))
    picture = window.get_by_role("img", name="http://192.168.178.23:8851/r/k7m2qx")
    expect(picture).to_be_visible()
    box = picture.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) > 0.5 * 768
    expect(window.get_by_text("k7m2qx", exact=True)).to_be_visible()
    assert window.evaluate("window.ran") is None
    room.tell(room.audience.show_lesson, NOTHING_SHOWN)
    expect(picture).to_be_hidden()


def _colour(look: str, name: str) -> np.ndarray:
    found = re.search(rf"--{name}: #([0-9a-f]{{6}});", LOOKS[look])
    assert found is not None, f"no colour --{name} in the {look} look"
    return np.array(list(bytes.fromhex(found[1]))) / 255


def _linear(colour: np.ndarray) -> np.ndarray:
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def _contrast(one: np.ndarray, other: np.ndarray) -> float:
    low, high = sorted(float(_linear(each) @ (0.2126, 0.7152, 0.0722)) for each in (one, other))
    return (high + 0.05) / (low + 0.05)


def _lab(linear: np.ndarray) -> np.ndarray:
    """CIE L*a*b* of linear sRGB, white D65 (IEC 61966-2-1, CIE 15; from memory)."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    share = to_xyz @ np.clip(linear, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("look", LOOKS)
def test_every_line_and_letter_stands_out_from_its_ground(look: str) -> None:
    for ground in ("ground", "sheet"):
        for role in ROLES:
            assert _contrast(_colour(look, role), _colour(look, ground)) >= NON_TEXT_AA
        for text in ("text", "text-quiet"):
            assert _contrast(_colour(look, text), _colour(look, ground)) >= TEXT_AA


@pytest.mark.parametrize("reduced", REDUCED)
@pytest.mark.parametrize("look", LOOKS)
def test_roles_and_glow_differ_for_reduced_colour_vision_too(look: str, reduced: str) -> None:
    colours = [_colour(look, role) for role in ROLES]
    if look == "dark":  # ink of the light look lies on the same ground as the dark lines
        colours += [np.array(glow) / 255 for glow in (PHOSPHOR_GLOW, GAS_GLOW)]
    seen = [_lab(np.array(REDUCED[reduced]) @ _linear(colour)) for colour in colours]
    lines = range(len(ROLES))
    apart = [
        float(np.linalg.norm(seen[i] - seen[k])) for i in lines for k in range(i + 1, len(seen))
    ]
    # 10 is several times a just noticeable difference of 2.3 (common practice, no source).
    assert min(apart) > 10
