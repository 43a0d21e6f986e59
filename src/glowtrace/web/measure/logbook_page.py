"""The logbook: what was kept, the last first, with an entry opened beside the list."""

from __future__ import annotations

from datetime import datetime, timedelta
from html import escape
from typing import Final, get_args

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.errors import GlowtraceError
from glowtrace.store.entry import Entry, Kind
from glowtrace.web.controls import VALUE, Picker, Switch, box, file_button, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.measure.logbook_entry import put_entry
from glowtrace.web.measure.logbook_files import EVERYTHING, WHOLE
from glowtrace.web.measure.writing import power_html
from glowtrace.web.served import SAVE

ALL: Final = "everything"
_SHOWN: Final = 200
_SEND: Final = f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  event.target.value = "";
  emit("sending", "");
  try {{
    const answer = await fetch("{WHOLE}", {{ method: "POST", body: file }});
    emit(answer.ok ? "sent" : "failed", await answer.text());
  }} catch (error) {{
    emit("failed", "The file could not be sent; is the program still running?");
  }}
}}"""


class LogbookPage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    opened
        The id of the entry that is open first, if the address tells one.
    """

    def __init__(self, frame: Frame, opened: str = "") -> None:
        self._frame, self._opened = frame, opened
        self._kind: Kind | None = None
        self._text, self._since, self._until = "", "", ""
        self._this_bench = False
        with frame.body, box("columns logbook"):
            with box("logbook-list", "section").props('aria-label="Entries"'):
                self._put_filters()
                self._told = hint("").props('role="status"')
                self._list = box("entries", "ul")
                self._put_file_ways()
            with box("stack logbook-entry", "section") as self._entry:
                self._entry.props('aria-label="The open entry" aria-live="polite"')

    async def run(self) -> None:
        """List the entries, and open the one that the address tells."""
        self._show()
        if self._opened:
            self._open(self._opened)

    # ---- on the page -----------------------------------------------------------------------------

    def _put_filters(self) -> None:
        with box("row filters"):
            kinds = {ALL: ALL} | {each: each for each in get_args(Kind)}
            Picker("Kind", self._set_kind).offer({"Kind": kinds}, ALL)
            search = ui.element("input").classes("field search")
            search.props('type="search" placeholder="Words in it" aria-label="Words in it"')
            search.on("input", self._set_text, js_handler=VALUE, throttle=0.3, leading_events=False)
            with box("row"):
                for name, label in (("_since", "from"), ("_until", "until")):
                    with box("row quiet", "label"):
                        words(label)
                        day = ui.element("input").classes("field")
                        day.props('type="date"').props["aria-label"] = f"{label} this day"
                        day.on(
                            "change",
                            lambda event, name=name: self._set_day(name, event),
                            js_handler=VALUE,
                        )
            Switch("This bench only", self._set_this_bench)

    def _put_file_ways(self) -> None:
        with box("row readings-ways"):
            for label, asked in (
                ("Save the whole logbook as a file", ""),
                ("Save everything as a backup", f"&{EVERYTHING}=1"),
            ):
                link = words(label, "a", "plain")
                link.props["href"] = f"{WHOLE}?{SAVE}=1{asked}"
                link.props["download"] = True
            kinds = ".zip,application/zip"
            file_button("Take in a logbook file or a backup", kinds, _SEND, self._arrives)

    # ---- the list --------------------------------------------------------------------------------

    def _entries(self) -> tuple[Entry, ...]:
        until = _day(self._until)
        return self._frame.rack.kept.logbook.list(
            kind=self._kind,
            text=self._text or None,
            bench=self._frame.bench.name if self._this_bench else None,
            since=_day(self._since),
            until=None if until is None else until + timedelta(days=1),
            limit=_SHOWN,
        )

    def _show(self) -> None:
        self._list.clear()
        try:
            found = self._entries()
        except GlowtraceError as error:
            self._frame.say(str(error))
            return
        is_filtered = self._kind or self._text or self._since or self._until or self._this_bench
        nothing = (
            "Nothing fits these filters."
            if is_filtered
            else "Nothing is kept yet. Save a result on the page Measure."
        )
        count = f"{len(found)} {'entry' if len(found) == 1 else 'entries'}"
        self._told.text = (
            (count if len(found) < _SHOWN else f"The last {count}") if found else nothing
        )
        with self._list:
            for entry in found:
                self._put_line(entry)

    def _put_line(self, entry: Entry) -> None:
        with ui.element("li"):
            line = ui.element("button").classes("entry-line lines").props('type="button"')
            line.on("click", lambda: self._open(entry.id), args=[])
            if entry.id == self._opened:
                line.props('aria-current="true"')
            with line:
                ui.html(power_html(escape(entry.title)), sanitize=False, tag="span").classes(
                    "entry-name"
                )
                bench = "" if entry.bench_text is None else f" · {_bench_name(entry)}"
                when = f"{entry.created.astimezone():%d %b %Y, %H:%M}"
                words(f"{when} · {entry.kind}{bench}", css="fine")

    def _open(self, id: str) -> None:
        frame = self._frame
        frame.say("")
        self._entry.clear()
        try:
            entry = frame.rack.kept.logbook.open(id)
        except GlowtraceError as error:
            frame.say(str(error))
            return
        self._opened = id
        with self._entry:
            put_entry(frame.rack, entry, frame.say, self._withdraw)
        frame.keep(frame.preparation, f"&entry={id}")
        self._show()
        if not entry.is_withdrawn:
            self._entry.client.run_javascript(
                "if (innerWidth <= 1120) document.querySelector('.logbook-entry')"
                ".scrollIntoView({ block: 'start' })"
            )

    def _withdraw(self, id: str, reason: str) -> None:
        with self._frame.telling():
            self._frame.rack.kept.logbook.withdraw(id, reason=reason)
            self._open(id)

    # ---- filters and files -----------------------------------------------------------------------

    def _set_kind(self, chosen: str) -> None:
        self._kind = next((each for each in get_args(Kind) if each == chosen), None)
        self._show()

    def _set_text(self, event: GenericEventArguments) -> None:
        self._text = str(event.args)
        self._show()

    def _set_day(self, name: str, event: GenericEventArguments) -> None:
        setattr(self, name, str(event.args))
        self._show()

    def _set_this_bench(self, is_on: bool) -> None:
        self._this_bench = is_on
        self._show()

    def _arrives(self, event: GenericEventArguments) -> None:
        state, text = event.args
        self._frame.show_working("Taking in the file …" if state == "sending" else "")
        self._frame.say(str(text) if state == "failed" else "")
        self._show()
        if state == "sent":
            self._told.text = str(text)


def _day(text: str) -> datetime | None:
    """Give the beginning of a day, in the time zone of this computer."""
    try:
        return datetime.fromisoformat(text).astimezone() if text else None
    except ValueError:
        return None


def _bench_name(entry: Entry) -> str:
    try:
        bench = entry.bench
    except GlowtraceError:
        return "a bench that cannot be read"
    return "" if bench is None else bench.name
