"""Worksheets as a teacher meets them: seeds, learners, levels, PDF and Markdown, refusals."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from pypdf import PdfReader

from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.report.worksheets.markdown import worksheets_markdown
from glowtrace.report.worksheets.numbers import draw_numbers
from glowtrace.report.worksheets.plates import settings_of
from glowtrace.report.worksheets.print import print_worksheets
from glowtrace.report.worksheets.tube import Asked, height_at, null_current
from glowtrace.report.worksheets.worksheet import LEVELS, build_worksheet, build_worksheets


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(ready_made("deflection tube"))


@pytest.fixture(scope="module")
def bulb() -> PreparedBench:
    return prepare(ready_made("fine-beam bulb"))


def test_the_same_seed_gives_the_same_sheet_and_file(bulb: PreparedBench) -> None:
    first = build_worksheets(bulb, "algebra", seed=12, learners=2)
    second = build_worksheets(bulb, "algebra", seed=12, learners=2)
    assert first == second
    assert print_worksheets(first, "a4", "both") == print_worksheets(second, "a4", "both")


def test_numbers_of_a_seed_stay_what_they_are() -> None:
    """Written down once: a sheet that was handed out must be found again by its number."""
    numbers = draw_numbers(ready_made("deflection tube"), seed=3, learner=1)
    assert numbers.accelerating == 3200.0
    assert numbers.deflection is not None
    assert (numbers.deflection.accelerating, numbers.deflection.plate) == (2700.0, 710.0)
    assert numbers.circle is not None
    assert (numbers.circle.accelerating, numbers.circle.current) == (4300.0, 0.1)
    assert numbers.turn_back is not None
    assert numbers.turn_back.plate == 3200.0


def test_learners_and_seeds_have_numbers_of_their_own() -> None:
    bench = ready_made("deflection tube")
    drawn = {draw_numbers(bench, seed, learner) for seed in (1, 2) for learner in range(1, 31)}
    assert len(drawn) == 60
    voltages = [draw_numbers(bench, 1, learner).accelerating for learner in range(1, 31)]
    for n in range(28):
        assert len(set(voltages[n : n + 3])) == 3  # the two next to a learner


@pytest.mark.parametrize("name", ready_made_names())
def test_every_set_of_numbers_is_within_the_ratings(name: str) -> None:
    bench = ready_made(name)
    for learner in range(1, 41):
        numbers = draw_numbers(bench, 77, learner)
        asked = [Settings(accelerating_voltage=numbers.accelerating)]
        if numbers.deflection is not None:
            given = numbers.deflection
            asked.append(Settings(accelerating_voltage=given.accelerating,
                                  plate_voltage=given.plate))  # fmt: skip
        if numbers.circle is not None:
            asked.append(Settings(accelerating_voltage=numbers.circle.accelerating,
                                  coil_current=numbers.circle.current))  # fmt: skip
        if numbers.turn_back is not None:
            dip = numbers.turn_back
            asked.append(Settings(accelerating_voltage=dip.accelerating, plate_voltage=dip.plate,
                                  coil_current=dip.current, coil_reversed=True))  # fmt: skip
        assert [check_settings(bench, settings) for settings in asked] == [()] * len(asked)


def test_each_bench_is_asked_what_it_can_show() -> None:
    topics = {
        name: {question.topic
               for question in build_worksheet(prepare(ready_made(name)), "algebra").questions}
        for name in ready_made_names()
    }  # fmt: skip
    assert {"Deflection", "Null", "Turn-back", "Circle"} <= topics["deflection tube"]
    assert {"Circle", "Charge over mass"} <= topics["fine-beam bulb"]
    assert not {"Deflection", "Null", "Turn-back", "Focus"} & topics["fine-beam bulb"]
    assert {"Focus", "Charge over mass"} <= topics["axial coil tube"]
    assert not {"Deflection", "Null", "Circle"} & topics["axial coil tube"]


def test_coils_that_are_too_weak_leave_the_questions_on_plates(tube: PreparedBench) -> None:
    assert tube.bench.coils is not None
    weak = tube.bench.coils.model_copy(update={"max_current": 0.01})
    sheet = build_worksheet(prepare(tube.bench.model_copy(update={"coils": weak})), "algebra")
    topics = {question.topic for question in sheet.questions}
    assert "Deflection" in topics
    assert not {"Null", "Circle", "Turn-back"} & topics


def test_plates_on_the_accelerating_supply_are_asked_what_it_can_give() -> None:
    bench = ready_made("deflection tube")
    supplies = bench.supplies.model_copy(update={"plates": None})
    shared = prepare(bench.model_copy(update={"supplies": supplies}))
    for learner in range(1, 9):
        asked = Asked(shared, "algebra", draw_numbers(shared.bench, 2, learner))
        given, dip = asked.numbers.deflection, asked.numbers.turn_back
        assert given is not None
        settings = [settings_of(asked, given)]
        if dip is not None:
            settings.append(asked.settings(dip.accelerating, plate=dip.plate, current=dip.current,
                                           current_reversed=True))  # fmt: skip
        assert [check_settings(shared.bench, each) for each in settings] == [()] * len(settings)


def test_levels_are_named_by_their_mathematics(tube: PreparedBench) -> None:
    """The lower one needs no root and no rearranging; the higher one asks for both."""
    assert "proportion" in LEVELS["proportion"]
    assert "square roots" in LEVELS["algebra"]
    low = build_worksheet(tube, "proportion")
    for question in low.questions:
        assert "√" not in " ".join((*question.text, *question.steps))
        assert "Derive" not in question.text[0]
    assert any("√" in step for each in build_worksheet(tube).questions for step in each.steps)


def test_the_real_tube_is_told_beside_the_textbook(tube: PreparedBench) -> None:
    """Plates of this size pull less than endless ones: the remark has the traced height."""
    sheet = build_worksheet(tube, "algebra", seed=3)
    question = next(each for each in sheet.questions if each.topic == "Deflection")
    given = draw_numbers(tube.bench, 3, 1).deflection
    assert given is not None
    settings = Settings(accelerating_voltage=given.accelerating, plate_voltage=given.plate,
                        plate_reversed=given.is_reversed)  # fmt: skip
    found = tube.picture(settings, electrons=4000).mean_trace.at(given.x / 0.99451)
    assert found is not None
    told = re.search(r"real plates: ([\d.]+) mm (up|down)", question.remark)
    assert told
    assert float(told[1]) == pytest.approx(1e3 * abs(found[0]), abs=0.25)
    assert told[2] == ("up" if found[0] > 0 else "down")
    assert float(told[1]) < 1e3 * question.results[-1].value


def test_the_null_current_brings_the_line_back(tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=800.0, coil_reversed=True)
    current = null_current(tube, settings, 0.1)
    assert current is not None
    there = tube.picture(settings.model_copy(update={"coil_current": current}), electrons=4000)
    found = there.mean_trace.at(0.1)
    assert found is not None
    assert found[0] == pytest.approx(0.0, abs=0.2e-3)
    lifted = height_at(tube, settings, 0.1)
    assert lifted is not None
    assert lifted > 5e-3


def text_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def test_pdf_has_a_sheet_for_each_learner_and_the_answers_behind(bulb: PreparedBench) -> None:
    sheets = build_worksheets(bulb, "proportion", seed=9, learners=3)
    pages = text_of(print_worksheets(sheets, "a4", "both"))
    first = [page for page in pages if "Name" in page and "Date" in page]
    keys = [page for page in pages if "Answers, for the teacher" in page]
    assert len(first) == len(keys) == 3
    for learner in (1, 2, 3):
        assert f"9–{learner}" in first[learner - 1]
        assert f"9–{learner}" in keys[learner - 1]
    assert pages.index(first[-1]) < pages.index(keys[0])
    assert all("The teacher alone operates the high voltage" in page for page in pages)
    assert all("invented bench" in page for page in (*first, *keys))
    answer = sheets[1].questions[1].results[1].text.replace("⁻", "")
    assert answer.split(" ×")[0] in keys[1]
    assert answer.split(" ×")[0] not in first[1]


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("level", ["proportion", "algebra"])
def test_a_learner_needs_one_sheet_of_paper(tube: PreparedBench, level: str, paper: str) -> None:
    """The bench with the most questions: front and back."""
    sheet = build_worksheet(tube, level, seed=3)
    assert len(PdfReader(io.BytesIO(print_worksheets([sheet], paper))).pages) <= 2


def test_sheets_alone_have_no_answers(bulb: PreparedBench) -> None:
    sheets = build_worksheets(bulb, "algebra", seed=9)
    pages = text_of(print_worksheets(sheets))
    assert not any("Answers" in page for page in pages)
    pages = text_of(print_worksheets(sheets, "us-letter", "answers"))
    assert all("Name" not in page for page in pages)


def test_markdown_has_the_same_questions_and_answers(tube: PreparedBench) -> None:
    sheets = build_worksheets(tube, "algebra", seed=3)
    questions = worksheets_markdown(sheets)
    answers = worksheets_markdown(sheets, "answers")
    for number, question in enumerate(sheets[0].questions, start=1):
        assert f"## {number}. {question.topic}" in questions
        assert f"## {number}. {question.topic}" in answers
        for one in question.results:
            assert one.text.split(" = ")[-1] in answers
    assert "teacher alone operates the high voltage" in questions
    assert "| x / mm | height / mm | dashed / mm |" in questions
    assert "Remark:" not in questions


@pytest.mark.parametrize("level", ["algebra", "proportion"])
def test_the_printed_points_of_a_circle_solve_the_reading(bulb: PreparedBench, level: str) -> None:
    sheet = build_worksheets(bulb, level, seed=5)[0]
    asked = next(each for each in sheet.questions if each.topic == "Reading")
    assert asked.graph is not None
    x, y = np.array(
        [[float(cell.replace("−", "-")) for cell in row[1:]] for row in asked.graph.rows]
    ).T
    (diameter,) = (1e3 * each.value for each in asked.results)
    assert y.max() == pytest.approx(diameter, abs=0.051)  # the table has tenths of a millimetre
    # The points lie on one circle, in the order of flight: by Thales' theorem the aperture and the
    # highest point are seen at a right angle from each of the others.
    top = int(y.argmax())
    others = [n for n in range(1, len(x)) if abs(n - top) > 1 and y[n] > 0.1 * diameter]
    to_start = np.stack([x[0] - x[others], y[0] - y[others]])
    to_top = np.stack([x[top] - x[others], y[top] - y[others]])
    cosines = (to_start * to_top).sum(axis=0)
    cosines /= np.hypot(*to_start) * np.hypot(*to_top)
    assert np.abs(cosines).max() < 0.05
    assert len(others) >= 6


def test_progress_and_cancel(bulb: PreparedBench) -> None:
    told: list[float] = []
    made = build_worksheets(bulb, "proportion", learners=4,
                            progress=lambda share, _: told.append(share),
                            cancelled=lambda: len(told) == 2)  # fmt: skip
    assert made == ()
    assert told == [0.25, 0.5]


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"level": "hard"}, 'level: "hard" is not allowed; choose "proportion" or "algebra"'),
        ({"seed": -1}, "seed: -1 is not allowed; give from 0 to 999999"),
        ({"learner": 61}, "learner: 61 is not allowed; give from 1 to 60"),
    ],
)
def test_what_is_not_allowed_is_named(
    bulb: PreparedBench, wrong: dict[str, object], message: str
) -> None:
    with pytest.raises(GlowtraceError) as refused:
        build_worksheet(bulb, **wrong)  # type: ignore[arg-type]
    assert str(refused.value) == message


def test_nothing_to_print_is_told() -> None:
    with pytest.raises(GlowtraceError, match="ask for 1 or more"):
        print_worksheets(())
