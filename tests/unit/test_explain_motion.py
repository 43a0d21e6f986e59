"""The electron that is followed: its account, its named places, and how they are handed on.

Energy balance along every path that is shown; that the magnetic force does no work is textbook
physics. Other expectations follow from the settings themselves.
"""

from __future__ import annotations

import base64
import csv
import io
import json

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from glowtrace.bench.electron import Launch
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.explain.accounts import wrong_accounts
from glowtrace.explain.drift_frame import DriftFrame, NoFrame
from glowtrace.explain.explanation import explain
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.path_table import COLUMNS, path_table
from glowtrace.report.explanation_record import explanation_record
from glowtrace.web.explain.message import stage_message

TURN_BACK = Settings(
    accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.0, coil_reversed=True
)
SHOWN = [
    ("deflection_tube", Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)),
    ("deflection_tube", TURN_BACK),
    (
        "deflection_tube",
        Settings(
            accelerating_voltage=3000.0, plate_voltage=1000.0, plate_tie="lower at anode",
            coil_current=0.14, coil_reversed=True,
        ),
    ),
    ("deflection_tube", Settings(accelerating_voltage=3000.0, coil_current=0.3)),
    ("fine_beam_bulb", Settings(accelerating_voltage=200.0, coil_current=1.5)),
    ("axial_coil_tube", Settings(accelerating_voltage=500.0, coil_current=0.6)),
]  # fmt: skip


@pytest.fixture(params=SHOWN, ids=lambda case: f"{case[0]} {case[1].coil_current}")
def shown(request):
    name, settings = request.param
    return request.getfixturevalue(name), settings


@pytest.mark.parametrize("model", ["bench", "ideal"])
def test_energy_is_kept_along_every_shown_path(shown, model):
    prepared, settings = shown
    account = explain(prepared, settings, model=model).account
    energy = ELEMENTARY_CHARGE * settings.accelerating_voltage
    # Kinetic and potential energy point by point: to the tracer's tolerance.
    assert np.abs(account.energy_residual).max() < 1e-6 * energy
    # Kinetic energy against the work of both forces.
    assert np.abs(account.work_residual).max() < 1e-5 * energy
    if (
        model == "bench" and settings.plate_tie == "symmetric"
    ):  # else the aperture's own field is too steep to sum
        power = (account.electric_force * account.velocity).sum(axis=1)
        summed = cumulative_simpson(power, x=account.time, initial=0.0)
        assert np.abs(summed - account.electric_work).max() < 1e-5 * energy
    assert np.abs(account.magnetic_work).max() < 1e-12 * energy
    assert np.abs(account.magnetic_power).max() <= 1e-12 * np.abs(
        np.linalg.norm(account.magnetic_force, axis=1) * account.speed
    ).max(initial=1e-30)


def test_only_the_sharp_edges_of_the_ideal_model_give_energy_away(deflection_tube):
    """Leaving the field at height y above the axis, e E y is never paid back."""
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
    ideal = explain(deflection_tube, settings, model="ideal")
    leaves = ideal.mark("Plates end")
    assert leaves is not None
    height = ideal.instant(leaves.at).position[1]
    unpaid = ELEMENTARY_CHARGE * 1000.0 / deflection_tube.bench.plates.gap * height
    assert ideal.account.edge_step == pytest.approx(unpaid, rel=2e-3)
    assert explain(deflection_tube, settings).account.edge_step == 0.0


def test_places_of_a_turn_back(deflection_tube):
    trace = explain(deflection_tube, TURN_BACK)
    names = [mark.name for mark in trace.marks]
    assert names == [
        "Aperture", "Plates begin", "Lowest point", "Highest point", "Plates end",
        "Ends on the glass",
    ]  # fmt: skip
    lowest = trace.mark("Lowest point")
    assert lowest is not None
    now = trace.instant(lowest.at)
    # The lowest of the points lies beside it, and no lower.
    lowest_point = trace.ray.position[:, 1].min()
    assert lowest_point - 1e-5 < now.position[1] <= lowest_point
    # Level there, but not at rest; the magnetic force goes with the speed and is not zero.
    assert abs(now.velocity[1]) < 1e-6 * trace.account.speed[0]
    assert now.velocity[0] > 0.05 * trace.account.speed[0]
    assert np.linalg.norm(now.magnetic_force) == pytest.approx(
        ELEMENTARY_CHARGE * now.speed * np.linalg.norm(trace.ray.flux_density[round(lowest.at)]),
        rel=0.01,
    )
    entry, leaving = (trace.instant(trace.mark(name).at) for name in ("Plates begin", "Plates end"))
    assert entry.position[0] == pytest.approx(0.009, abs=1e-5)
    assert leaving.position[0] == pytest.approx(0.085, abs=1e-5)


