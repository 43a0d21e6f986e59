"""The light of a scene goes into an address and comes back."""

from __future__ import annotations

from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st

from glowtrace.bench.checking import change
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError
from glowtrace.light.scene import PHOSPHORS, Scene
from glowtrace.web.address import read_model, told_model
from glowtrace.web.preparation import LIGHT, Preparation


def test_the_usual_scene_says_nothing():
    assert told_model(Scene(), LIGHT) == {}
    assert read_model(Scene, {"bench": "ready-made/deflection tube"}, LIGHT) == Scene()


@given(
    lux=st.floats(0.0, 1e5),
    current=st.one_of(st.none(), st.floats(1e-9, 0.05)),
    phosphor=st.sampled_from(list(PHOSPHORS.values())),
    is_measured=st.booleans(),
)
def test_a_scene_comes_back(lux, current, phosphor, is_measured):
    scene = change(Scene(phosphor=phosphor, beam_current=current), {
        "room.illuminance": lux, "room.is_measured": is_measured,
    })  # fmt: skip
    query = Preparation("a/b", Settings(accelerating_voltage=1.0), scene=scene).query
    assert read_model(Scene, dict(parse_qsl(query)), LIGHT) == scene


@pytest.mark.parametrize(
    "query",
    [{"light.room": "5"}, {"light.room.illuminance": "dark"}, {"light.room.": "1"},
     {"light.": "1"}, {"light.room.illuminance": "2", "light.room.illuminance.x": "1"},
     {"light.camera.iso": "nan"}],
)  # fmt: skip
def test_nonsense_is_an_error_that_names_the_field(query):
    with pytest.raises(BenchError, match="address"):
        read_model(Scene, query, LIGHT)
