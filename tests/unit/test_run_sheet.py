"""The run sheet: what it must say, where, on which paper, and the same bytes each time.

Sizes of paper: ISO 216 (A4, 210 mm by 297 mm) and ANSI/ASME Y14.1 (A, 8.5 in by 11 in); a PDF
point is 1/72 in (ISO 32000-1, 8.3.2.3). The speed of electrons of 1 keV, 1.873e7 m/s, follows
from CODATA values by hand. Order of switching and discharge before touching: common practice, no
source.
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from functools import cache

import pytest
from pypdf import PdfReader

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import FullCircle, TurnBack, suitable_goals
from glowtrace.errors import GlowtraceError
from glowtrace.plan.solver import plan_goal
from glowtrace.plan.wiring import wire
from glowtrace.report.run_sheets.markdown import escaped
from glowtrace.report.run_sheets.run_sheet import (
    build_run_sheet,
    print_run_sheet,
    run_sheet,
    run_sheet_markdown,
)
from glowtrace.report.run_sheets.safety import printed_lines
from glowtrace.safety.review import check_safety
from glowtrace.words.telling import tell

CROSSED = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.14,
                   coil_reversed=True)  # fmt: skip
BEYOND = CROSSED.model_copy(update={"coil_current": 2.5})
SETTINGS = {
    "deflection tube": CROSSED,
    "fine-beam bulb": Settings(accelerating_voltage=200.0, coil_current=1.5),
    "axial coil tube": Settings(accelerating_voltage=700.0, coil_current=0.35),
}
SIZES = {"a4": (595.3, 841.9), "us-letter": (612.0, 792.0)}


@cache
def prepared(name="deflection tube"):
    return prepare(ready_made(name))


@cache
def planned(name, number=0):
    goal = suitable_goals(ready_made(name))[number]
    return plan_goal(prepared(name), goal).answers[0]


def pages(pdf):
    return PdfReader(io.BytesIO(pdf)).pages


def text_of(pdf):
    return flat(" ".join(page.extract_text() for page in pages(pdf)))


def flat(text):
    """Text without line ends and double blanks, as different layouts have them."""
    return re.sub(r"\s+", " ", text)


def squeezed(text):
    """Text without any blanks: an extraction may put some where lines or words break."""
    return re.sub(r"[\s\xad]+|-\n", "", text)


@pytest.mark.slow
@pytest.mark.parametrize("name", ready_made_names())
@pytest.mark.parametrize("paper", SIZES)
def test_every_bench_has_a_page_for_each_use(name, paper):
    """What is shown, wiring, steps, what to say, safety check."""
    printed = pages(run_sheet(prepared(name), SETTINGS[name], paper=paper))
    assert len(printed) == 5
    starts = ("Wiring", "Steps", "What to say", "Safety check")
    for page, start in zip(printed[1:], starts, strict=True):
        assert flat(page.extract_text()).startswith(start)
    for page in printed:
        size = float(page.mediabox.width), float(page.mediabox.height)
        assert size == pytest.approx(SIZES[paper], abs=0.1)


@pytest.mark.slow
@pytest.mark.parametrize("name", ready_made_names())
def test_steps_and_discharge_share_one_page_in_large_print(name):
    printed = pages(run_sheet(prepared(name), planned(name).settings, plan=planned(name)))
    assert len(printed) == 5
    words = flat(printed[2].extract_text())
    assert words.startswith("Steps")
    assert "Switch off and discharge" in words
    assert words.index("Heater on") < words.index("Heater off")
    # Large print for a dark room: 11 pt and more (the project's own choice).
    assert min(size for size, _ in texts(printed[2])) >= 11 - 0.01
    for blank in ("Date", "Class", "Time needed"):
        assert blank in flat(printed[0].extract_text())


def test_the_wiring_diagram_can_be_read():
    """9 pt and more in figures; the picture is scaled to the width between the margins."""
    printed = pages(run_sheet(prepared(), CROSSED))
    assert min(size for size, _ in texts(printed[1])) >= 9 - 0.01


@pytest.mark.parametrize("name", ready_made_names())
def test_a_sheet_names_only_parts_that_the_bench_has(name):
    plan = planned(name)
    for words in (
        text_of(run_sheet(prepared(name), SETTINGS[name])),
        text_of(run_sheet(prepared(name), plan.settings, plan=plan)),
    ):
        assert ("plates" in words) == (prepared(name).bench.plates is not None)


@pytest.mark.parametrize("name", ready_made_names())
def test_checks_stay_within_what_is_planned(name):
    plan = planned(name)
    wiring = wire(prepared(name).bench, plan.settings, prepared=prepared(name))
    for check in wiring.checks:
        for knob in ("plate_voltage", "coil_current"):
            planned_value = getattr(plan.settings, knob)
            if planned_value > 0:
                assert getattr(check.settings, knob) <= planned_value


def test_what_is_seen_is_told_at_the_place_that_was_planned():
    plan = planned("deflection tube")
    last = build_run_sheet(prepared(), plan.settings, plan=plan).steps[-1]
    pitch = prepared().bench.screen.grid_pitch
    first = math.ceil(prepared().bench.screen.x_from / pitch)
    lines = round(plan.goal.x / pitch) - first + 1
    assert f"x = {1e3 * plan.goal.x:.0f} mm (upright line {lines} from the gun)" in last.see
    assert f"({plan.goal.height / pitch:.2g} squares)" in last.see


def test_a_goal_that_is_not_reached_is_not_said_to_be_seen():
    """Coils alone bend the line by F = q v x B and turn nothing back on this screen."""
    bent = Settings(accelerating_voltage=3000.0, coil_current=0.1)
    goals = suitable_goals(ready_made("deflection tube"))
    goal = next(each for each in goals if isinstance(each, TurnBack))
    told = run_sheet_markdown(prepared(), bent, goal=goal)
    assert "turns at" not in told
    assert "above the axis" in told


def test_the_same_sheet_is_the_same_file():
    first = run_sheet(prepared(), CROSSED)
    assert run_sheet(prepared(), CROSSED) == first
    assert run_sheet(prepare(ready_made("deflection tube")), CROSSED) == first
    assert run_sheet(prepared(), CROSSED.model_copy(update={"coil_current": 0.15})) != first


def test_every_setting_is_printed():
    pdf, markdown = text_of(run_sheet(prepared(), CROSSED)), run_sheet_markdown(prepared(), CROSSED)
    for words in (
        "3 kV", "1 kV", "140 mA", "plates tied: symmetric", "plates fed from: own supply",
        "plate voltage: not reversed", "coil current: reversed",
    ):  # fmt: skip
        assert words in pdf
        assert words in markdown


def test_windows_and_figures_of_a_plan_are_printed():
    plan = planned("deflection tube")
    sheet = build_run_sheet(prepared(), plan.settings, plan=plan)
    assert sheet.title == plan.goal.title
    assert all(knob.window for knob in sheet.knobs if knob.name == "plate voltage")
    pdf = squeezed(text_of(print_run_sheet(sheet)))
    for figure in sheet.figures:
        assert squeezed(figure) in pdf
    assert squeezed(plan.goal.says) in pdf
    for caution in plan.goal.cautions:
        assert squeezed(caution) in pdf


def test_pdf_and_markdown_tell_the_same():
    sheet = build_run_sheet(prepared(), CROSSED)
    facts = [
        sheet.title, sheet.purpose, sheet.model, *sheet.cautions, *sheet.notes, *sheet.reversals,
        *sheet.switch_off, *(source for _, source in sheet.sources),
        *(each for step in sheet.steps for each in (step.do, step.see, step.say, step.otherwise)),
        *(each for line in sheet.lines for each in (line.topic, line.value, line.limit)),
        *(line.margin for line in sheet.lines),
        *(line.advice for line in sheet.lines if line.verdict != "ok"),
        *(lead.lead for lead in sheet.leads),
        *(end for lead in sheet.leads for end in (lead.from_terminal, lead.to_terminal)),
        *(data for _, data in sheet.facts),
    ]  # fmt: skip
    pdf = squeezed(text_of(print_run_sheet(sheet)))
    markdown = run_sheet_markdown(prepared(), CROSSED)
    for fact in facts:
        assert squeezed(fact) in pdf
        assert escaped(fact) in markdown


def test_no_line_of_the_safety_check_is_lost():
    lines = check_safety(prepared().bench, CROSSED).lines
    printed, sources = printed_lines(lines)
    assert len(printed) == len(lines)
    named = dict(sources)
    assert sorted(named[each.source] for each in printed) == sorted(
        tell(each.source) for each in lines
    )
    verdicts = [each.verdict for each in printed]
    assert verdicts == sorted(verdicts, key=["stop", "attention", "ok"].index)


@pytest.mark.slow
@pytest.mark.parametrize("paper", SIZES)
def test_a_stop_is_the_first_and_largest_thing(paper):
    settings = CROSSED.model_copy(update={"coil_current": 1.9})
    kwargs = {"run_minutes": 24 * 60.0, "room_temperature": 313.15}
    sheet = build_run_sheet(prepared(), settings, **kwargs)
    assert sheet.verdict == "stop"
    assert sheet.steps
    printed = pages(run_sheet(prepared(), settings, paper=paper, **kwargs))
    first = flat(printed[0].extract_text())
    assert first.startswith("STOP Do not switch on.")
    assert all(squeezed(line.topic) in squeezed(first) for line in sheet.stops)
    assert largest_text(printed[0]) == "STOP"
    for page in printed[1:]:
        assert "STOP. Do not switch on" in flat(page.extract_text())
    markdown = run_sheet_markdown(prepared(), settings, **kwargs)
    assert markdown.startswith("# STOP. Do not switch on.")


def texts(page):
    """Every piece of text with its size in points, the drawings' scale included."""
    found = []

    def visit(text, now, matrix, _, size):
        if text.strip():
            found.append((abs(size * matrix[3] * now[3]), text.strip()))

    page.extract_text(visitor_text=visit)
    return found


