"""Groups' readings of a computed tube give back the e/m that it was computed with (CODATA)."""

from __future__ import annotations

import asyncio
import base64

import numpy as np
import pytest
from lesson_trial import message, open_lesson
from scipy.constants import physical_constants

from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.lesson.answer import Answer, read_message
from glowtrace.lesson.export import class_record
from glowtrace.lesson.live import Given
from glowtrace.lesson.question import question_from
from glowtrace.lesson.reading import class_result, reading, suited_methods
from glowtrace.store import open_store

ACCEPTED = -physical_constants["electron charge to mass quotient"][0]
SETTINGS = Settings(accelerating_voltage=3000.0, coil_current=0.3)


@pytest.fixture(scope="module")
def tube():
    return prepare(ready_made("deflection tube"))


def given(question, tube, errors) -> list[Given]:
    found = []
    for n, (task, error) in enumerate(zip(question.tasks, errors, strict=True)):
        heights = [
            tube.line_height(SETTINGS, tube.plane.x_of(row["x"])) + error for row in task.rows
        ]
        answer = Answer(readings=("",) * len(heights), values=tuple(heights), group=n + 1)
        found.append(Given(f"{n}", "", n, answer))
    return found


def test_question_survives_its_writing(tube):
    question = reading(tube, "coils only", SETTINGS, 6)
    assert question_from(question.written) == question
    assert len(question.tasks) == 6
    assert len({task.told for task in question.tasks}) > 1
    assert all(len(task.rows) == len(question.fields) for task in question.tasks)


def test_exact_readings_of_groups_give_the_accepted_value(tube):
    question = reading(tube, "coils only", SETTINGS, 4)
    found = class_result(question, given(question, tube, np.zeros(4)), tube)
    assert [each.group for each in found.groups] == [1, 2, 3, 4]
    assert found.pooled is not None
    assert abs(found.pooled.value - ACCEPTED) < found.uncertainty
    assert found.pooled.between == 0.0
    assert found.uncertainty > found.shared > 0.0
    assert found.uncertainty > found.pooled.uncertainty
    assert found.lying_out == ()


def test_group_that_reads_another_line_lies_out(tube):
    question = reading(tube, "coils only", SETTINGS, 6)
    errors = np.array([0.1, -0.1, 0.15, 0.0, -0.12, 6.0]) * 1e-3
    found = class_result(question, given(question, tube, errors), tube)
    assert found.lying_out == (6,)
    assert found.pooled is not None
    assert found.pooled.birge_ratio > 2.0


def test_what_a_class_measured_goes_into_the_logbook_without_its_learners(tube, tmp_path):
    async def answer(live) -> None:
        for one in given(question, tube, np.zeros(3)):
            typed = [f"{1e3 * value:.3f}" for value in one.answer.values]
            told = message(1, 1, 16 * one.learner, readings=typed, group=one.answer.group)
            await live.take(read_message(told.replace("{", '{"nickname": "Ada", ', 1)))

    question = reading(tube, "coils only", SETTINGS, 3)
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(question)
        asyncio.run(answer(live))
        found = class_result(question, live.answers(1).values(), tube)
        record = class_record(live, found)
        entry = store.logbook.add("lesson", "Three groups", bench=tube.bench, payload=record)
        kept = store.logbook.open(entry.id)
        live.end()
    assert kept.kind == "lesson"
    assert kept.payload == record
    assert [one["group"] for one in record["readings"]] == [1, 2, 3]
    assert all(text.endswith(" mm") for one in record["readings"] for text in one["typed"])
    pooled = record["result"]["pooled"]
    assert abs(pooled["specific_charge"] - ACCEPTED) < pooled["uncertainty"]
    assert "Ada" not in kept.text
    assert 16 * "0" not in kept.text


@pytest.mark.parametrize(("method", "groups"), [("circle", 4), ("coils only", 0), ("null", 99)])
def test_what_cannot_be_given_out_is_refused(tube, method, groups):
    with pytest.raises(GlowtraceError):
        reading(tube, method, SETTINGS, groups)


def test_plates_that_would_bend_the_line_as_well_are_refused(tube):
    with pytest.raises(GlowtraceError, match=r'plate voltage: "?900 V'):
        reading(tube, "coils only", SETTINGS.model_copy(update={"plate_voltage": 900.0}), 4)


def test_methods_that_a_class_can_share():
    assert "circle" in suited_methods(ready_made("fine-beam bulb"))
    assert suited_methods(ready_made("axial coil tube")) == ("axial focus",)


def test_each_group_has_another_setting_within_the_ratings():
    bulb = prepare(ready_made("fine-beam bulb"))
    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    question = reading(bulb, "circle", settings, 5)
    voltages = [task.rows[0]["accelerating_voltage"] for task in question.tasks]
    assert voltages == pytest.approx([170.0, 185.0, 200.0, 215.0, 230.0])
    (field,) = question.fields
    assert (field.column, field.unit) == ("diameter", "mm")


def test_a_photograph_is_read_at_its_own_settings_by_all_groups(tube):
    bulb, jpeg = prepare(ready_made("fine-beam bulb")), b"\xff\xd8 a photograph"
    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    question = reading(bulb, "circle", settings, 5, jpeg)
    assert {task.rows[0]["accelerating_voltage"] for task in question.tasks} == {200.0}
    assert base64.b64decode(question_from(question.written).photograph) == jpeg
    told = question.for_learners
    assert told["photograph"] is True
    assert question.photograph not in str(told)
    points = reading(tube, "coils only", SETTINGS, 3, jpeg)
    assert len({task.told for task in points.tasks}) == 3
    for method, size, named in (
        ("null", 9, "line or a circle"),
        ("coils only", 2**21, "too large"),
    ):
        with pytest.raises(GlowtraceError, match=named):
            reading(tube, method, SETTINGS, 3, size * b"x")
