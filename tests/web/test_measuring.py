"""Measuring in a real browser: readings to a result, bad cells, the logbook, a phone."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from scipy import constants
from visitor import PATIENCE, Server, go

from glowtrace.bench.model import CoilPair
from glowtrace.bench.ready_made import ready_made

pytestmark = pytest.mark.browser

BULB = "measure?bench=ready-made%2Ffine-beam+bulb&accelerating_voltage=200.0&coil_current=1.5"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of its own, as the logbook is counted."""
    server = Server(tmp_path_factory.mktemp("data"))
    yield server
    server.kill()


def circle_rows() -> list[tuple[float, float, float]]:
    """Rows D (mm), V_a (V), I (A): r = sqrt(2 V m / e) / B and B = (4/5)^(3/2) mu_0 N I / R.

    Source of both formulas: any text on electromagnetism; constants from CODATA in scipy.
    """
    coils = ready_made("fine-beam bulb").coils
    assert isinstance(coils, CoilPair)
    per_ampere = 0.8**1.5 * constants.mu_0 * coils.turns / coils.mean_radius
    ratio = constants.e / constants.m_e
    return [
        (2e3 * math.sqrt(2 * voltage / ratio) / (per_ampere * current), voltage, current)
        for voltage, current in ((160.0, 1.4), (180.0, 1.3), (200.0, 1.5), (240.0, 1.6))
    ]


def paste(page: Page, text: str) -> None:
    """Paste into the first cell, as a spreadsheet's cells come."""
    page.locator(".cells input").first.evaluate(
        """(input, text) => {
          const clipboardData = new DataTransfer();
          clipboardData.setData("text/plain", text);
          const how = { clipboardData, bubbles: true, cancelable: true };
          input.dispatchEvent(new ClipboardEvent("paste", how));
        }""",
        text,
    )


