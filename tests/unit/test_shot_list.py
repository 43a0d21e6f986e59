"""The shot list: frame, exposure, dangers and what is touched between the shots.

Order of switching off and discharge before a lead is touched: common practice, no source.
"""

from __future__ import annotations

import io
import json
import re
from functools import cache
from itertools import pairwise

import pytest
from pypdf import PdfReader

from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli import run
from glowtrace.errors import GlowtraceError
from glowtrace.report.run_sheets.content import build_run_sheet
from glowtrace.report.shot_lists.shot_list import build_shot_list, markdown, print_shot_list
from glowtrace.shots.lens import LENSES
from glowtrace.shots.speech import hold_for, seconds_of

pytestmark = pytest.mark.slow  # but for the words: a list takes a second or two

CROSSED = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.14,
                   coil_reversed=True)  # fmt: skip
TURNED = CROSSED.model_copy(update={"coil_reversed": False})
COIL = Settings(accelerating_voltage=700.0, coil_current=0.35)


@cache
def made(name="deflection tube", lens="telephone"):
    prepared = prepare(ready_made(name))
    settings = CROSSED if name == "deflection tube" else COIL
    also = (("turned round", TURNED), ("once more", CROSSED)) if settings == CROSSED else ()
    sheet = build_run_sheet(prepared, settings)
    return build_shot_list(
        prepared, sheet, LENSES[lens], also=also, scripts={3: "Now there is a beam."}
    ), sheet


def test_each_step_is_a_shot_and_each_picture_lies_in_its_frame():
    shots, sheet = made()
    assert [shot.do for shot in shots.story[: len(sheet.steps)]] == [s.do for s in sheet.steps]
    for shot in shots.shots[2:]:
        trace = prepare(ready_made("deflection tube")).picture(shot.settings).mean_trace
        box = shot.framing.box
        assert box.u0 < trace.u.min()
        assert trace.u.max() < box.u1
        assert box.v0 < trace.v.min()
        assert trace.v.max() < box.v1


def test_the_frame_follows_a_spot_and_stays_sixteen_to_nine():
    shots, _ = made("axial coil tube", "interchangeable lens")
    plane = ready_made("axial coil tube").plane
    for shot in shots.shots[2:]:
        box = shot.framing.box
        assert box.width / box.height == pytest.approx(16 / 9)
        assert 4 * plane.grid_pitch <= box.width * 1.001
    assert min(s.framing.box.width for s in shots.shots[2:]) < 0.06  # m; the whole face takes 0.084


def test_nobody_turns_a_tripod_in_the_dark_for_a_millimetre():
    shots, _ = made("axial coil tube", "interchangeable lens")
    boxes = [shot.framing.box for shot in shots.shots[2:]]
    for one, other in pairwise(boxes):
        assert one == other or max(one.width, other.width) > 1.2 * min(one.width, other.width)
    told = " ".join(" ".join(shot.camera) for shot in shots.shots)
    assert told.count("Focus on the printed grid") == 1  # the distance never changes


def test_leads_change_once_and_only_after_the_discharge():
    shots, sheet = made()
    assert [shot.place for shot in shots.shots][-1] == len(sheet.steps) + 1  # the turned one
    assert shots.changes == 4  # two leads off, two on: those that the run sheet has exchanged
    between = [shot for shot in shots.shots[:-1] if shot.needs_discharge]
    assert len(between) == 1
    told = between[0].after
    discharge = next(n for n, step in enumerate(told) if step.startswith("Discharge"))
    off = next(n for n, step in enumerate(told) if step.startswith("Take off"))
    assert told[0].startswith("Leads change")
    assert "light on" in told[0]
    assert 0 < discharge < off < next(n for n, s in enumerate(told) if s.startswith("Put on"))
    assert {"ammeter −", "coil supply −"} <= set(re.findall(r"ammeter −|coil supply −", told[off]))


def test_dangers_are_told_in_full_when_they_are_new():
    shots, _ = made()
    first = next(shot for shot in shots.shots if shot.settings.accelerating_voltage > 0)
    assert first.dangers[0].startswith("Voltage of the accelerating supply: 960 V")
    plates = next(shot for shot in shots.shots if shot.settings.plate_voltage > 0)
    assert plates.dangers[0].startswith("Voltage of the plate supply")
    assert plates.dangers[-1].startswith("As before")
    assert "No voltage yet" in shots.shots[0].dangers[0]


def test_a_camera_without_a_diaphragm_is_not_told_to_stop_down():
    shots, _ = made()
    cameras = [shot.set_camera for shot in shots.shots if shot.set_camera is not None]
    assert {camera.aperture for camera in cameras} == {1.8}
    changes = sum(a != b for a, b in pairwise(cameras))
    assert changes <= 1  # the beam of 3 kV is far brighter than that of 960 V


def test_words_are_timed_and_may_be_replaced():
    # 130 words a minute: common practice, no source.
    assert seconds_of("word " * 130) == 60
    assert hold_for("word " * 130) == 64
    shots, _ = made()
    told = next(shot for shot in shots.shots if shot.place == 3)
    assert told.script == "Now there is a beam."
    assert told.hold == hold_for(told.script)
    assert all("(" not in shot.script for shot in shots.shots)


def test_script_for_no_shot_and_settings_beyond_a_rating_are_refused():
    prepared = prepare(ready_made("deflection tube"))
    sheet = build_run_sheet(prepared, CROSSED)
    with pytest.raises(GlowtraceError, match="there are shots 1 to"):
        build_shot_list(prepared, sheet, LENSES["webcam"], scripts={40: "Never said."})
    beyond = CROSSED.model_copy(update={"coil_current": 2.5})
    with pytest.raises(GlowtraceError, match="beyond a rating"):
        build_shot_list(prepared, build_run_sheet(prepared, beyond), LENSES["webcam"])


def test_paper_and_markdown_say_the_same():
    shots, _ = made()
    pages = PdfReader(io.BytesIO(print_shot_list(shots))).pages
    printed = " ".join(" ".join(page.extract_text().split()) for page in pages)
    text = markdown(shots)
    for shot in shots.shots:
        assert shot.do.split(".")[0].replace(" V", "\u00a0V") in printed.replace(" V", "\u00a0V")
        assert shot.do.split(".")[0] in text
    assert print_shot_list(shots) == print_shot_list(shots)


def test_command_gives_numbers_and_refuses_what_it_cannot_read(capsys):
    bench = ["shots", "deflection tube", "--accelerating", "3 kV"]
    assert run([*bench, "--json", "--size", "longest=20 mm"]) == 0
    told = json.loads(capsys.readouterr().out)
    last = told["shots"][-1]
    assert last["framing"]["distance_m"] == pytest.approx(0.3)
    assert last["hold_s"] >= last["speech_s"] + 4
    assert last["settings"]["accelerating_voltage_v"] == 3000.0
    assert run([*bench, "--say", "three=No number."]) == 2
    assert run([*bench, "--size", "longest=20"]) == 2
    assert "unit is missing" in capsys.readouterr().err
