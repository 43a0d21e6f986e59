"""From the knobs page to the sheet in a real browser, as a person prepares a demonstration.

Expected pictures come from the physics of the bench: where eE = evB the beam is straight (textbook
physics), and what is not within a rating is refused with the rating's own words.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import parse_qs, urlparse

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from visitor import PATIENCE, Bench, Server, go

from glowtrace.bench.ready_made import ready_made

pytestmark = pytest.mark.browser

TUBE = "bench=ready-made/deflection tube"
CROSSED = (
    f"{TUBE}&accelerating_voltage=1600&plate_voltage=450&coil_current=0.062&coil_reversed=true"
)
BEYOND = f"{TUBE}&accelerating_voltage=6000"
WHOLE = "across=plate_voltage&across.range=0.0_4800.0&up=coil_current&up.range=0.0_1.9"
PAGES = ("plan", "outcomes", "wiring", "safety", "sheet")


def _query(page: Page) -> dict[str, list[str]]:
    return parse_qs(urlparse(page.url).query)


def test_from_the_knobs_to_the_sheet_without_typing_twice(
    open_at: Callable[[str], Bench], server: Server
) -> None:
    bench = open_at("")
    bench.wait_for_rest()
    page = bench.page
    go(page, "Plan")
    page.get_by_role("radio", name="Straighten the beam").check()
    page.get_by_role("button", name="Find").click()
    best = page.get_by_role("region", name="Answer 1 of")
    expect(best).to_be_visible(timeout=PATIENCE)
    expect(best.get_by_role("img", name="The predicted picture")).to_be_visible()
    expect(best.get_by_role("img", name="works from")).to_have_count(3)
    assert _query(page)["goal"] == ["null"]

    best.get_by_role("link", name="Rehearse this").click()
    bench.wait_for_rest()
    # eE = evB: no deflection to speak of, though either field alone would bend the beam.
    reading = page.locator(".readings div", has_text="Deflection at").locator("dd")
    assert float(reading.inner_text().split()[0]) < 1.5
    assert _query(page)["goal"] == ["null"]

    go(page, "Wiring")
    leads = page.get_by_role("list", name="Leads").get_by_role("listitem")
    expect(leads.first).to_contain_text("anode → protective earth", timeout=PATIENCE)
    expect(page.get_by_role("region", name="Wiring diagram").locator("svg")).to_be_visible()
    page.get_by_role("radio", name="cathode").check(force=True)
    expect(leads.first).to_contain_text("cathode → protective earth", timeout=PATIENCE)
    expect(page.get_by_text("The beam moves up by about")).to_be_visible()

    go(page, "Safety")
    expect(page.get_by_text("Kept", exact=True).first).to_be_visible()
    page.get_by_label("Run time").fill("40")
    page.get_by_label("Run time").press("Enter")
    expect(page.get_by_text("after 40 min").first).to_be_visible()

    go(page, "Sheet")
    expect(page.get_by_role("heading", name="Straighten the beam")).to_be_visible(timeout=PATIENCE)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the PDF").click()
    content = download.value.path().read_bytes()
    assert content.startswith(b"%PDF-")
    assert download.value.suggested_filename.endswith("deflection-tube.pdf")
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as Markdown").click()
    text = download.value.path().read_text("utf-8")
    # What was chosen on the way is on the sheet: goal, plan's windows, earthed point, run time.
    assert "Straighten the beam in crossed fields" in text
    assert re.search(r"cathode\W+protective earth", text)
    assert "run of 40 min" in text
    assert "works" in page.get_by_role("region", name="What is on the sheet").inner_text()

    # The browser's own viewer of PDFs asks for its own parts, by schemes of its own.
    asked = [urlparse(url) for url in bench.asked_for]
    hosts = {each.hostname for each in asked if each.scheme in ("http", "https", "ws", "wss")}
    assert hosts == {"127.0.0.1"}
    assert bench.trouble == []


def test_a_refusal_names_the_rating_and_loads_the_nearest(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"plan?{TUBE}&accelerating_voltage=3000").page
    page.get_by_role("radio", name="Deflect the beam with the coils").check()
    page.get_by_label("Coil current to stay at").fill("10 mA")
    page.get_by_role("button", name="Find").click()
    refusal = page.get_by_role("region", name="Refusal")
    # 10 mA bends by 9 mm only a beam far slower than the gun gives: its rating starts at 450 V.
    expect(refusal).to_contain_text("The gun needs at least 450 V.", timeout=PATIENCE)
    expect(refusal.get_by_role("heading", name="What would help")).to_be_visible()
    nearest = refusal.get_by_role("link", name="Rehearse this").first
    nearest.click()
    page.wait_for_url(re.compile(r"/\?"))
    told = _query(page)
    assert float(told["accelerating_voltage"][0]) == pytest.approx(450, rel=0.05)
    assert float(told["coil_current"][0]) == pytest.approx(0.01)


@pytest.mark.thorough
def test_words_of_a_shot_that_were_changed_stand_in_the_scripts_window(
    open_at: Callable[[str], Bench], server: Server
) -> None:
    page = open_at(f"sheet?{CROSSED}").page
    page.get_by_role("radio", name="webcam").check(force=True)
    said = page.get_by_role("textbox", name="What is said in shot 3")
    expect(said).to_have_value(re.compile("Every electron gains"), timeout=PATIENCE)
    said.fill("Now there is a beam.")
    said.press("Tab")
    expect(page).to_have_url(re.compile("say.3=Now"))
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Open the script’s window").click()
    script = opened.value
    expect(script.get_by_text("Now there is a beam.")).to_be_visible(timeout=PATIENCE)
    script.keyboard.press("PageDown")
    script.keyboard.press("PageDown")
    expect(script.locator("section.is-now .say")).to_have_text("Now there is a beam.")


@pytest.mark.thorough
def test_a_changed_bench_is_planned_with_and_leads_back(open_at: Callable[[str], Bench]) -> None:
    wish = "goal=full circle&aim.diameter=0.03&hold.accelerating_voltage=300"
    page = open_at(f"plan?bench=ready-made/fine-beam bulb&{wish}").page
    page.get_by_role("button", name="Plan with this bench").click(timeout=PATIENCE)
    # The smaller circle asks for a stronger field: more turns give it at a current that is allowed.
    answer = page.get_by_role("region", name="Answer 1")
    expect(answer).to_contain_text("300 V", timeout=PATIENCE)
    told = _query(page)
    turns = int(re.fullmatch(r"saved/fine-beam bulb, (\d+) turns", told["bench"][0])[1])
    assert turns > ready_made("fine-beam bulb").coils.turns
    assert told["goal"] == ["full circle"]
    page.reload()
    page.get_by_role("link", name="Back to fine-beam bulb").click(timeout=PATIENCE)
    expect(page.get_by_role("region", name="Refusal")).to_be_visible(timeout=PATIENCE)
    assert _query(page)["bench"] == ["ready-made/fine-beam bulb"]
    assert _query(page)["aim.diameter"] == ["0.03"]


@pytest.mark.thorough
def test_a_search_can_be_given_up(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"plan?{TUBE}&goal=turn-back&aim.depth=0.0082").page
    page.wait_for_function(
        "document.querySelector('.working progress')?.value > 0", timeout=PATIENCE
    )
    page.get_by_role("button", name="Cancel").click()
    expect(page.get_by_text("Given up before it was done.")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_role("button", name="Cancel")).to_be_hidden()


def test_goals_that_do_not_suit_are_grey_and_say_why(open_at: Callable[[str], Bench]) -> None:
    page = open_at("plan?bench=ready-made/fine-beam bulb").page
    expect(page.get_by_role("radio", name="Straighten the beam")).to_be_disabled()
    expect(page.get_by_text("Not here: the bench has no plates.").first).to_be_visible()
    expect(page.get_by_role("radio", name="full circle")).to_be_enabled()


def test_a_senseless_target_is_told_beside_its_field(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"plan?{TUBE}&goal=null").page
    page.get_by_label("length").fill("ninety")
    page.get_by_role("button", name="Find").click()
    expect(page.locator(".target:has(input[name=length]) + .field-complaint")).to_contain_text(
        "ninety"
    )


@pytest.mark.thorough
def test_a_point_of_the_map_is_loaded_on_the_knobs(open_at: Callable[[str], Bench]) -> None:
    bench = open_at(f"outcomes?{CROSSED}&{WHOLE}")
    page = bench.page
    legend = page.get_by_role("list", name="What happens")
    expect(legend).to_contain_text("hits the lower plate", timeout=PATIENCE)
    expect(page.get_by_text("the coil pair is rated 1.9 A")).to_be_visible()
    plot = page.get_by_role("application")
    box = plot.bounding_box()
    assert box is not None
    # Far too much current for the plates: the coils pull the beam down (the hand rule).
    place = {"x": 0.1 * box["width"], "y": 0.5 * box["height"]}
    plot.hover(position=place)
    here = page.locator(".here")
    expect(here).to_contain_text("hits the lower plate")
    expect(here).to_contain_text("480 V, 950 mA")
    plot.click(position=place)
    page.wait_for_url(re.compile(r"/\?"))
    bench.wait_for_rest()
    plates = bench.knob("Plate voltage").get_attribute("aria-valuetext") or ""
    assert float(plates.removesuffix(" kV")) == pytest.approx(0.48)
    current = bench.knob("Coil current").get_attribute("aria-valuetext") or ""
    assert float(current.removesuffix(" A")) == pytest.approx(0.95, abs=0.01)
    expect(page.get_by_text("lower plate", exact=False).first).to_be_visible()
    page.go_back()
    expect(legend).to_contain_text("hits the lower plate", timeout=PATIENCE)


@pytest.mark.thorough
def test_the_map_by_keyboard(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"outcomes?{CROSSED}&{WHOLE}").page
    expect(page.get_by_role("list", name="What happens")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("application").focus()
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowUp"):
        page.keyboard.press(key)
    # From 450 V, 62 mA: two steps of 1 % of 4.8 kV, one of 5 % of 1.9 A, on the map's round steps.
    expect(page.locator(".here")).to_contain_text("550 V, 155 mA")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/\?"))
    assert float(_query(page)["plate_voltage"][0]) == pytest.approx(550)
    assert float(_query(page)["coil_current"][0]) == pytest.approx(0.155)


@pytest.mark.thorough
def test_a_stop_is_large_and_on_the_sheet(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"safety?{BEYOND}").page
    stop = page.get_by_role("status").filter(has_text="Do not switch on")
    expect(stop).to_be_visible(timeout=PATIENCE)
    assert (
        float(stop.locator(".verdict").evaluate("e => parseFloat(getComputedStyle(e).fontSize)"))
        > 40
    )
    go(page, "Wiring")
    expect(page.get_by_role("alert").first).to_contain_text(
        "the gun is rated 4.8 kV", timeout=PATIENCE
    )
    go(page, "Sheet")
    expect(page.get_by_text("Do not switch on. The sheet says so")).to_be_visible(timeout=PATIENCE)
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as Markdown").click()
    assert "stop" in download.value.path().read_text("utf-8")[:200].lower()


def test_a_wrong_address_is_told_and_nothing_breaks(open_at: Callable[[str], Bench]) -> None:
    page = open_at(f"safety?{TUBE}&goal=levitate").page
    expect(page.get_by_role("alert").first).to_contain_text("levitate")
    expect(page.get_by_text("Kept", exact=True).first).to_be_visible()


@pytest.mark.thorough
@pytest.mark.parametrize("path", PAGES)
def test_a_phone_scrolls_down_only(context: BrowserContext, server: Server, path: str) -> None:
    page = context.new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{server.address}{path}?{CROSSED}&goal=null")
    shown = {"plan": ".answer", "outcomes": ".legend", "wiring": ".leads", "safety": ".lines",
             "sheet": ".contents"}[path]  # fmt: skip
    expect(page.locator(shown).first).to_be_visible(timeout=PATIENCE)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
