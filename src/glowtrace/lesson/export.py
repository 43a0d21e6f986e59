"""Everything of a lesson as plain data: for a file, and for the logbook."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, Final

from glowtrace.lesson.answer import with_unit
from glowtrace.lesson.live import LiveLesson
from glowtrace.lesson.reading import ClassResult, group_rows
from glowtrace.store import KeptAnswer, KeptLesson, Lessons

FORMAT: Final = "glowtrace-lesson"
FORMAT_VERSION: Final = 1
COLUMNS: Final = (
    "question", "learner", "nickname", "given", "late", "choice", "line_mm", "group", "readings",
)  # fmt: skip


def lesson_data(lessons: Lessons, kept: KeptLesson) -> dict[str, Any]:
    """Give a lesson with its questions and every answer, in the order in which they came.

    Its code is left out: it lets nobody in any more, and belongs to nobody.
    """
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "id": kept.id,
        "title": kept.title,
        "opened": kept.opened.isoformat(),
        "closed": kept.closed.isoformat() if kept.closed else None,
        "bench": kept.bench_text,
        "questions": [
            {"number": number, **json.loads(text)}
            for number, text in lessons.questions(kept.id).items()
        ],
        "answers": [_answer(one) for one in lessons.answers(kept.id)],
    }


def _answer(one: KeptAnswer) -> dict[str, Any]:
    return {
        "question": one.question,
        "learner": one.learner,
        "nickname": one.nickname,
        "sequence": one.sequence,
        "given": one.given.isoformat(),
        "late": one.is_late,
        "answer": json.loads(one.text),
    }


def lesson_table(lessons: Lessons, kept: KeptLesson) -> str:
    """Give the answers as a table (CSV, RFC 4180), one a row."""
    written = io.StringIO()
    table = csv.writer(written)
    table.writerow(COLUMNS)
    for one in lessons.answers(kept.id):
        said = json.loads(one.text)
        row = [
            one.question,
            one.learner[:8],
            _plain(one.nickname),
            one.given.isoformat(),
            "yes" if one.is_late else "no",
            said.get("choice", ""),
            " ".join(f"{u:g},{v:g}" for u, v in said.get("line", ())),
            said.get("group", ""),
            _plain("; ".join(said.get("readings", ()))),
        ]
        table.writerow(row)
    return written.getvalue()


def _plain(text: str) -> str:
    """Give text that no spreadsheet takes for a formula; it was written by a learner."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def class_record(live: LiveLesson, result: ClassResult) -> dict[str, Any]:
    """Give what a class measured for the logbook: what each group was given, read and found.

    Who the learners are is left out: the logbook keeps for good, a lesson can be deleted.
    """
    question, kept = live.question, live.kept
    assert question is not None
    given = sorted(live.answers(live.state.question).values(), key=lambda one: one.answer.group)
    return {
        "lesson": {"id": kept.id, "title": kept.title, "opened": kept.opened.isoformat()},
        "method": question.method,
        "readings": [
            {
                "group": one.answer.group,
                "gets": question.tasks[one.answer.group - 1].told,
                "typed": list(map(with_unit, one.answer.readings, question.fields)),
                "rows": group_rows(question, one),
            }
            for one in given
        ],
        "result": result_data(result),
    }


def result_data(result: ClassResult) -> dict[str, Any]:
    """Give what a class measured, in C/kg."""
    pooled = result.pooled
    data: dict[str, Any] = {
        "groups": [
            {
                "group": each.group,
                "readings": each.rows,
                "specific_charge": each.value,
                "own_uncertainty": each.own if each.value is not None else None,
                "shared_uncertainty": each.shared if each.value is not None else None,
                "trouble": each.trouble,
                "lies_out": each.group in result.lying_out,
            }
            for each in result.groups
        ]
    }
    if pooled is not None:
        data["pooled"] = {
            "specific_charge": pooled.value,
            "uncertainty": result.uncertainty,
            "of_the_groups": pooled.uncertainty,
            "shared": result.shared,
            "between_groups": pooled.between,
            "birge_ratio": pooled.birge_ratio,
            "weighted_mean": pooled.fixed,
            "weighted_mean_uncertainty": pooled.birge_uncertainty,
            "chi_square": pooled.chi_square,
            "method": "random effects, DerSimonian and Laird 1986",
        }
    return data
