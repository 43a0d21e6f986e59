"""The textbook's trace while a knob turns (traced) and once it rests (closed forms): one line."""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.web.showing import textbook_line

FAST = Settings(accelerating_voltage=3000.0)


def _apart(one: np.ndarray, other: np.ndarray) -> float:
    """Give the largest distance (m) of points of one line from the other, a polyline.

    The outermost points are left out: lines begin and end up to a point's distance inside the
    screen.
    """
    one, other = (line[np.isfinite(line).all(axis=1)] for line in (one, other))
    one = one[1:-2]
    steps = np.linspace(0.0, 1.0, 50)[:, None, None]
    dense = (other[:-1] + steps * np.diff(other, axis=0)).reshape(-1, 2)
    return float(np.linalg.norm(one[:, None] - dense[None], axis=2).min(axis=1).max())


@pytest.mark.parametrize(
    "changes",
    [
        {"plate_voltage": 900.0},
        {"plate_voltage": 900.0, "plate_reversed": True},
        {"coil_current": 0.3},
        {"plate_voltage": 2000.0, "coil_current": 1.2, "coil_reversed": True},
        {"plate_voltage": 5000.0},
    ],
)
def test_both_ways_draw_the_same_line(
    deflection_tube: PreparedBench, changes: dict[str, float | bool]
) -> None:
    settings = FAST.model_copy(update=changes)
    exact = textbook_line(deflection_tube, settings, is_exact=True)
    quick = textbook_line(deflection_tube, settings, is_exact=False)
    # On the page, 0.02 mm is a fifth of a pixel.
    assert _apart(quick, exact) < 2e-5
    ends = [line[np.isfinite(line).all(axis=1)][-1] for line in (exact, quick)]
    assert np.linalg.norm(ends[0] - ends[1]) < 2e-3


def test_the_circle_in_gas_is_the_same_line(fine_beam_bulb: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    exact = textbook_line(fine_beam_bulb, settings, is_exact=True)
    quick = textbook_line(fine_beam_bulb, settings, is_exact=False)
    assert _apart(quick, exact) < 2e-5


@pytest.mark.parametrize("is_exact", [True, False])
def test_on_an_end_face_it_is_the_middle(axial_coil_tube: PreparedBench, is_exact: bool) -> None:
    settings = Settings(accelerating_voltage=500.0, coil_current=0.3)
    point = textbook_line(axial_coil_tube, settings, is_exact=is_exact)
    assert point.shape == (1, 2)
    assert np.abs(point).max() < 1e-6


@pytest.mark.parametrize("is_exact", [True, False])
def test_a_cold_cathode_has_no_textbook_trace(
    deflection_tube: PreparedBench, is_exact: bool
) -> None:
    cold = FAST.model_copy(update={"heater_on": False})
    assert len(textbook_line(deflection_tube, cold, is_exact=is_exact)) == 0
