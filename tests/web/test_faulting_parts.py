"""Parts of the page that finds faults, without a browser."""

from __future__ import annotations

import math
from dataclasses import replace
from urllib.parse import parse_qsl

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from glowtrace.bench.ready_made import ready_made
from glowtrace.faults import Appearance
from glowtrace.web.faults.cause_picture import cause_picture, looks, spot_ring
from glowtrace.web.faults.glow_drawing import Glow, glow_of
from glowtrace.web.faults.shares import about, with_uncertainty
from glowtrace.web.faults.sketch import line_pieces, spot
from glowtrace.web.faults.told import Told, read_told

TUBE = ready_made("deflection tube")
FACE = ready_made("axial coil tube")
LINE = np.column_stack([np.linspace(0.013, 0.1, 24), np.linspace(0.0, 0.012, 24)])


def _appearance(**changes: object) -> Appearance:
    usual = {
        "is_lit": True,
        "line": LINE,
        "lift": 0.01,
        "width": 1e-3,
        "far_width": 1e-3,
        "brightness": 1.0,
    }
    return Appearance(**{**usual, **changes})  # type: ignore[arg-type]


tenths = st.integers(-5000, 5000).map(lambda each: each / 10)
plain = st.text("abcdefghij -", min_size=1, max_size=20).map(str.strip).filter(bool)


@given(
    st.builds(
        Told,
        st.lists(plain, unique=True, max_size=4).map(tuple),
        st.just(("denied",)),
        st.lists(
            st.tuples(
                plain, st.lists(st.tuples(tenths, tenths), min_size=1, max_size=9).map(tuple)
            ),
            max_size=3,
            unique_by=lambda each: each[0],
        ).map(tuple),
        st.just(False),
        st.lists(st.tuples(plain, plain), max_size=4, unique_by=lambda each: each[0]).map(tuple),
    )
)
def test_what_is_told_comes_back_from_the_address(told: Told) -> None:
    assert read_told(dict(parse_qsl(told.query.removeprefix("&")))) == told


@pytest.mark.parametrize("text", ["", "1", "1_2~3", "1_nan", "inf_2", "a_b"])
def test_a_sketch_that_makes_no_sense_is_none(text: str) -> None:
    assert read_told({"sketch.as set": text}).sketches == ()


def test_an_answer_is_taken_back_and_given_anew() -> None:
    told = Told().answering("heater", "dark").answering("meter", "nothing")
    assert told.answering("heater", "dull").checked == (("meter", "nothing"), ("heater", "dull"))
    assert told.answering("heater", "").checked == (("meter", "nothing"),)
    assert told.answering("meter", "").answering("heater", "").is_empty


def test_a_statement_is_seen_or_not_seen_or_not_looked_at() -> None:
    told = Told().saying("bends up", True).saying("is faint", False)
    assert (told.said, told.denied) == (("bends up",), ("is faint",))
    other = told.saying("bends up", False)
    assert (other.said, other.denied) == ((), ("is faint", "bends up"))
    assert other.saying("bends up", None).saying("is faint", None).is_empty
    assert not other.is_empty


def test_an_address_that_says_both_is_taken_at_its_first_word() -> None:
    told = read_told({"said": "a.b.a", "denied": "b.c"})
    assert (told.said, told.denied) == (("a", "b"), ("c",))


def test_a_told_case_waits_while_another_bench_is_looked_at() -> None:
    line = ((1.0, 2.0), (3.0, 4.0))
    told = Told(("down",), ("faint",)).sketching("as set", line, is_photographed=True)
    told = told.answering("heater", "heater is dull")
    there = read_told(dict(parse_qsl(told.left("own/A & b@c").query[1:])), "ready-made/bulb")
    assert (there.said, there.denied) == (("down",), ("faint",))
    assert (there.sketches, there.is_photographed, there.checked) == ((), False, ())
    there = there.answering("coil meter", "coil meter shows nothing")
    back = read_told(dict(parse_qsl(there.left("ready-made/bulb").query[1:])), "own/A & b@c")
    assert replace(back, elsewhere=()) == told
    assert dict(back.elsewhere) == {
        "checked.coil meter@ready-made/bulb": "coil meter shows nothing"
    }


def test_an_address_with_sentences_opens_as_before() -> None:
    told = read_told({"said": "line bends down.spot is faint", "denied": "line ends early"})
    assert (told.said, told.denied) == (("down", "faint"), ("ends_early",))


