"""An electron that is turned back ends on what stands where it ends. No outside source."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as budget
from hypothesis import strategies as st

from glowtrace.beam.bundle import fly_electrons
from glowtrace.beam.obstacles import FIRST_ELECTRODE, GLASS, LEFT_MAP
from glowtrace.beam.source import emit, sequence_shifts
from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE

ELECTRONS = 64
NEAR = 1e-9
"""m: far above rounding, far below anything that is seen."""


def ends_of(tube, settings, seed):
    field, source = tube.field(settings), tube.source(settings)
    states, shifts = np.zeros((ELECTRONS, 6)), sequence_shifts(seed)
    for n in range(ELECTRONS):
        emit(source, shifts, n, field, False, states[n])
    flights = fly_electrons(field, tube.walls, states, threads=1)
    return flights.ends, flights.states[:, :3]


def on_the_anode(tube, places):
    x, off_axis = places[:, 0], np.hypot(places[:, 1], places[:, 2])
    return (np.abs(x) <= NEAR) & (off_axis <= tube.bench.gun.anode_radius)


@budget(max_examples=16)
@given(
    accelerating=st.floats(300.0, 1500.0),
    plate=st.floats(0.5, 3.0),
    coil=st.floats(0.2, 2.0),
    tie=st.sampled_from(["symmetric", "lower at anode", "upper at anode"]),
    seed=st.integers(0, 1000),
)
def test_what_comes_back_to_the_anode_ends_on_it(
    deflection_tube, accelerating, plate, coil, tie, seed
):
    settings = Settings(
        accelerating_voltage=accelerating, plate_voltage=plate * accelerating, plate_tie=tie,
        coil_current=coil, coil_reversed=True,
    )  # fmt: skip
    ends, places = ends_of(deflection_tube, settings, seed)
    on_it = on_the_anode(deflection_tube, places)
    assert np.array_equal(ends == FIRST_ELECTRODE, on_it)
    names = deflection_tube.end_names
    assert {names[code] for code in ends[~on_it]} <= set(names) - {"anode", "still flying"}


@pytest.mark.parametrize("share", [0.2, 0.45, 0.7])
def test_a_beam_that_coils_alone_turn_round_ends_on_the_anode(deflection_tube, share):
    # Circles of a diameter 2 m v / (e B) within the disc: every electron comes back to its face.
    bench, voltage = deflection_tube.bench, 300.0
    per_ampere = flux_density_per_ampere(bench)[2]
    speed = math.sqrt(2.0 * SPECIFIC_CHARGE * voltage)
    current = 2.0 * speed / (SPECIFIC_CHARGE * per_ampere * share * bench.gun.anode_radius)
    settings = Settings(accelerating_voltage=voltage, coil_current=current)
    ends, places = ends_of(deflection_tube, settings, 0)
    assert on_the_anode(deflection_tube, places).all()
    assert (ends == FIRST_ELECTRODE).all()


def test_glass_that_ends_where_the_map_does_is_glass(axial_coil_tube):
    settings = Settings(accelerating_voltage=300.0)
    field = axial_coil_tube.field(settings)
    start = np.array([[0.05, 0.0, 0.0, 1e6, 1e7, 0.0], [0.05, 0.0, 0.0, 1e6, 0.0, -1e7]])
    flights = fly_electrons(field, axial_coil_tube.walls, start, threads=1)
    assert (flights.ends == GLASS).all()
    assert LEFT_MAP not in flights.ends
