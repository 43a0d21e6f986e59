"""An entry of the logbook, opened."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from nicegui import ui

from glowtrace.demos.opening import opening_settings
from glowtrace.errors import GlowtraceError
from glowtrace.measure.suiting import TITLES
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.store.entry import Entry
from glowtrace.units import fixed, format_measurement
from glowtrace.web.controls import box, hint, put_fact, words
from glowtrace.web.measure.cells import symbol_html
from glowtrace.web.measure.draft import draft_of
from glowtrace.web.measure.logbook_files import PHOTOGRAPH
from glowtrace.web.measure.writing import power_html
from glowtrace.web.naming import knob_facts
from glowtrace.web.preparation import Preparation
from glowtrace.web.rack import Rack
from glowtrace.words.bench import model_told

_MOST_ROWS = 60
_WHY = "(event) => { event.preventDefault(); emit(new FormData(event.target).get('why')); }"


def put_entry(
    rack: Rack, entry: Entry, say: Callable[[str], None], on_withdraw: Callable[[str, str], object]
) -> None:
    """Put an entry on the page: bench, settings, readings, photographs, and the ways on.

    To withdraw it, `on_withdraw` is called with its id and why.
    """
    title = power_html(escape(entry.title))
    ui.html(title, sanitize=False, tag="h2").classes("title entry-title")
    about = [entry.kind, f"{entry.created.astimezone():%d %b %Y, %H:%M}"]
    if entry.is_withdrawn:
        about.append(f"withdrawn{': ' + entry.reason if entry.reason else ''}")
    hint(" · ".join(about))
    try:
        _put_setup(rack, entry)
    except GlowtraceError as error:
        say(str(error))
    readings = readings_of(entry)
    if readings is not None:
        hint("Above: the knobs of the page when it was saved. The readings have their own.")
        _put_fit(entry)
        _put_readings(readings)
    if entry.kind == "lesson":
        _put_class(entry)
    for label in entry.attachments:
        if label.media_type.startswith("image/"):
            picture = ui.element("img").classes("entry-photograph")
            picture.props["src"] = f"{PHOTOGRAPH}/{label.checksum}"
            picture.props["alt"] = f"Attached photograph: {label.name}"
        else:
            hint(f"Attached: {label.name}, {label.size} bytes")
    if not entry.is_withdrawn:
        _put_withdrawal(lambda reason: on_withdraw(entry.id, reason))


def readings_of(entry: Entry) -> Table | None:
    """Give the readings that an entry holds; None where it holds none that can be read."""
    payload: Any = entry.payload
    text = payload.get("readings") if isinstance(payload, Mapping) else None
    if not isinstance(text, str):
        return None
    try:
        return read_table(text)
    except GlowtraceError:
        return None


def _put_fit(entry: Entry) -> None:
    """Say which model gave a result, and how well it fits, where the entry tells."""
    payload: Any = entry.payload
    try:
        model, fit = payload["measurement"]["model"], payload["measurement"]["result"]
        words(f"Computed with {model_told(model)}. Fit {fit['verdict']}.", "p")
    except (KeyError, TypeError):  # readings without a fit
        return


def _put_class(entry: Entry) -> None:
    """Show what a class measured: the pooled value, and what each group read and found."""
    payload: Any = entry.payload
    try:
        groups = {each["group"]: each for each in payload["result"]["groups"]}
        rows = [
            (
                f"{one['group']}",
                str(one["gets"]),
                "; ".join(map(str, one["typed"])),
                _group_value(groups[one["group"]]),
            )
            for one in payload["readings"]
        ]
        pooled = payload["result"].get("pooled")
        told = ""
        if pooled is not None:
            numbers = pooled["specific_charge"], pooled["uncertainty"]
            value = format_measurement(*numbers, "C/kg", style="html")
            birge = fixed(pooled["birge_ratio"], 1)
            told = f"e/m = {value} from {len(groups)} groups, Birge ratio {birge}"
    except (KeyError, TypeError, ValueError):  # of another program
        return
    if told:
        ui.html(told, sanitize=False, tag="p").classes("large")
    with box("table entry-readings", "table"):
        with ui.element("thead"), ui.element("tr"):
            for head in ("Group", "Gets", "Reads", "e/m"):
                words(head, "th").props('scope="col"')
        with ui.element("tbody"):
            for row in rows[:_MOST_ROWS]:
                with ui.element("tr"):
                    for cell in row[:-1]:
                        words(cell, "td")
                    ui.html(row[-1], sanitize=False, tag="td")


def _group_value(group: Mapping[str, Any]) -> str:
    """Give a group's e/m as HTML, or why there is none."""
    value = group["specific_charge"]
    if value is None:
        return escape(str(group["trouble"]))
    note = ", lies out" if group["lies_out"] else ""
    return format_measurement(value, group["own_uncertainty"], "C/kg", style="html") + note


def _put_withdrawal(on_withdraw: Callable[[str], object]) -> None:
    with box("fold", "details"):
        words("Withdraw this entry", "summary")
        hint("It stays in the logbook for good, marked, and is left out of the list.")
        with box("field-row", "form") as form:
            why = ui.element("input").classes("field")
            why.props('name="why" maxlength="200" autocomplete="off"')
            why.props["placeholder"] = why.props["aria-label"] = "Why (may be left empty)"
            words("Withdraw", "button", "key").props('type="submit"')
        form.on("submit", lambda event: on_withdraw(str(event.args)), js_handler=_WHY)


def _put_setup(rack: Rack, entry: Entry) -> None:
    bench, settings = entry.bench, entry.settings
    if bench is None:
        return
    with box("facts", "dl").props('aria-label="Bench and settings"'):
        put_fact("Bench", bench.name, "an invented bench" if bench.invented else "")
        for fact in () if settings is None else knob_facts(bench, settings):
            put_fact(*fact)
    preparation = Preparation(rack.take_in(bench), settings or opening_settings(bench))
    with box("ways-on"):
        if settings is not None:
            link = words("Set the knobs like this", "a", "key is-main")
            link.props["href"] = preparation.at("/")
        if readings_of(entry) is not None:
            link = words("Open the readings", "a", "key")
            link.props["href"] = f"{preparation.at('/measure')}&entry={entry.id}"


def _put_readings(readings: Table) -> None:
    draft = draft_of(readings)
    count = len(readings.rows)
    noun = "reading" if count == 1 else "readings"
    words(f"{TITLES[readings.method]}: {count} {noun}", "h3")
    if readings.is_invented:
        words("Invented readings: made up for trying, measured by nobody.", "p", "attention")
    with box("table entry-readings", "table"):
        with ui.element("thead"), ui.element("tr"):
            for column in readings.columns:
                ui.html(symbol_html(column.head), sanitize=False, tag="th")
        with ui.element("tbody"):
            for row in draft.rows[:_MOST_ROWS]:
                with ui.element("tr"):
                    for cell in row:
                        words(cell or "–", "td")
    if len(draft.rows) > _MOST_ROWS:
        hint(f"and {len(draft.rows) - _MOST_ROWS} more")
    for number, fault in readings.faults.items():
        words(f"Row {number + 1}: {fault}", "p", "attention")