def test_lines_of_several_states_and_photographs() -> None:
    line = ((1.0, 2.0), (3.0, 4.0))
    told = Told().sketching("as set", line, is_photographed=True)
    assert told.is_photographed
    assert told.sketch() == line
    told = told.sketching("plate voltage", line)
    assert not told.is_photographed
    assert told.sketching("plate voltage", ()).sketching("as set", ()).is_empty


def test_shares_have_no_more_digits_than_they_deserve() -> None:
    # Common practice, no source: an estimate is said in steps of about its own doubt.
    assert about(0.004) == "under 1 %"
    assert about(0.034) == "about 3 %"
    assert about(0.62) == "about 60 %"
    assert about(0.99) == "nearly 100 %"
    assert with_uncertainty(0.624, 0.041) == "62 % ± 4 %"


def test_the_edge_of_an_evenly_lit_spot_is_found() -> None:
    # A disc of radius R has the mean square distance R^2 / 2 from its middle (closed form).
    radius, middle = 0.004, np.array([0.001, -0.002])
    distance = radius * np.sqrt((np.arange(4000) + 0.5) / 4000)
    angle = np.arange(4000) * math.pi * (3 - math.sqrt(5))
    landings = middle + np.column_stack([distance * np.cos(angle), distance * np.sin(angle)])
    ((at, edge),) = spot(landings)
    assert at == pytest.approx(middle, abs=1e-5)
    assert np.linalg.norm(edge - at) == pytest.approx(radius, rel=1e-3)


def test_a_ring_is_a_circle_through_its_edge() -> None:
    ring = spot_ring((1.0, 2.0), (4.0, 6.0))
    assert np.linalg.norm(ring - [1.0, 2.0], axis=1) == pytest.approx(5.0)
    assert ring.mean(axis=0) == pytest.approx([1.0, 2.0])


def test_a_line_is_cut_where_it_leaves_the_screen_and_where_it_jumps() -> None:
    u = np.linspace(0.02, 0.10, 81)
    height = np.where((u > 0.05) & (u < 0.07), 0.5, 0.0)  # far above the screen in between
    pieces = line_pieces(TUBE, np.column_stack([u, height]))
    assert [len(piece) for piece in pieces] == [31, 31]
    jump = np.concatenate([LINE, LINE - np.array([0.0, 0.02])])
    assert [len(piece) for piece in line_pieces(TUBE, jump)] == [24, 24]
    assert line_pieces(TUBE, np.zeros((0, 2))) == ()


def test_a_dark_tube_is_said_and_drawn_so() -> None:
    dark = _appearance(is_lit=False, line=np.zeros((0, 2)), filament=0.0, width=math.nan)
    assert glow_of(dark) == Glow()
    assert looks(TUBE, dark) == "It would look like this: no line, the heater is dark."
    assert "NaN" not in cause_picture(TUBE, dark, ()).replace("nan", "NaN")


def test_where_a_beam_ends_and_what_no_drawing_shows_are_said() -> None:
    helix = _appearance(kind="hits the glass", aside=0.03)
    assert looks(ready_made("fine-beam bulb"), helix) == (
        "It would look like this: the line ends on the glass, the line runs out sideways."
    )


def test_a_spot_is_drawn_with_its_radius() -> None:
    appearance = _appearance(line=np.repeat([[0.002, 0.003]], 24, axis=0), width=2e-3)
    middle, band = glow_of(appearance)
    assert middle == "M2.00 3.00h0"
    assert band.startswith("M0.00 3.00a2.00 2.00")
    assert "cause-seen" in cause_picture(FACE, appearance, ((2.0, 3.0), (3.0, 3.0)))


def test_a_fan_is_as_wide_as_it_is_at_its_middle_and_at_its_end() -> None:
    straight = np.column_stack([np.linspace(0.0, 0.1, 25), np.zeros(25)])
    _, band = glow_of(_appearance(line=straight, width=3e-3, far_width=6e-3))
    outline = np.array([each.split() for each in band.strip("MZ").split("L")], dtype=float)
    assert outline[12] == pytest.approx([50.0, 3.0])
    assert outline[24] == pytest.approx([100.0, 6.0])
    assert outline[-13] == pytest.approx([50.0, -3.0])
