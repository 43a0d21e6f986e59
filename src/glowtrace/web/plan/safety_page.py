"""Safety: every line with its limit, its source and a verdict; the order of switching."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Final

from nicegui import background_tasks, ui

from glowtrace.errors import GlowtraceError
from glowtrace.safety.lines import Verdict
from glowtrace.safety.review import SafetyReport, check_safety
from glowtrace.web.controls import asked, box, words
from glowtrace.web.frame import Frame
from glowtrace.web.naming import read_field
from glowtrace.web.preparation import Preparation
from glowtrace.words.safety import ToldLine, margin_words, told_report

ORDER: Final[dict[Verdict, int]] = {"stop": 0, "attention": 1, "ok": 2}
WORDS: Final[dict[Verdict, str]] = {"stop": "Stop", "attention": "Attention", "ok": "Kept"}
SHAPES: Final[dict[Verdict, str]] = {
    "stop": '<path d="M8 1.5h8l6.5 6.5v8l-6.5 6.5H8L1.5 16V8z" fill="currentColor"/>'
    '<path d="M7 12h10" stroke="var(--ground)" stroke-width="3"/>',
    "attention": '<path d="M12 2.5L22.5 21.5H1.5z"/><path d="M12 9.5v6M12 18.2v.6"/>',
    "ok": '<circle cx="12" cy="12" r="10"/><path d="M7 12.5l3.5 3.5 6.5-7.5"/>',
}
_PEN: Final = (
    'fill="none" stroke="currentColor" stroke-width="2" stroke-linecap="round" '
    'stroke-linejoin="round"'
)
SUMMARY: Final[dict[Verdict, str]] = {
    "stop": "Do not switch on",
    "attention": "Heed the lines marked attention",
    "ok": "Every limit that was checked is kept",
}


class SafetyPage:
    """The page."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        preparation = frame.preparation
        with frame.body:
            with box("row take"):
                asked("Run time", f"{preparation.run_minutes:g} min", self._run_time)
                asked("Room", f"{preparation.room_temperature - 273.15:g} °C", self._room)
            self._shown = box("safety").props('aria-live="polite"')

    async def run(self) -> None:
        """Show the check."""
        await self._check(self._frame.preparation)

    def _run_time(self, typed: str) -> None:
        try:
            seconds = read_field(typed, "s", "min")
        except GlowtraceError as error:
            self._frame.say(f"Run time: {error}")
            return
        self._check_soon(run_minutes=round(seconds / 60, 6))

    def _room(self, typed: str) -> None:
        text = typed.strip().replace(",", ".").replace("−", "-")
        number = text.removesuffix("C").removesuffix("°").strip()
        try:
            kelvin = float(number) + 273.15
        except ValueError:
            self._frame.say(f'Room: "{text}" is not a temperature; give one such as 20 °C')
            return
        self._check_soon(room_temperature=round(kelvin, 6))

    def _check_soon(self, **changed: float) -> None:
        background_tasks.create(self._check(replace(self._frame.preparation, **changed)))  # type: ignore[arg-type]

    async def _check(self, preparation: Preparation) -> None:
        frame = self._frame
        work = partial(
            check_safety,
            frame.bench,
            preparation.settings,
            run_minutes=preparation.run_minutes,
            room_temperature=preparation.room_temperature,
        )
        try:
            report = await frame.rack.compute(work)
        except GlowtraceError as error:
            frame.say(str(error))
            return
        if preparation != frame.preparation:
            frame.say("")
            frame.keep(preparation)
        self._shown.clear()
        with self._shown:
            _put_report(report)


def put_verdict(verdict: Verdict, css: str = "") -> None:
    """Put a verdict on the page: a shape of its own and a word."""
    with box(f"verdict is-{verdict} {css}", "span"):
        ui.html(
            f'<svg viewBox="0 0 24 24" aria-hidden="true" {_PEN}>{SHAPES[verdict]}</svg>',
            sanitize=False,
            tag="span",
        )
        words(WORDS[verdict])


def _put_report(report: SafetyReport) -> None:
    with box(f"row overall is-{report.verdict}").props('role="status"'):
        put_verdict(report.verdict, "is-large")
        words(SUMMARY[report.verdict])
    told = told_report(report)
    with box("lines", "ul"):
        for line in sorted(told.lines, key=lambda each: ORDER[each.verdict]):
            _put_line(line)
    with box("columns orders"):
        _put_list("Switching on", told.switch_on, "ol")
        _put_list("Switching off", told.switch_off, "ol")
        _put_list("Always", told.cautions, "ul")


def _put_line(line: ToldLine) -> None:
    with box(f"line is-{line.verdict}", "li"):
        put_verdict(line.verdict)
        words(line.topic, css="capital")
        words(line.value, css="large")
        with box("lines"):
            words(f"limit {line.limit}")
            words(margin_words(line.margin, line.sure_margin), css="fine")
        with box("line-words"):
            words(line.advice, "p", "small")
            words(line.source, "p", "fine")


def _put_list(title: str, items: tuple[str, ...], tag: str) -> None:
    with box("order"):
        words(title, "h2")
        with ui.element(tag):
            for item in items:
                words(item, "li")
