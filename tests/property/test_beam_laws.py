"""Laws that every picture must keep: mirror images, threads, seeds, numbers of electrons."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as budget
from hypothesis import strategies as st

from glowtrace.beam.bundle import fly_bundle
from glowtrace.bench.settings import Settings

few = budget(
    max_examples=15,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
volts = st.floats(0.0, 1500.0)
amperes = st.floats(0.0, 0.25)


def middle(picture):
    return picture.mean_trace.u, picture.mean_trace.v


@few
@given(plate=volts, coil=amperes, accelerating=st.floats(2000.0, 4800.0))
def test_mirrored_polarities_mirror_the_picture(deflection_tube, plate, coil, accelerating):
    """Up and down are equal: reversing plates and coils turns the trace upside down."""
    one = Settings(
        accelerating_voltage=accelerating, plate_voltage=plate, coil_current=coil,
        thermal_spread=False, divergence=False,
    )  # fmt: skip
    other = one.model_copy(update={"plate_reversed": True, "coil_reversed": True})
    pictures = [deflection_tube.central_ray(each) for each in (one, other)]
    up, down = (ray.position[-1] for ray in pictures)
    assert pictures[0].end in ("screen", "glass", "upper plate")
    assert up[:2] == pytest.approx([down[0], -down[1]], abs=2e-6)


@few
@given(voltage=st.floats(200.0, 1000.0))
def test_beam_bends_towards_the_positive_plate(deflection_tube, voltage):
    """Common practice, no source."""
    beam = Settings(accelerating_voltage=3000.0, plate_voltage=voltage)
    assert deflection_tube.central_ray(beam).position[-1, 1] > 1e-4
    reversed_plates = beam.model_copy(update={"plate_reversed": True})
    assert deflection_tube.central_ray(reversed_plates).position[-1, 1] < -1e-4


@few
@given(seed=st.integers(0, 2**32), coil=amperes)
def test_one_thread_and_two_give_the_same_bits(deflection_tube, seed, coil):
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=500.0, coil_current=coil)
    bundles = [
        fly_bundle(
            deflection_tube.field(settings), deflection_tube.walls,
            deflection_tube.source(settings), deflection_tube.canvas,
            electrons=5000, seed=seed, image_shape=deflection_tube.plane.image_shape, rows=50,
            end_codes=len(deflection_tube.end_names), keep_landings=100, threads=threads,
        )
        for threads in (1, 2)
    ]  # fmt: skip
    for name in ("ends", "image", "sums", "landings"):
        assert np.array_equal(getattr(bundles[0], name), getattr(bundles[1], name)), name


def test_seeds_differ_and_repeat(deflection_tube):
    settings = Settings(accelerating_voltage=3000.0)
    first, again, other = (
        deflection_tube.picture(settings, seed=seed).landings for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_few_electrons_show_the_same_trace_as_many(deflection_tube):
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
    few_electrons = deflection_tube.picture(settings, electrons=200).mean_trace
    many = deflection_tube.picture(settings, electrons=50_000).mean_trace
    for u, v in zip(few_electrons.u, few_electrons.v, strict=True):
        there = many.at(u)
        assert there is not None
        assert v == pytest.approx(there[0], abs=3 * there[1])


@few
@given(
    spread=st.sampled_from(["thermal_spread", "ripple", "divergence"]),
    voltage=st.floats(2000.0, 4000.0),
)
def test_every_cause_of_spread_widens_the_trace(deflection_tube, spread, voltage):
    off = dict.fromkeys(("thermal_spread", "ripple", "divergence"), False)
    sharp, wide = (
        deflection_tube.picture(
            Settings(
                accelerating_voltage=voltage, plate_voltage=voltage / 2, coil_current=0.0, **causes
            ),
            electrons=20_000,
        ).mean_trace
        for causes in (off, off | {spread: True})
    )
    assert wide.width_v[-20:].mean() > sharp.width_v[-20:].mean()


def test_plates_on_the_accelerating_supply_ripple_with_it(deflection_tube):
    """The ideal deflection depends on V_p / V_a alone, so ripple in both at once cancels."""
    off = {"thermal_spread": False, "divergence": False}
    own, shared = (
        deflection_tube.picture(
            Settings(
                accelerating_voltage=2000.0, plate_voltage=1000.0, plate_source=source,
                plate_tie="upper at anode", **off,
            ),
            electrons=20_000,
        ).mean_trace
        for source in ("own supply", "accelerating supply")
    )  # fmt: skip
    still = deflection_tube.picture(
        Settings(
            accelerating_voltage=2000.0, plate_voltage=1000.0, ripple=False,
            plate_tie="upper at anode", **off,
        ),
        electrons=20_000,
    ).mean_trace  # fmt: skip
    excess = [float((each.width_v[-20:] - still.width_v[-20:]).mean()) for each in (own, shared)]
    assert excess[0] > 1e-7
    assert abs(excess[1]) < 0.1 * excess[0]


def test_cold_heater_gives_no_light(deflection_tube):
    picture = deflection_tube.picture(Settings(accelerating_voltage=3000.0, heater_on=False))
    assert picture.image.sum() == 0.0
    assert picture.ends == {}
    assert len(picture.mean_trace.u) == 0
