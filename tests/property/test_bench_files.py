"""What is saved reads back as the identical bench, whatever its numbers and names.

No outside source is needed: equality of floats is the check.
"""

from __future__ import annotations

import datetime
import math
import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.bench.checking import change, check
from glowtrace.bench.files import (
    bench_from_toml,
    bench_to_toml,
    settings_from_toml,
    settings_to_toml,
)
from glowtrace.bench.identity import bench_hash
from glowtrace.bench.model import Bench
from glowtrace.bench.parts import CoilPair, Gun, LongCoil, Place, Plates, Sheet, Supply
from glowtrace.bench.ranges import Count, Quantity
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError

LINES = st.text(
    st.characters(
        exclude_categories=["Cs"], exclude_characters="".join(map(chr, [*range(32), 127]))
    ),
    min_size=1,
    max_size=100,
)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=300)


def share(low, high):
    return st.floats(low, high)


@st.composite
def benches(draw):
    """A bench of any size in a bulb of radius r; shares of r keep its parts apart."""
    r = draw(st.floats(0.03, 0.3))
    gap, height = r * draw(share(0.3, 0.8)), r * draw(share(0.02, 0.2))
    length = r * draw(share(0.3, 0.8))
    tilt = st.floats(-0.1, 0.1)
    gun = {
        "aperture_shape": "slit",
        "aperture_height": r * draw(share(0.001, 0.03)),
        "aperture_width": r * draw(share(0.02, 0.1)),
        "anode_radius": r * draw(share(0.08, 0.3)),
        "divergence_vertical": draw(share(0, 0.5)),
        "divergence_sideways": draw(share(0, 0.5)),
        "cathode_temperature": draw(st.floats(300, 3500)),
        "heater_voltage": draw(st.floats(0.1, 50)),
        "heater_current": draw(st.floats(0.01, 20)),
        "beam_current": draw(st.floats(1e-9, 1e-3)),
        "min_accelerating_voltage": draw(st.floats(50, 1000)),
        "max_accelerating_voltage": draw(st.floats(1000, 30_000)),
    }
    plates = {
        "length": length,
        "width": r * draw(share(0.1, 0.6)),
        "gap": gap,
        "start": 0.001 + r * draw(share(0.02, 0.1)),
        "height_offset": gap * draw(share(-0.05, 0.05)),
        "tilt_upper": draw(tilt),
        "tilt_lower": draw(tilt),
        "max_voltage": draw(st.floats(1, 30_000)),
        "terminal_upper": draw(LINES),
    }
    screen = {
        "kind": "sheet",
        "x_from": r * draw(share(0.01, 0.3)),
        "x_to": r * draw(share(0.4, 1.2)),
        "height": height,
        "z_from": -r * draw(share(0.0, 0.1)),
        "z_to": r * draw(share(0.01, 0.1)),
        "grid_pitch": draw(st.floats(0.0005, 0.2)),
    }
    coils = {
        "kind": "pair",
        "mean_radius": r * draw(share(1.2, 3)),
        "turns": draw(st.integers(1, 100_000)),
        "winding_width": r * draw(share(0.01, 0.3)),
        "winding_depth": r * draw(share(0.01, 0.3)),
        "spacing": r * draw(share(0.5, 3)),
        "centre": [r * 0.6, 0.0, 0.0],
        "tilt_x": draw(tilt),
        "tilt_y": draw(tilt),
        "sense": draw(st.sampled_from(["aiding", "opposing"])),
        "resistance": draw(st.floats(1e-3, 1e5)),
        "max_current": draw(st.floats(1e-3, 100)),
    }
    accelerating = {
        "max_voltage": draw(st.floats(1000, 60_000)),
        "min_voltage": draw(st.floats(0, 1000)),
        "max_current": draw(st.floats(1e-3, 100)),
        "ripple": draw(st.floats(0, 1)),
        "ripple_frequency": draw(st.floats(0, 1e6)),
    }
    place = {
        "ignore_earth": draw(st.booleans()),
        "latitude": draw(st.floats(-math.pi / 2, math.pi / 2)),
        "longitude": draw(st.floats(-math.pi, math.pi)),
        "date": draw(st.dates(datetime.date(1900, 1, 1), datetime.date(2029, 12, 31))),
        "heading": draw(st.floats(0, 2 * math.pi)),
        "altitude": draw(st.floats(-500, 10_000)),
    }
    data = {
        "name": draw(LINES),
        "invented": draw(st.booleans()),
        "notes": draw(TEXTS),
        "gun": gun,
        "plates": draw(st.none() | st.just(plates)),
        "screen": screen,
        "envelope": {"kind": "sphere", "centre": [r * 0.6, 0.0, 0.0], "radius": r},
        "coils": draw(st.none() | st.just(coils)),
        "supplies": {"accelerating": accelerating},
        "place": place,
    }
    return check(Bench, data, "a generated bench")


