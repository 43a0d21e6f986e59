"""The table in the page's address, and back."""

from __future__ import annotations

from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st

from glowtrace.bench.model import Bench
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import BenchError
from glowtrace.report.clips.clip import ClipForm
from glowtrace.web.address import from_query, read_state, to_query
from glowtrace.web.explain.explain_page import ExplainView
from glowtrace.web.handouts.clip_work import ClipWish, clip_query, read_clip_wish
from glowtrace.web.handouts.picture_files import PictureForm
from glowtrace.web.handouts.sheets_part import SheetsForm
from glowtrace.web.preparation import read_preparation

settings_anyhow = st.builds(
    Settings,
    accelerating_voltage=st.floats(0.0, 30e3),
    plate_voltage=st.floats(0.0, 30e3),
    plate_tie=st.sampled_from(["symmetric", "lower at anode", "upper at anode"]),
    plate_source=st.sampled_from(["own supply", "accelerating supply"]),
    plate_reversed=st.booleans(),
    coil_current=st.floats(0.0, 100.0),
    coil_reversed=st.booleans(),
    heater_on=st.booleans(),
    ripple=st.booleans(),
)


@given(settings_anyhow, st.text(min_size=1))
def test_there_and_back(settings: Settings, name: str) -> None:
    query = dict(parse_qsl(to_query(name, settings), keep_blank_values=True))
    assert from_query(query) == (name, settings)


def test_an_empty_address_tells_nothing() -> None:
    assert from_query({}) == (None, None)


def test_a_wrong_value_names_its_field() -> None:
    with pytest.raises(BenchError, match=r"plate_voltage.*lots"):
        from_query({"accelerating_voltage": "3000", "plate_voltage": "lots"})


# Addresses that pages gave before; each must open as it did.
PREPARED = (
    "bench=ready-made%2Fdeflection+tube&accelerating_voltage=3000.0&plate_voltage=900.0"
    "&plate_tie=upper+at+anode&coil_current=0.2&coil_reversed=true&goal=turn-back&aim.depth=0.011"
    "&aim.turns=0.85&hold.accelerating_voltage=3000.0&earthed=cathode&minutes=30.0&room=298.15"
    "&paper=us-letter&light.room.illuminance=20.0&light.room.is_measured=true"
    "&light.beam_current=0.0001&shown=room"
)
CLIP = (
    "clip.shows=flight&clip.knob=coil_current&clip.from=0.0&clip.to=0.25&clip.back=true"
    "&clip.textbook=false&clip.seconds=4.5&clip.rate=50&clip.size=480p&clip.model=ideal"
    "&clip.file=.gif"
)
TUBE = ready_made("deflection tube")


def _read(query: str) -> dict[str, str]:
    return dict(parse_qsl(query.removeprefix("&"), keep_blank_values=True))


def test_an_earlier_address_of_what_is_prepared_opens_as_it_did() -> None:
    preparation, bench = read_preparation(_read(PREPARED), "", ready_made_at)
    assert bench == TUBE
    assert preparation.settings.signed_coil_current == -0.2
    assert preparation.settings.plate_tie == "upper at anode"
    assert preparation.goal is not None
    assert preparation.goal.name == "turn-back"
    assert preparation.held == {"accelerating_voltage": 3000.0}
    assert (preparation.earthed, preparation.paper) == ("cathode", "us-letter")
    assert (preparation.run_minutes, preparation.room_temperature) == (30.0, 298.15)
    assert preparation.scene.room.illuminance == 20.0
    assert preparation.in_room
    assert preparation.query == PREPARED


def ready_made_at(place: str) -> Bench:
    return ready_made(place.removeprefix("ready-made/"))


def test_an_earlier_address_of_a_clip_opens_as_it_did() -> None:
    settings = opening_settings(TUBE)
    wish = read_clip_wish(_read(CLIP), TUBE, settings)
    form = ClipForm(4.5, 50, "480p", "ideal")
    assert wish == ClipWish("flight", "coil_current", 0.0, 0.25, True, False, form, ".gif")
    assert read_clip_wish(_read(clip_query(wish, TUBE, settings)), TUBE, settings) == wish


def test_a_usual_clip_says_nothing_and_nonsense_is_as_usual() -> None:
    settings = opening_settings(TUBE)
    usual = ClipWish.usual(TUBE, settings)
    assert clip_query(usual, TUBE, settings) == ""
    wrong = "clip.knob=handle&clip.from=0&clip.to=nan&clip.rate=7&clip.size=9p&clip.look=dark"
    assert read_clip_wish(_read(wrong), TUBE, settings) == usual


def test_earlier_addresses_of_picture_sheets_and_explanation_open_as_they_did() -> None:
    told = _read("look=print&model=ideal&textbook=false&forces=true")
    picture = read_state(told, PictureForm())
    assert picture == PictureForm("print", "ideal", False, True)
    assert _read(picture.query) == told
    sheets = read_state(_read("sheet.level=proportion&sheet.seed=7"), SheetsForm(), "sheet.")
    assert sheets == SheetsForm("proportion", 7, 1)
    assert read_state(_read("sheet.learners=0&sheet.seed=-1"), sheets, "sheet.") == sheets
    assert read_state(_read("model=ideal&seen=both"), ExplainView()) == ExplainView("ideal", "both")
    assert read_state(_read("model=best&seen=nobody"), ExplainView()) == ExplainView()
