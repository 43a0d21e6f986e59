"""Earlier lessons: taken away as a file, or deleted with everything that learners sent."""

from __future__ import annotations

from collections.abc import Callable

from glowtrace.errors import GlowtraceError
from glowtrace.store import KeptLesson
from glowtrace.web.controls import box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.lesson.files import JSON_FILE, TABLE_FILE
from glowtrace.web.served import SAVE


class KeptPart:
    """The part. Building it puts it on the page."""

    def __init__(self, frame: Frame, classroom: Classroom) -> None:
        self._frame, self._classroom = frame, classroom
        self._asked = ""
        self._deleted = 0
        self._told: object = None
        with box("fold", "details"):
            words("Lessons that are kept", "summary")
            self._list = box("rows", "ul")

    def show(self) -> None:
        """Show what is kept; the lesson that is held can be taken away, too."""
        store, live = self._frame.rack.store, self._classroom.live
        told = (live.kept.id if live else "", self._asked, self._deleted)
        if store is None or told == self._told:  # the store is not asked at every answer
            return
        self._told = told
        kept = store.lessons.list()
        self._list.clear()
        with self._list:
            if not kept:
                words("None yet.", "li", "hint")
            for one in kept:
                self._put(one, is_held=live is not None and live.kept.id == one.id)

    def _put(self, one: KeptLesson, *, is_held: bool) -> None:
        with box("", "li"):
            words(f"{one.title}, {one.opened.astimezone():%d %b %Y, %H:%M}")
            for label, path in (("data", JSON_FILE), ("table", TABLE_FILE)):
                link = words(label, "a", "plain")
                link.props["href"] = f"{path}?id={one.id}&{SAVE}=1"
                link.props["download"] = True
            if not is_held:
                is_asked = self._asked == one.id
                label = "Delete all that learners sent, for good" if is_asked else "Delete"
                button(label, self._deleting(one.id), "plain")

    def _deleting(self, id: str) -> Callable[[], None]:
        def delete() -> None:
            store = self._frame.rack.store
            if self._asked != id:
                self._asked = id
            elif store is not None:
                try:
                    store.lessons.delete(id)
                except GlowtraceError as error:
                    self._frame.say(str(error))
                self._asked, self._deleted = "", self._deleted + 1
            self.show()

        return delete
