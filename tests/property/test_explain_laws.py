"""Laws that explanations keep whatever is set: energy, invariants of the fields, shares."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE, SPEED_OF_LIGHT
from glowtrace.explain.account import account_of
from glowtrace.explain.drift_frame import DriftFrame, events_seen, fields_seen, velocities_seen
from glowtrace.explain.explanation import explain
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.orders import share_out

few = settings(max_examples=40)
numbers = st.floats(-1.0, 1.0)
vectors = st.tuples(numbers, numbers, numbers).map(np.array)
knobs = st.builds(
    Settings,
    accelerating_voltage=st.floats(450.0, 4800.0),
    plate_voltage=st.floats(0.0, 4800.0),
    plate_tie=st.sampled_from(["symmetric", "lower at anode", "upper at anode"]),
    plate_reversed=st.booleans(),
    coil_current=st.floats(0.0, 1.9),
    coil_reversed=st.booleans(),
)


@few
@given(knobs)
def test_energy_is_kept_at_any_setting(deflection_tube, setting):
    """Kinetic plus potential energy, point by point, in the real fields."""
    account = account_of(followed_ray(deflection_tube, setting))
    largest = ELEMENTARY_CHARGE * (setting.accelerating_voltage + setting.plate_voltage)
    assert np.abs(account.energy_residual).max(initial=0.0) < 1e-8 * largest
    assert np.abs(account.magnetic_work).max(initial=0.0) < 1e-10 * largest


@few
@given(knobs, st.sampled_from(["bench", "ideal"]))
def test_every_setting_can_be_explained(deflection_tube, setting, model):
    """Marks in order and on the path; a frame, or a reason why there is none."""
    trace = explain(deflection_tube, setting, model=model, samples=120)
    places = [mark.at for mark in trace.marks]
    assert places == sorted(places)
    assert all(0.0 <= at <= len(trace.ray.time) - 1 for at in places)
    if isinstance(trace.frame, DriftFrame):
        assert trace.frame.speed < SPEED_OF_LIGHT
        assert np.isfinite(trace.frame.position).all()
    else:
        assert trace.frame.says


@given(vectors, vectors, vectors)
def test_invariants_of_the_field_are_the_same_for_every_observer(direction, electric, flux):
    """E.B and E^2 - c^2 B^2 (Jackson, Classical Electrodynamics, section 11.9)."""
    velocity = 0.5 * SPEED_OF_LIGHT * direction / np.sqrt(3.0)
    E, B = 1e5 * electric[None], 1e-3 * flux[None]
    E_seen, B_seen = fields_seen(velocity, E, B)
    scale = (E**2).sum() + SPEED_OF_LIGHT**2 * (B**2).sum() + 1.0

    def invariants(E, B):
        return np.array([
            SPEED_OF_LIGHT * (E * B).sum(), (E**2).sum() - SPEED_OF_LIGHT**2 * (B**2).sum(),
        ])  # fmt: skip

    assert invariants(E_seen, B_seen) == pytest.approx(invariants(E, B), abs=1e-9 * scale)


@given(vectors, vectors, vectors)
def test_looking_from_a_frame_and_back_changes_nothing(direction, place, moving):
    velocity = 0.5 * SPEED_OF_LIGHT * direction / np.sqrt(3.0)
    time, position = np.array([1e-9]), place[None]
    there = events_seen(velocity, time, position)
    back = events_seen(-velocity, *there)
    assert back[0] == pytest.approx(time, rel=1e-6, abs=1e-17)
    assert back[1] == pytest.approx(position, abs=1e-9)
    speeds = 0.5 * SPEED_OF_LIGHT * moving[None]
    again = velocities_seen(-velocity, velocities_seen(velocity, speeds))
    assert again == pytest.approx(speeds, abs=1e-6 * SPEED_OF_LIGHT)


@given(st.lists(numbers, min_size=16, max_size=16))
def test_shares_always_add_up(values):
    """Whatever the causes do together."""
    causes = ("a", "b", "c", "d")

    def value(on):
        return values[sum(1 << causes.index(cause) for cause in on)]

    for needs in ({}, {"b": "a"}, {"d": "a"}):
        shares = share_out(causes, value, needs)
        assert sum(share.mean for share in shares) == pytest.approx(
            values[15] - values[0], abs=1e-12
        )
        assert all(share.least <= share.mean + 1e-12 for share in shares)
        assert all(share.most >= share.mean - 1e-12 for share in shares)