@settings(max_examples=60)
@given(benches())
def test_load_save_load_is_lossless(bench):
    text = bench_to_toml(bench)
    again = bench_from_toml(text)
    assert again == bench
    assert bench_to_toml(again) == text
    assert bench_hash(again) == bench_hash(bench)
    assert tomllib.loads(text)["name"] == bench.name


VOLTS, AMPERES = (st.floats(0, Settings.highest(k)) for k in ("plate_voltage", "coil_current"))


@given(
    st.builds(
        Settings,
        accelerating_voltage=VOLTS,
        plate_voltage=VOLTS,
        coil_current=AMPERES,
        plate_tie=st.sampled_from(["symmetric", "lower at anode", "upper at anode"]),
        plate_reversed=st.booleans(),
        divergence=st.booleans(),
    )
)
def test_settings_survive_whatever_the_knobs_say(knobs):
    assert settings_from_toml(settings_to_toml(knobs)) == knobs


def numbers_of(part):
    """The fields of a part that hold one number, with strategies over their whole range."""
    for name, info in part.model_fields.items():
        for mark in info.metadata:
            if isinstance(mark, Quantity):
                low, high = mark.limits
                yield name, st.floats(low, high)
            if isinstance(mark, Count):
                yield name, st.integers(1, mark.highest)


@settings(max_examples=300)
@given(st.data())
def test_every_number_of_every_part_is_kept_to_the_last_bit(data):
    part = data.draw(st.sampled_from([Gun, Plates, Sheet, CoilPair, LongCoil, Supply, Place]))
    rest = {"aperture_shape": "slit", "centre": (0.0, 0.0, 0.0), "date": "2026-01-01"}
    values = {name: data.draw(strategy, label=name) for name, strategy in numbers_of(part)}
    assert values
    made = check(
        part, values | {k: v for k, v in rest.items() if k in part.model_fields}, part.__name__
    )
    back = check(part, made.model_dump(mode="json"), part.__name__, is_written=True)
    assert {name: getattr(back, name) for name in values} == values


FIELDS = ["plates.gap", "gun", "coils.turns", "screen.kind", "place.date", "name", "x.y", "format"]
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)


@settings(max_examples=100)
@given(st.dictionaries(st.sampled_from(FIELDS), ANYTHING, max_size=3))
def test_nonsense_in_any_field_is_a_bench_error_or_a_sound_bench(changes):
    tube = ready_made("deflection tube")
    try:
        changed = change(tube, changes, is_written=True)
    except BenchError as error:
        told, changed = error.problems, tube
        assert told
    assert bench_from_toml(bench_to_toml(changed)) == changed


@given(st.text(max_size=200))
def test_any_text_at_all_is_a_bench_error(text):
    try:
        bench_from_toml(text)
    except BenchError as error:
        first = str(error.problems[0])
    else:
        first = "no error"
    assert "; " in first  # what was given, and what is allowed