def fill_and_fit(page: Page) -> None:
    lines = ["\t".join(f"{value:.5g}" for value in row) for row in circle_rows()]
    paste(page, "\n".join(lines))
    expect(page.get_by_text("4 rows count.")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("radio", name="uniform", exact=True).check(force=True)
    page.get_by_role("button", name="Fit", exact=True).click()
    page.wait_for_selector(".result-value")


@pytest.mark.thorough
def test_readings_lead_to_the_accepted_value(open_page: Callable[..., Page]) -> None:
    page = open_page(BULB)
    fill_and_fit(page)
    text = page.inner_text(".result-value")
    found = re.match(r"(\d\.\d+)\(\d+\) × 1011 C/kg", text)
    assert found, text
    assert float(found[1]) == pytest.approx(constants.e / constants.m_e / 1e11, rel=2e-3)
    assert "agrees with the accepted value" in page.inner_text(".result")
    shares = page.locator(".budget .share-words").all_inner_texts()
    total = math.fsum(float(share.removesuffix(" %")) for share in shares)
    assert total == pytest.approx(100.0, abs=1.0)  # independent lines: GUM 5.1.2
    assert page.locator(".fit-chart circle").count() == 2 * len(circle_rows())
    expect(page.locator(".check")).to_contain_text("Monte Carlo", timeout=PATIENCE)


def test_impossible_and_missing_values_are_marked_where_they_stand(
    open_page: Callable[..., Page],
) -> None:
    page = open_page(BULB)
    paste(page, "82\t200\t1.5\n\t200\t1.5\n82\t-5\tlots")
    expect(page.get_by_text("1 of 3 rows count")).to_be_visible(timeout=PATIENCE)
    bad = page.locator(".cells input[aria-invalid=true]")
    expect(bad).to_have_count(3, timeout=PATIENCE)
    expect(page.locator(".cells-fault")).to_have_count(3, timeout=PATIENCE)
    assert [each.get_attribute("aria-label") for each in bad.all()] == [
        "diameter, row 2",
        "accelerating voltage, row 3",
        "coil current, row 3",
    ]
    reasons = page.locator(".cells-fault").all_inner_texts()
    assert reasons[0] == "missing"
    assert reasons[1].startswith("impossible: allowed is 1 V to 60 kV")
    assert reasons[2].startswith("cannot be read")
    assert page.get_by_label("coil current, row 3", exact=True).input_value() == "lots"
    page.get_by_label("diameter, row 2", exact=True).fill("81,5")
    page.keyboard.press("Enter")
    expect(page.get_by_text("2 of 3 rows count")).to_be_visible(timeout=PATIENCE)
    below = "document.activeElement.ariaLabel === 'diameter, row 3'"
    page.wait_for_function(below, timeout=PATIENCE)


def test_a_result_is_kept_in_the_logbook_and_comes_back(open_page: Callable[..., Page]) -> None:
    page = open_page(BULB)
    fill_and_fit(page)
    page.locator(".fitted").get_by_role("button", name="Save to the logbook").click()
    expect(page.get_by_text("Saved to the logbook, with bench")).to_be_visible(timeout=PATIENCE)
    go(page, "Logbook")
    page.locator(".entry-line").first.click()
    knobs = page.get_by_role("link", name="Set the knobs like this")
    assert "accelerating_voltage=200.0&coil_current=1.5" in (knobs.get_attribute("href") or "")
    page.get_by_label("Words in it").fill("no such words")
    expect(page.get_by_text("Nothing fits these filters.")).to_be_visible(timeout=PATIENCE)
    go(page, "Measure")
    first = page.get_by_label("diameter, row 1", exact=True)
    expect(first).to_have_value(f"{circle_rows()[0][0]:.5g}", timeout=PATIENCE)
    first.fill("77")
    first.press("Enter")
    expect(page.locator(".cells-size").first).to_be_visible(timeout=PATIENCE)
    kept = "Object.values(localStorage).some((text) => text.includes('77'))"
    page.wait_for_function(kept, timeout=PATIENCE)
    page.go_back()
    page.get_by_role("link", name="Open the readings").click()
    expect(first).to_have_value(f"{circle_rows()[0][0]:.5g}", timeout=PATIENCE)
    go(page, "Measure")
    expect(first).to_have_value("77", timeout=PATIENCE)  # opening an entry takes nothing away


@pytest.mark.thorough
def test_another_method_is_chosen_and_each_keeps_its_readings(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("measure?bench=ready-made%2Fdeflection+tube")
    paste(page, "40\t4\t3000\t0.2")
    expect(page.get_by_text("1 row counts.")).to_be_visible(timeout=PATIENCE)
    page.get_by_label("Method", exact=True).select_option("null")
    expect(page.get_by_label("plate voltage, row 1", exact=True)).to_have_value("")
    expect(page.get_by_text("0 rows count.")).to_be_visible(timeout=PATIENCE)
    page.get_by_label("Method", exact=True).select_option("coils only")
    expect(page.get_by_label("y, row 1", exact=True)).to_have_value("4")


@pytest.mark.thorough
def test_table_goes_out_and_in_with_what_is_written_about_the_meters(
    open_page: Callable[..., Page], tmp_path: Path
) -> None:
    page = open_page(BULB)
    paste(page, "82\t200\t1.5\n71\t200\t1.72")
    expect(page.get_by_text("2 rows count.")).to_be_visible(timeout=PATIENCE)
    limits = page.get_by_label("Ammeter: limits of error")
    limits.fill("lots")
    limits.press("Tab")
    expect(page.locator(".field-complaint", has_text="2 digits")).to_be_visible(timeout=PATIENCE)
    limits.fill("0.5 % of reading + 3 digits")
    step = page.get_by_label("Ammeter: smallest step")
    step.fill("10 mA")
    step.press("Tab")
    # A step q is known to q / sqrt(12): GUM F.2.2.1.
    size = f"± {0.01 / math.sqrt(12):.2g}"
    expect(page.locator(".cells-size").nth(2)).to_have_text(size, timeout=PATIENCE)
    with page.expect_download() as sent:
        page.get_by_role("button", name="Save as CSV").click()
    file = tmp_path / "readings.csv"
    sent.value.save_as(file)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy all").click()
    expect(page.get_by_text("paste it into a spreadsheet")).to_be_visible(timeout=PATIENCE)
    copied = page.evaluate("navigator.clipboard.readText()")
    ammeter = "# instrument coil_current: resolution 10 mA, gain_limit 0.005, zero_limit 30 mA"
    assert ammeter in copied.splitlines()
    assert copied.replace("\t", ",") == file.read_text()
    page.get_by_role("button", name="Clear").click()
    expect(page.get_by_text("0 rows count.")).to_be_visible(timeout=PATIENCE)
    page.locator(".measuring-readings input[type=file]").set_input_files(file)
    expect(page.get_by_text("2 rows count.")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_label("diameter, row 2", exact=True)).to_have_value("71")
    expect(step).to_have_value("10 mA")


@pytest.mark.thorough
def test_calibration_is_kept_with_the_bench_and_used(open_page: Callable[..., Page]) -> None:
    page = open_page(BULB)
    page.get_by_role("radio", name="the tube’s constants").check(force=True)
    fill_and_fit(page)
    # The coils act as the closed form has them: the factor is 1, but for mass and round figures.
    found = re.search(r"Coil factor (\d\.\d+)\((\d+)\)", page.inner_text(".result"))
    assert found
    assert float(found[1]) == pytest.approx(1.0, abs=0.01)
    page.get_by_role("button", name="Keep with the bench and use").click()
    expect(page.get_by_text("Kept with the bench")).to_be_visible(timeout=PATIENCE)
    page.reload()
    choice = page.get_by_label("Calibration of the tube").locator("option:checked")
    expect(choice).to_contain_text(f"coil factor {found[1]}({found[2]})", timeout=PATIENCE)
    page.get_by_role("radio", name="uniform", exact=True).check(force=True)
    page.get_by_role("button", name="Fit", exact=True).click()
    page.wait_for_selector(".result-value")
    assert "coil constant" in page.locator(".fitted > .budget").inner_text()
    page.get_by_label("Calibration of the tube").select_option("none")
    expect(page.get_by_role("button", name="Save it as a file")).to_be_hidden(timeout=PATIENCE)


def test_what_is_known_of_the_tube_counts_with_its_uncertainty(
    open_page: Callable[..., Page],
) -> None:
    page = open_page(BULB)
    page.get_by_text("Constants of the tube", exact=True).click()
    voltage = page.get_by_label("Contact potentials")
    for text, complaint in (("3 mm", "this is a length"), ("± 0.5 V", "")):
        voltage.fill(text)
        voltage.press("Tab")
        wrong = page.locator(".constants .field-complaint").nth(1)
        expect(wrong).to_contain_text(complaint, timeout=PATIENCE)
    expect(wrong).to_be_empty(timeout=PATIENCE)
    fill_and_fit(page)
    line = page.locator(".fitted > .budget tr", has_text="contact potentials")
    # e/m goes with V: half a volt of about 195 V, which no fit would find better (GUM 5.1.6).
    told = re.search(r"(\d+\.\d+) %", line.inner_text())
    assert told
    voltages = [voltage for _, voltage, _ in circle_rows()]
    part = 100 * 0.5 / (sum(voltages) / len(voltages))
    assert float(told[1]) == pytest.approx(part, rel=0.15)


@pytest.mark.thorough
def test_constants_and_choices_survive_a_reload(open_page: Callable[..., Page]) -> None:
    page = open_page(BULB)
    page.get_by_text("Constants of the tube", exact=True).click()
    constant = page.get_by_label("Coil constant")
    constant.fill("0.780(8) mT/A")
    constant.press("Tab")
    page.get_by_role("radio", name="count less").check(force=True)
    kept = "Object.values(localStorage).some((text) => /0.780.*huber/.test(text))"
    page.wait_for_function(kept, timeout=PATIENCE)
    page.reload()
    expect(constant).to_have_value("0.780(8) mT/A", timeout=PATIENCE)
    expect(constant).to_be_visible()  # what counts in the fit is not folded away
    expect(page.get_by_role("radio", name="count less")).to_be_checked(timeout=PATIENCE)


@pytest.mark.thorough
def test_what_does_not_fit_is_told_and_what_was_cleared_comes_back(
    open_page: Callable[..., Page],
) -> None:
    page = open_page(BULB)
    paste(page, "82.5,200,1.5\n71.0,200,1.72")  # parted by commas, as from a text editor
    expect(page.get_by_text("2 rows count.")).to_be_visible(timeout=PATIENCE)
    paste(page, "1\t90\t250\t1.5")  # with the number of the row
    expect(page.get_by_text("What was copied is 4 cells wide")).to_be_visible(timeout=PATIENCE)
    first = page.get_by_label("diameter, row 1", exact=True)
    expect(first).to_have_value("82.5")
    page.get_by_role("button", name="Clear", exact=True).click()
    expect(first).to_have_value("", timeout=PATIENCE)
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(first).to_have_value("82.5", timeout=PATIENCE)


@pytest.mark.thorough
def test_a_saved_measurement_opens_again_with_its_choices(
    open_page: Callable[..., Page], tmp_path: Path
) -> None:
    page = open_page(BULB)
    fill_and_fit(page)
    result = page.inner_text(".result-value")
    file = tmp_path / "measurement.json"
    with page.expect_download() as sent:
        page.get_by_role("button", name="JSON", exact=True).click()
    sent.value.save_as(file)
    page.get_by_role("radio", name="real geometry").check(force=True)
    expect(page.get_by_text("Something else is chosen above now")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Clear", exact=True).click()
    expect(page.get_by_text("0 rows count.")).to_be_visible(timeout=PATIENCE)
    page.locator(".readings-ways input[type=file]").first.set_input_files(file)
    expect(page.get_by_text("The saved measurement is here")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_role("radio", name="uniform", exact=True)).to_be_checked(timeout=PATIENCE)
    page.get_by_role("button", name="Fit", exact=True).click()
    page.wait_for_selector(".result-value")
    assert page.inner_text(".result-value") == result
    page.goto(page.url.split("?")[0] + "?bench=ready-made%2Fdeflection+tube")
    page.locator(".readings-ways input[type=file]").first.set_input_files(file)
    told = page.get_by_text('made on the bench "fine-beam bulb"')
    expect(told).to_be_visible(timeout=PATIENCE)


@pytest.mark.thorough
def test_parallax_is_told_for_this_bench(open_page: Callable[..., Page]) -> None:
    page = open_page(BULB)
    fill_and_fit(page)
    for label, text in (("Scale to trace", "50 mm"), ("Eye to scale", "45 cm")):
        page.get_by_label(label).fill(text)
        page.get_by_label(label).press("Tab")
    page.get_by_role("button", name="Compute the effects").click()
    effect = page.locator(".effects tr", has_text="parallax")
    expect(effect).to_be_visible(timeout=PATIENCE)
    # Similar triangles: a length is read as 450 mm / 500 mm of itself, and e/m goes with 1 / D^2.
    told = re.search(r"([+−][\d.]+) %", effect.inner_text())
    assert told
    assert float(told[1]) == pytest.approx(100 * (0.9**-2 - 1), abs=0.3)


@pytest.mark.thorough
def test_logbook_is_filtered_withdrawn_from_and_carried_away(
    open_page: Callable[..., Page], tmp_path: Path
) -> None:
    page = open_page(BULB)
    paste(page, "82\t200\t1.5")
    expect(page.get_by_text("1 row counts.")).to_be_visible(timeout=PATIENCE)
    page.locator(".measuring-readings").get_by_role("button", name="Save to the logbook").click()
    expect(page.get_by_text("Saved to the logbook.")).to_be_visible(timeout=PATIENCE)
    go(page, "Logbook")
    lines = page.locator(".entry-line")
    ours = lines.filter(has_text="Circle in gas, 1 reading")
    expect(ours).to_have_count(1, timeout=PATIENCE)
    page.get_by_label("Kind").select_option("note")
    expect(page.get_by_text("Nothing fits these filters.")).to_be_visible(timeout=PATIENCE)
    page.get_by_label("Kind").select_option("readings")
    expect(lines).to_have_count(1, timeout=PATIENCE)
    page.get_by_label("from this day").fill("2999-01-01")
    expect(page.get_by_text("Nothing fits these filters.")).to_be_visible(timeout=PATIENCE)
    page.get_by_label("from this day").fill("")
    page.get_by_role("switch", name="This bench only").click()
    expect(ours).to_have_count(1, timeout=PATIENCE)
    with page.expect_download() as sent:
        page.get_by_role("link", name="Save the whole logbook as a file").click()
    assert sent.value.suggested_filename.startswith("glowtrace-logbook-")
    with page.expect_download() as sent:
        page.get_by_role("link", name="Save everything as a backup").click()
    assert sent.value.suggested_filename.startswith("glowtrace-backup-")
    file = tmp_path / "backup.zip"
    sent.value.save_as(file)
    ours.click()
    page.get_by_text("Withdraw this entry").click()
    page.get_by_label("Why").fill("wrong range")
    page.get_by_role("button", name="Withdraw", exact=True).click()
    expect(page.get_by_text("withdrawn: wrong range")).to_be_visible(timeout=PATIENCE)
    expect(ours).to_have_count(0)
    # Taking the file in brings nothing back: what was withdrawn stays so.
    page.locator(".logbook input[type=file]").set_input_files(file)
    expect(page.get_by_text("Taken in: 0 new entries")).to_be_visible(timeout=PATIENCE)
    expect(ours).to_have_count(0)


@pytest.mark.thorough
@pytest.mark.parametrize("path", ["measure", "logbook"])
def test_a_phone_scrolls_only_downwards_and_asks_nobody_else(
    open_page: Callable[..., Page], server: Server, path: str
) -> None:
    page = open_page("logbook", viewport={"width": 390, "height": 844})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    page.goto(f"{server.address}{path}?bench=ready-made%2Fdeflection+tube")
    page.wait_for_selector(".entries" if path == "logbook" else ".cells input", state="attached")
    page.wait_for_timeout(500)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    here = server.address.removeprefix("http://")
    assert asked
    own = ("data:", "blob:")
    assert [url for url in asked if here not in url and not url.startswith(own)] == []