def largest_text(page):
    return max(texts(page))[1]


def test_settings_beyond_a_rating_print_the_stop_without_steps():
    pdf = run_sheet(prepared(), BEYOND)
    words = text_of(pdf)
    assert words.startswith("STOP Do not switch on.")
    assert "2.5 A" in words
    assert "Wiring and steps are left out" in words
    assert "Discharge before touching" in words
    sheet = build_run_sheet(prepared(), BEYOND)
    assert not sheet.steps
    assert not sheet.leads
    assert "## Steps" not in run_sheet_markdown(prepared(), BEYOND)


def test_without_a_stop_no_stop_is_printed():
    assert "STOP" not in text_of(run_sheet(prepared(), CROSSED))


ODD = r'#eval("1") *b* _i_ $x$ [c] <l> @r \ "q" `m` // n'


@pytest.mark.slow
def test_a_name_cannot_act_as_markup():
    bench = change(ready_made("deflection tube"), {"name": ODD})
    pdf = run_sheet(prepare(bench), CROSSED)
    assert squeezed(ODD) in squeezed(text_of(pdf)).replace("“", '"').replace("”", '"')
    markdown = run_sheet_markdown(prepare(bench), CROSSED)
    assert escaped(ODD) in markdown
    assert "*b*" not in markdown.replace(r"\*b\*", "")


