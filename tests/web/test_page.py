"""The page in a real browser: what a person at the bench does, and what they then see.

Expected pictures come from the physics of the bench (common practice, no source): plates the other
way round mirror the deflection, a cold cathode gives no beam, a stronger field bends more.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from urllib.parse import urlparse

import pytest
from playwright.sync_api import Browser, expect
from visitor import PATIENCE, Bench, Server

from glowtrace.bench.files import bench_to_toml
from glowtrace.bench.ready_made import ready_made

pytestmark = pytest.mark.browser

BULB = "?bench=ready-made/fine-beam bulb"


def test_opens_with_a_glow_and_asks_no_other_machine(bench: Bench) -> None:
    count, _, _ = bench.glow()
    assert count > 500
    hosts = {urlparse(url).hostname for url in bench.asked_for if not url.startswith("data:")}
    assert hosts == {"127.0.0.1"}
    assert bench.trouble == []
    expect(bench.page).to_have_title("Rehearse – Glowtrace")
    expect(bench.page.get_by_text("Local rules")).to_be_visible()
    # This browser has no graphics card: where the tube would stand there are words.
    view = bench.page.locator(".tube .nicegui-scene")
    expect(view).to_be_visible()
    assert "WebGL" in view.evaluate("view => getComputedStyle(view, '::before').content")


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("knob", "key"),
    [
        ("Accelerating voltage", "PageUp"),
        pytest.param("Plate voltage", "Shift+ArrowUp", marks=pytest.mark.thorough),
        ("Coil current", "ArrowRight"),
    ],
)
def test_each_knob_by_keyboard_moves_the_trace(bench: Bench, knob: str, key: str) -> None:
    _, _, before = bench.glow()
    shown = bench.knob(knob).get_attribute("aria-valuetext")
    bench.do(lambda: bench.turn(knob, key, times=5))
    _, _, after = bench.glow()
    assert bench.knob(knob).get_attribute("aria-valuetext") != shown
    # Faster electrons are deflected less: the trace sinks (y grows). The others lift it.
    lower = knob == "Accelerating voltage"
    assert (after > before + 0.5) if lower else (after < before - 0.5)


def test_arrow_is_fine_and_page_is_coarse(bench: Bench) -> None:
    def value() -> float:
        return float((bench.knob("Coil current").get_attribute("aria-valuetext") or "").split()[0])

    bench.turn("Coil current", "ArrowUp")
    fine = value()
    bench.turn("Coil current", "PageUp")
    assert fine > 0
    assert value() == pytest.approx(11 * fine)
    bench.turn("Coil current", "Home")
    assert value() == 0


@pytest.mark.thorough
def test_reversing_the_plates_mirrors_the_picture(bench: Bench) -> None:
    _, _, up = bench.glow()
    bench.do(lambda: bench.choose("Polarity", "reversed"))
    _, _, down = bench.glow()
    bench.do(lambda: bench.turn("Plate voltage", "Home"))
    _, _, straight = bench.glow()
    assert down - straight > 5
    assert up + down == pytest.approx(2 * straight, abs=1.5)


@pytest.mark.thorough
def test_reversing_the_coils_mirrors_the_picture(bench: Bench) -> None:
    bench.do(lambda: bench.turn("Plate voltage", "Home"))
    _, _, straight = bench.glow()
    bench.do(lambda: bench.turn("Coil current", "PageUp", times=4))
    _, _, up = bench.glow()
    bench.do(lambda: bench.choose("Polarity", "reversed", nth=1))
    _, _, down = bench.glow()
    assert straight - up > 5
    assert up + down == pytest.approx(2 * straight, abs=1.5)


@pytest.mark.thorough
def test_heater_off_is_dark_and_on_again_is_not(bench: Bench) -> None:
    heater = bench.page.get_by_role("switch", name="Heater")
    bench.do(heater.click)
    assert bench.glow()[0] == 0
    expect(bench.page.get_by_text("the heater is off")).to_be_visible()
    bench.do(lambda: heater.press("Space"))
    assert bench.glow()[0] > 500


def test_a_knob_stops_at_the_rating_and_says_why(bench: Bench) -> None:
    bench.do(lambda: bench.turn("Coil current", "End"))
    coil = bench.page.get_by_role("group", name="Coil current")
    expect(coil.get_by_role("status")).to_have_text("Stop: the coil pair is rated 1.9 A")
    number = coil.get_by_role("textbox")
    number.fill("7,5")
    number.press("Enter")
    expect(coil.get_by_role("status")).to_contain_text("7.5 A is too much: the coil pair is rated")
    expect(number).to_have_value("1.900")
    bench.do(lambda: bench.turn("Coil current", "Home"))
    number.fill("7,5")
    number.press("Enter")
    expect(number).to_have_value("0.000")
    number.fill("1.5")
    number.press("Tab")
    expect(coil.get_by_role("slider")).to_be_focused()
    expect(number).to_have_value("1.500")


def test_a_line_is_held_and_a_turn_taken_back(bench: Bench) -> None:
    page = bench.page
    plate = page.get_by_role("group", name="Plate voltage").get_by_role("textbox")
    page.get_by_role("button", name="hold").click()
    before = plate.input_value()
    plate.fill("2")
    bench.do(lambda: plate.press("Enter"))
    expect(page.locator(".legend-held")).to_be_visible()
    expect(page).to_have_url(re.compile(r"plate_voltage=2000.0.*beside.plate_voltage="))
    bench.do(lambda: plate.press("Control+z"))
    expect(plate).to_have_value(before)
    bench.do(lambda: page.locator(".screen canvas").press("c"))
    expect(page.locator(".legend-held")).to_have_count(0)


@pytest.mark.thorough
def test_the_accelerating_supply_holds_the_plates_back(bench: Bench) -> None:
    bench.choose("Supply", "accelerating")
    bench.do(lambda: bench.turn("Plate voltage", "End"))
    plate = bench.page.get_by_role("group", name="Plate voltage")
    expect(plate.get_by_role("textbox")).to_have_value("3.000")
    expect(plate.get_by_role("status")).to_contain_text("accelerating supply, set to 3.00 kV")


@pytest.mark.thorough
def test_a_tied_plate_tells_what_textbooks_leave_out(bench: Bench) -> None:
    note = bench.page.get_by_text("Textbooks leave this out")
    expect(note).to_have_count(0)
    bench.do(lambda: bench.choose("At anode", "lower"))
    told = re.search(r"gains (\d+) eV \((\d+\.\d) %\)", note.inner_text())
    assert told is not None
    # The gap's middle stands at half of 0.9 kV above the anode, a little less by the open edges.
    assert 0.8 * 450 < float(told[1]) < 450
    assert float(told[2]) == pytest.approx(float(told[1]) / 30, abs=0.2)


def test_settings_survive_a_killed_server(bench: Bench, server: Server) -> None:
    page = bench.page
    bench.do(lambda: bench.turn("Plate voltage", "PageUp", times=6))
    kept = bench.knob("Plate voltage").get_attribute("aria-valuetext") or ""
    page.get_by_role("button", name="Saved settings").click()
    page.get_by_label("Name for these settings").fill("lifted <b>high</b>")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="lifted <b>high</b>")).to_be_visible()
    server.kill()
    server.start()
    page.goto(server.address)
    bench.wait_for_rest()
    assert bench.knob("Plate voltage").get_attribute("aria-valuetext") != kept
    page.get_by_role("button", name="Saved settings").click()
    page.get_by_role("button", name="lifted <b>high</b>").click()
    expect(bench.knob("Plate voltage")).to_have_attribute("aria-valuetext", kept)


@pytest.mark.thorough
def test_saving_over_a_name_is_asked_first(bench: Bench) -> None:
    page = bench.page
    page.get_by_role("button", name="Saved settings").click()
    name = page.get_by_label("Name for these settings")
    name.fill("twice")
    name.press("Enter")
    expect(page.get_by_role("button", name="twice")).to_be_visible()
    name.press("Enter")
    expect(page.get_by_text('"twice" is taken')).to_be_visible()
    page.get_by_role("button", name="Overwrite").click()
    expect(page.get_by_text('"twice" is taken')).to_have_count(0)


@pytest.mark.thorough
def test_a_reloaded_page_comes_back_as_it_was(bench: Bench) -> None:
    bench.do(lambda: bench.turn("Coil current", "PageUp", times=3))
    kept = bench.knob("Coil current").get_attribute("aria-valuetext") or ""
    bench.page.wait_for_function("location.search.includes('coil_current')")
    bench.page.reload()
    bench.wait_for_rest()
    expect(bench.knob("Coil current")).to_have_attribute("aria-valuetext", kept)


@pytest.mark.thorough
def test_an_open_page_comes_back_by_itself_when_the_server_does(
    bench: Bench, server: Server
) -> None:
    bench.do(lambda: bench.turn("Coil current", "PageUp", times=2))
    kept = bench.knob("Coil current").get_attribute("aria-valuetext") or ""
    bench.page.wait_for_function("location.search.includes('coil_current')")
    opened = bench.page.evaluate("performance.timeOrigin")
    server.kill()
    server.start()
    bench.page.wait_for_function(
        "opened => performance.timeOrigin !== opened", arg=opened, timeout=PATIENCE
    )
    bench.wait_for_rest()
    expect(bench.knob("Coil current")).to_have_attribute("aria-valuetext", kept)


def test_another_bench_comes_on_the_table(bench: Bench) -> None:
    page = bench.page
    page.get_by_label("Bench", exact=True).select_option(label="fine-beam bulb")
    page.wait_for_url("**/*fine-beam*", timeout=PATIENCE)
    bench.wait_for_rest()
    expect(page.get_by_role("group", name="Plate voltage")).to_be_hidden()
    number = page.get_by_role("group", name="Accelerating voltage").get_by_role("textbox")
    expect(number).to_have_value("230.0")
    assert bench.glow()[0] > 500
    assert bench.trouble == []


def test_a_bad_bench_file_is_told_line_by_line_and_nothing_is_lost(bench: Bench) -> None:
    before = bench.glow()
    text = 'format = "glowtrace-bench 1"\nname = "wrong"\n[gun]\naperture_shape = "star"\n'
    _choose_file(bench, "wrong.toml", text)
    message = bench.page.get_by_role("alert").first
    expect(message).to_contain_text('bench file "wrong.toml"')
    expect(message).to_contain_text("gun.aperture_shape")
    expect(message).to_contain_text("screen")
    assert bench.glow() == pytest.approx(before, rel=0.01)


@pytest.mark.thorough
def test_an_opened_bench_file_is_kept(bench: Bench, server: Server) -> None:
    mine = ready_made("axial coil tube").model_copy(update={"name": "my helix tube"})
    _choose_file(bench, "mine.toml", bench_to_toml(mine))
    bench.page.wait_for_url("**/*my+helix*", timeout=PATIENCE)
    bench.wait_for_rest()
    picker = bench.page.get_by_label("Bench", exact=True)
    expect(picker).to_have_value("saved/my helix tube")
    bench.page.goto(server.address)
    bench.wait_for_rest()
    expect(picker.locator("option", has_text="my helix tube")).to_have_count(1)


@pytest.mark.thorough
def test_building_fields_shows_how_far_it_is_and_leaves_the_page_free(bench: Bench) -> None:
    mine = ready_made("deflection tube")
    gap = mine.plates.gap + 1e-6 * (time.time() % 1000) if mine.plates else 0.0  # never built yet
    mine = mine.model_copy(
        update={
            "name": "new gap",
            "plates": mine.plates and mine.plates.model_copy(update={"gap": gap}),
        }
    )
    _choose_file(bench, "gap.toml", bench_to_toml(mine))
    expect(bench.page.get_by_role("progressbar")).to_be_visible()
    bench.turn("Coil current", "PageUp")
    expect(bench.knob("Coil current")).not_to_have_attribute("aria-valuetext", "0.000 A")
    expect(bench.page.get_by_role("progressbar")).to_be_hidden(timeout=PATIENCE)
    bench.wait_for_rest()
    expect(bench.page.get_by_label("Bench", exact=True)).to_have_value("saved/new gap")


def _choose_file(bench: Bench, name: str, text: str) -> None:
    chooser = bench.page.locator("input[type=file]")
    chooser.set_input_files({"name": name, "mimeType": "application/toml", "buffer": text.encode()})


def test_keys_are_told_on_a_question_mark(bench: Bench) -> None:
    bench.page.keyboard.press("?")
    expect(bench.page.get_by_text("coarse step").first).to_be_visible()
    bench.page.keyboard.press("Escape")
    expect(bench.page.get_by_text("coarse step").first).to_be_hidden()


@pytest.mark.thorough
def test_zoom_by_keys_enlarges_and_goes_back(bench: Bench) -> None:
    whole = bench.glow()
    canvas = bench.page.locator(".screen canvas")
    canvas.focus()
    for key in ("+", "+", "ArrowUp"):
        bench.page.keyboard.press(key)
    bench.page.wait_for_timeout(100)
    assert bench.glow()[0] > 1.3 * whole[0]
    bench.page.keyboard.press("0")
    bench.page.wait_for_timeout(100)
    assert bench.glow() == pytest.approx(whole, rel=0.01)


def test_a_click_on_the_screen_reads_the_trace_there(bench: Bench) -> None:
    box = bench.page.locator(".screen canvas").bounding_box()
    assert box is not None
    place = bench.page.get_by_label("x in mm")
    first = place.input_value()
    bench.do(lambda: bench.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 100))
    assert place.input_value() != first
    place.fill("nowhere")
    place.press("Enter")
    expect(bench.page.get_by_role("alert").first).to_contain_text("nowhere")


@pytest.mark.thorough
@pytest.mark.parametrize("query", ["", BULB])
def test_a_phone_scrolls_down_only(open_bench: Callable[..., Bench], query: str) -> None:
    bench = open_bench(query, width=320, height=700)
    width = bench.page.evaluate("document.documentElement.scrollWidth")
    assert width <= 320
    screen = bench.page.locator(".screen canvas").bounding_box()
    knob = bench.knob("Accelerating voltage").bounding_box()
    assert screen is not None
    assert knob is not None
    assert screen["y"] + screen["height"] <= knob["y"]
    assert bench.glow()[0] > 200


def test_an_unknown_bench_in_the_address_is_told(open_bench: Callable[..., Bench]) -> None:
    bench = open_bench("?bench=opened/gone")
    expect(bench.page.get_by_role("alert").first).to_contain_text("opened/gone")
    assert bench.glow()[0] > 500


@pytest.mark.thorough
def test_the_tube_stands_in_three_dimensions(browser_with_3d: Browser, server: Server) -> None:
    bench = Bench(browser_with_3d.new_page(viewport={"width": 1400, "height": 900}))
    bench.page.goto(server.address)
    bench.wait_for_rest()
    parts = "Object.entries(window).find(([name]) => name.startsWith('scene_'))?.[1].children"
    # Anode, can, two plates, coil group, bulb, its two circles, the sheet's grid, the beam.
    bench.page.wait_for_function(f"{parts}?.length > 20", timeout=PATIENCE)
    points = f"{parts}.filter(part => part.isPoints).map(p => p.geometry.attributes.position.count)"
    bench.page.wait_for_function(f"Math.min(...{points}) > 100", timeout=PATIENCE)
    assert bench.trouble == []