def test_a_circle_turns_back_at_its_side_and_is_highest_at_its_top(fine_beam_bulb):
    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    trace = explain(fine_beam_bulb, settings)
    assert isinstance(trace.frame, DriftFrame)
    assert trace.frame.is_laboratory
    radius = trace.frame.circle.radius
    side, top = (trace.instant(trace.mark(name).at) for name in ("Turns back", "Highest point"))
    assert side.position[:2] == pytest.approx([radius, radius], rel=2e-3)
    assert top.position[1] == pytest.approx(2 * radius, rel=2e-3)


def test_the_edge_of_the_beam_is_followed_in_a_long_coil(axial_coil_tube):
    settings = Settings(accelerating_voltage=500.0, coil_current=0.6)
    trace = explain(axial_coil_tube, settings)
    first = trace.account.velocity[0]
    angle = np.arctan2(np.hypot(first[1], first[2]), first[0])
    assert angle == pytest.approx(axial_coil_tube.bench.gun.divergence_vertical, rel=1e-9)
    names = [mark.name for mark in trace.marks[1:-1]]
    assert names[:2] == ["Farthest from the axis", "Nearest to the axis"]


def test_start_beside_the_axis_has_the_energy_of_its_place(deflection_tube):
    settings = Settings(
        accelerating_voltage=1000.0, plate_voltage=2000.0, plate_tie="lower at anode"
    )
    ray = followed_ray(deflection_tube, settings, launch=Launch(y=0.0004))
    account = explain(deflection_tube, settings).account
    gun = ELEMENTARY_CHARGE * 1000.0
    assert ray.position[0, 1] == 0.0004
    assert account.kinetic_energy[0] + account.potential_energy[0] == pytest.approx(gun, rel=1e-9)


@pytest.mark.parametrize(
    "settings",
    [
        Settings(accelerating_voltage=3000.0, heater_on=False),
        Settings(accelerating_voltage=0.0, coil_current=1.0),
    ],
)
def test_where_no_electron_flies_there_is_nothing_to_show(deflection_tube, settings):
    trace = explain(deflection_tube, settings)
    assert not trace.flies
    assert trace.marks == ()
    assert isinstance(trace.frame, NoFrame)
    assert trace.frame.reason == "no electron"
    assert wrong_accounts(deflection_tube, trace) == ()
    assert stage_message(trace, trace.ray) is None
    assert explanation_record(trace)["places"] == []
    assert len(path_table(trace.account).splitlines()) == 1


def test_a_trace_of_a_current_is_no_trouble(deflection_tube):
    settings = Settings(accelerating_voltage=1000.0, plate_voltage=100.0, coil_current=1e-157)
    trace = explain(deflection_tube, settings)
    assert isinstance(trace.frame, NoFrame)
    assert trace.frame.reason in ("electric too strong", "no magnetic field")


def test_the_table_has_every_point(deflection_tube):
    trace = explain(deflection_tube, TURN_BACK, samples=100)
    rows = list(csv.DictReader(io.StringIO(path_table(trace.account))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(trace.ray.time)
    last = rows[-1]
    assert float(last["x_mm"]) == pytest.approx(1e3 * trace.ray.position[-1, 0], rel=1e-6)
    total = float(last["kinetic_energy_ev"]) + float(last["potential_energy_ev"])
    assert total == pytest.approx(1000.0, abs=1e-3)


def test_the_record_is_plain_data(deflection_tube):
    trace = explain(deflection_tube, TURN_BACK)
    record = json.loads(json.dumps(explanation_record(trace), allow_nan=False))
    assert record["places"][2]["name"] == "Lowest point"
    assert record["moving_frame"]["exists"] is True
    assert record["differences"] is None
    assert record["settings"]["plate_voltage_v"] == 2500.0


def test_the_message_carries_the_motion(shown):
    prepared, settings = shown
    trace = explain(prepared, settings)
    message = stage_message(trace, followed_ray(prepared, settings, model="ideal"))
    assert message is not None
    json.dumps(message, allow_nan=False)

    def array(name):
        return np.frombuffer(base64.b64decode(message["arrays"][name]), dtype="<f4")

    assert len(array("time")) == message["count"] == len(trace.ray.time)
    assert array("position").reshape(-1, 3) == pytest.approx(1e3 * trace.ray.position, abs=1e-4)
    assert array("electric").max() == pytest.approx(
        1e15 * trace.account.electric_force.max(), rel=1e-5
    )
    for view in message["views"]:
        a, b = view["axes"]
        u0, u1, v0, v1 = view["window"]
        points = 1e3 * trace.ray.position
        assert (points[:, a] >= u0).all()
        assert (points[:, a] <= u1).all()
        assert (points[:, b] >= v0).all()
        assert (points[:, b] <= v1).all()
    has_both = settings.plate_voltage > 0 and settings.coil_current > 0
    assert (message["moving"] is not None) == has_both