def test_the_longest_name_keeps_the_pages():
    bench = change(ready_made("deflection tube"), {"name": "W" * 100})
    assert len(pages(run_sheet(prepare(bench), CROSSED))) <= 5


def test_steps_follow_the_order_of_safety():
    steps = build_run_sheet(prepared(), CROSSED).steps
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert "off and unplugged" in steps[0].do
    assert "Heater on" in steps[1].do
    turned = [{knob.name for knob in step.knobs if knob.is_turned} for step in steps]
    assert turned[1] == {"heater"}
    assert turned[2] == {"accelerating"}
    # Checked at a low voltage first, one at a time; at the end accelerating, plates, coils.
    last = [names & {"accelerating", "plates", "coils"} for names in turned[-3:]]
    assert "accelerating" in last[0]
    assert last[1:] == [{"plates"}, {"coils"}]
    final = {knob.name: knob.value for knob in steps[-1].knobs}
    assert final == {"heater": "on", "accelerating": "3 kV", "plates": "1 kV", "coils": "140 mA"}


def test_the_speed_that_is_said_is_right():
    step = build_run_sheet(prepared(), CROSSED).steps[2]
    assert "960 V" in step.do
    assert "18.4 million metres a second" in step.say  # CODATA by hand: 1.835e7 m/s


def test_shared_supply_raises_plates_and_beam_together():
    settings = Settings(
        accelerating_voltage=2000.0, plate_voltage=2000.0, plate_source="accelerating supply",
        plate_tie="lower at anode", plate_reversed=True,
    )  # fmt: skip
    last = build_run_sheet(prepared(), settings).steps[-1]
    assert {k.name: k.value for k in last.knobs} == {
        "heater": "on", "accelerating": "2 kV", "plates": "2 kV", "coils": "0",
    }  # fmt: skip
    assert "the plates share it" in last.do


@pytest.mark.parametrize(
    ("kwargs", "words"),
    [
        ({"paper": "a5"}, 'paper: "a5" is not allowed; choose "a4" or "us-letter"'),
        ({"settings": CROSSED.model_copy(update={"heater_on": False})}, "heater_on"),
        ({"plan": "another"}, "give the settings of the plan"),
    ],
)
def test_what_makes_no_sense_is_refused(kwargs, words):
    if "plan" in kwargs:
        kwargs = {"plan": planned("deflection tube")}
    kwargs = {"settings": CROSSED} | kwargs
    with pytest.raises(GlowtraceError, match=re.escape(words)):
        run_sheet(prepared(), **kwargs)


def test_a_goal_beside_its_own_plan_only():
    plan = planned("fine-beam bulb", 1)
    assert isinstance(plan.goal, FullCircle)
    other = replace(plan.goal, diameter=plan.goal.diameter / 2)
    with pytest.raises(GlowtraceError, match="leave it out beside a plan"):
        run_sheet(prepared("fine-beam bulb"), plan.settings, plan=plan, goal=other)
