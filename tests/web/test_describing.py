"""A bench is described on the page alone: from a kind of tube to a saved one on the table."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from visitor import PATIENCE

from glowtrace.bench.ready_made import ready_made

pytestmark = pytest.mark.browser


def _type(page: Page, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True).first
    field.fill(text)


def test_a_tube_of_ones_own_is_described_saved_and_rehearsed(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("bench")
    state = page.locator(".describing-state")
    expect(state).to_have_text("All numbers agree with each other.", timeout=PATIENCE)
    _type(page, "Name", "blue cabinet")
    plates = ready_made("deflection tube").plates
    assert plates is not None
    too_high = f"{1e3 * plates.gap + 1:.0f}"  # the sheet would touch a plate
    _type(page, "Sheet, height", too_high)
    expect(state).to_contain_text("to put right", timeout=PATIENCE)
    screen = page.locator(".number", has_text="Sheet, height")
    expect(screen.get_by_role("alert")).to_contain_text(f"{too_high} mm", timeout=PATIENCE)
    marked = page.locator(".dimension.is-wrong[data-number='screen.height']")
    expect(marked).to_have_count(1)
    expect(page.get_by_role("button", name="Save", exact=True)).to_be_disabled()
    page.reload()  # nothing that was typed is lost
    expect(page.get_by_label("Sheet, height")).to_have_value(too_high, timeout=PATIENCE)
    _type(page, "Sheet, height", "1,2 cm")
    expect(state).to_have_text("All numbers agree with each other.", timeout=PATIENCE)
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url("**/bench?bench=saved*blue+cabinet*", timeout=PATIENCE)
    expect(page.get_by_label("Sheet, height")).to_have_value("12", timeout=PATIENCE)
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Measuring sheet (PDF)").click()
    assert waiting.value.suggested_filename == "measuring-sheet-blue-cabinet.pdf"
    page.get_by_role("button", name="Rehearse this").click()
    page.wait_for_url("**/?bench=saved*blue+cabinet*", timeout=PATIENCE)


@pytest.mark.thorough
def test_undo_brings_back_what_was_typed_over(open_page: Callable[..., Page]) -> None:
    page = open_page("bench")
    gap = page.get_by_label("Plates, gap", exact=True)
    before = gap.input_value(timeout=PATIENCE)
    drawn = page.locator(".describing-drawing [data-number='plates.gap'] > path")
    first = drawn.get_attribute("d", timeout=PATIENCE) or ""
    gap.fill("33")
    expect(drawn).not_to_have_attribute("d", first, timeout=PATIENCE)
    page.get_by_role("button", name="Undo").click()
    expect(gap).to_have_value(before, timeout=PATIENCE)
    page.get_by_role("button", name="Circle in gas").click()
    expect(gap).to_have_count(0, timeout=PATIENCE)
    page.get_by_role("button", name="Undo").click()
    expect(gap).to_have_value(before, timeout=PATIENCE)
