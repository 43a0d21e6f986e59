"""Holds the lesson while the program runs."""

from __future__ import annotations

from nicegui import app

from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.remote import SideDoors
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.lesson.files import serve_lesson_files
from glowtrace.web.rack import Rack


def hold_lessons(rack: Rack, audience: Audience, doors: SideDoors) -> Classroom:
    """Give the classroom; a lesson that was open when the program ended goes on."""
    classroom = Classroom(rack, audience.show_lesson, doors.routes)
    app.on_startup(classroom.take_up)
    app.on_shutdown(classroom.shut_down)
    serve_lesson_files(rack)
    return classroom
