"""The part of the page that opens a lesson, tells how to join, and ends it."""

from __future__ import annotations

from collections.abc import Coroutine
from typing import Any, Final

from nicegui import background_tasks, ui

from glowtrace.errors import GlowtraceError
from glowtrace.web.audience.remote import SideDoors
from glowtrace.web.controls import Picker, Switch, box, button, put_prop, words
from glowtrace.web.frame import Frame
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.lesson.invitation import drawn_for_cameras

TITLE: Final = 'type="text" maxlength="80" autocomplete="off"'
ENTERED: Final = (
    "(event) => { event.preventDefault(); emit(new FormData(event.target).get('title')); }"
)
NO_NETWORK: Final = (
    "This computer is in no network. Join the school’s Wi-Fi, or let a phone or this computer make "
    "a hotspot, then turn the switch off and on."
)
UNREACHED: Final = "Open to the room first: until then neither reaches this computer."
NOBODY: Final = (
    "No phone has come yet. If the address does not open on a phone: it must be in the same Wi-Fi; "
    "a guest Wi-Fi often keeps devices apart, then a hotspot helps; and this computer’s firewall "
    "must let Python in."
)


class ClassPart:
    """The part. Building it puts it on the page."""

    def __init__(self, frame: Frame, classroom: Classroom, doors: SideDoors) -> None:
        self._frame, self._classroom, self._doors = frame, classroom, doors
        self._takes_nicknames = False
        self._offered: dict[str, str] = {}
        with box("stack", "section").props('aria-label="Class"'):
            self._closed = box("stack lesson-wide", "form")
            with self._closed:
                words("Open a lesson", "h2")
                with box("", "label"):
                    words("Title")
                    self._title = ui.element("input").classes("field").props(TITLE)
                    self._title.props["name"], self._title.props["^value"] = "title", "Lesson"
                self._names = Switch("Learners may give a nickname", self._choose_names)
                words("Open", "button", "key is-main").props('type="submit"')
            self._closed.on("submit", self._open, js_handler=ENTERED)
            self._opened = box("stack lesson-wide")
            with self._opened:
                with box("asked"):
                    self._qr = ui.html("", sanitize=False).classes("lesson-qr")
                    with box(""):
                        self._address = words("", "p", "large lesson-address")
                        self._code = words("", "p", "lesson-code")
                        self._trouble = words("", "p", "hint").props('role="status"')
                self._addresses = Picker("Address of this computer", classroom.choose_address)
                self._room = Switch("Open to the room", self._open_to_room)
                words(
                    "Anybody in the same network can read what is sent: no names, no passwords.",
                    "p",
                    "hint",
                )
                with box("fold lesson-beside", "details") as self._beside:
                    words("Remote and second screen", "summary")
                    self._unreached = words(UNREACHED, "p", "hint")
                    words("Your phone as remote (next, back, blank): scan this yourself.", "p")
                    self._remote = ui.html("", sanitize=False).classes("lesson-qr")
                    words("The audience’s picture on another computer:", "p")
                    self._screen = words("", "p", "lesson-screen")
                self._count = words("", "p", "lesson-count").props('role="status"')
                self._end = button("End the lesson", self._close)

    def show(self) -> None:
        """Show how things are."""
        live = self._classroom.live
        self._closed.set_visibility(live is None)
        self._opened.set_visibility(live is not None)
        if live is None:
            return
        to_room = self._classroom.is_open_to_room
        self._room.put(to_room)
        invitation = self._classroom.invitation
        self._qr.set_visibility(invitation is not None)
        if invitation is not None and self._qr.content != invitation.qr_svg:
            self._qr.content = invitation.qr_svg  # nothing that a learner wrote is in it
        # Never those of the lesson before, while the port of this one does not answer yet.
        self._address.text = "" if invitation is None else invitation.address
        self._code.text = "" if invitation is None else invitation.code
        self._show_beside()
        here, answered = len(live.connected), len(live.answers(live.state.question))
        trouble = "Only this computer can join yet."
        if to_room:
            trouble = NO_NETWORK if invitation is None else "" if here else NOBODY
        self._trouble.text = trouble
        addresses = self._classroom.addresses
        self._addresses.set_visibility(len(addresses) > 1)
        shown = {each: each.removeprefix("http://") for each in addresses}
        if shown != self._offered and addresses:
            self._offered = shown
            self._addresses.offer({"Addresses": shown}, addresses[0])
        asked = f", {answered} answered" if live.question is not None else ""
        self._count.text = f"{here} here{asked}"
        put_prop(self._count, "data-answers", answered)

    def _show_beside(self) -> None:
        """Show the ways in beside the learners'."""
        address = self._classroom.address
        self._beside.set_visibility(bool(address))
        self._unreached.set_visibility(not self._classroom.is_open_to_room)
        self._screen.text = f"{address}{self._doors.screen_path}"
        remote = f"{address}{self._doors.remote_path}"
        if self._remote.props.get("aria-label") != remote:
            self._remote.content = drawn_for_cameras(remote)
            self._remote.props["role"], self._remote.props["aria-label"] = "img", remote

    def _choose_names(self, is_wanted: bool) -> None:
        self._takes_nicknames = is_wanted

    def _open(self, event: Any) -> None:
        title = str(event.args or "Lesson")
        bench = self._frame.bench
        self._do(self._classroom.open(title, bench, takes_nicknames=self._takes_nicknames))

    def _open_to_room(self, is_wanted: bool) -> None:
        self._do(self._classroom.open_to_room(is_wanted))

    def _close(self) -> None:
        self._do(self._classroom.close())

    def _do(self, work: Coroutine[Any, Any, None]) -> None:
        async def do() -> None:
            try:
                await work
            except GlowtraceError as error:
                self._frame.say(str(error))
            self.show()

        background_tasks.create(do(), name="lesson")
