"""A lesson to try things on: its store, its question, and messages of learners."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

from glowtrace.bench.files import bench_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.lesson.asking import prediction
from glowtrace.lesson.live import LiveLesson
from glowtrace.lesson.question import Asked, Choice, Question, Task
from glowtrace.store import Store, open_store

CODE = "K7M2QX"
LEARNER = "0123456789abcdef"
TUBE = ready_made("deflection tube")
SETTINGS = Settings(accelerating_voltage=3000.0, coil_current=0.3)
LINE = [[float(u), 0.002 * u * u] for u in range(0, 90, 3)]
CHOICES = (Choice(key="up", text="It bends up."), Choice(key="down", text="It bends down."))
PREDICT = prediction(TUBE.plane, SETTINGS)
ASK = Question(kind="ask", text="Which of these is true?", choices=CHOICES)
READ = Question(
    kind="read",
    text="Read the height of the line.",
    method="coils only",
    fields=(
        Asked(column="y", symbol="y", text="Height", unit="mm", si_unit="m", low=-0.03, high=0.03),
    ),
    tasks=(
        Task(told="x = 60 mm", rows=({"x": 0.06},)),
        Task(told="x = 80 mm", rows=({"x": 0.08},)),
    ),
)


def open_lesson(store: Store, *, lasts: timedelta = timedelta(hours=2), names: bool = True):
    kept = store.lessons.add("Try", CODE, bench_to_toml(TUBE), lasts=lasts, takes_nicknames=names)
    return LiveLesson(store.lessons, kept)


def message(question: int = 1, sequence: int = 1, learner: str = LEARNER, **told: Any) -> str:
    named = {"learner": learner, "sequence": sequence, "question": question}
    if not {"line", "choice", "readings"} & set(told):
        told["line"] = LINE
    return json.dumps({**named, **told})


def reopened(path, id: str) -> LiveLesson:
    """Take the lesson up again as a program does that was started anew."""
    store = open_store(path)
    return LiveLesson(store.lessons, store.lessons.open(id))
