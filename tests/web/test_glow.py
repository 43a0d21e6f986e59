"""What is sent to the browser: 16-bit steps of a box, read back here by the struct module."""

from __future__ import annotations

import struct
from base64 import b64decode

import numpy as np
import pytest

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.web.glow import FULL_SCALE, PEN_UP, encode_points, glow_message
from glowtrace.web.surface import Box, screen_box


def _numbers(text: str) -> list[int]:
    raw = b64decode(text)
    return list(struct.unpack(f"<{len(raw) // 2}h", raw))


def test_edges_and_middle_of_the_box() -> None:
    box = Box(0.01, 0.11, -0.02, 0.02)
    points = np.array([[0.01, -0.02], [0.11, 0.02], [0.06, 0.0]])
    full = FULL_SCALE
    assert _numbers(encode_points(points, box)) == [-full, -full, full, full, 0, 0]


def test_places_outside_and_gaps_lift_the_pen() -> None:
    box = Box(0.0, 1.0, 0.0, 1.0)
    points = np.array([[np.nan, 0.5], [0.5, 1.001], [np.inf, 0.0]])
    assert _numbers(encode_points(points, box)) == [PEN_UP] * 6


def test_a_step_is_finer_than_the_screen_shows() -> None:
    # A 4K display has 3,840 pixels across; the steps must stay below a tenth of one.
    assert 1.0 / (2 * FULL_SCALE) < 0.1 / 3840 * 10
    box = Box(0.0, 0.1, 0.0, 0.1)
    rng = np.random.default_rng(1)
    points = rng.uniform(0.0, 0.1, (500, 2))
    numbers = np.array(_numbers(encode_points(points, box))).reshape(-1, 2)
    back = (numbers + FULL_SCALE) / (2 * FULL_SCALE) * 0.1
    assert np.abs(back - points).max() <= 0.5 * 0.1 / (2 * FULL_SCALE) * (1 + 1e-9)


def test_a_phosphor_screen_is_sent_as_dots(deflection_tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0)
    picture = deflection_tube.picture(settings, electrons=50)
    box = screen_box(deflection_tube.bench)
    message = glow_message(picture, np.empty((0, 2)), box, 7)
    assert message["kind"] == "dots"
    assert message["number"] == 7
    assert len(_numbers(message["pairs"])) == 2 * picture.ends["screen"]
    assert PEN_UP not in _numbers(message["pairs"])
    assert message["weight"] == 1 / 50


def test_gas_is_sent_as_lines_without_their_empty_ends(fine_beam_bulb: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=200.0, coil_current=1.5)
    picture = fine_beam_bulb.picture(settings, electrons=5, paths=5)
    message = glow_message(picture, np.empty((0, 2)), screen_box(fine_beam_bulb.bench), 1)
    assert message["kind"] == "lines"
    assert len(_numbers(message["pairs"])) == 2 * 5 * message["points"]
    longest = int(np.isfinite(picture.paths[:, :, 0]).sum(axis=1).max())
    assert message["points"] == longest


@pytest.mark.parametrize("is_gas", [True, False])
def test_a_dark_screen_has_no_points(
    deflection_tube: PreparedBench, fine_beam_bulb: PreparedBench, is_gas: bool
) -> None:
    prepared = fine_beam_bulb if is_gas else deflection_tube
    settings = Settings(accelerating_voltage=200.0, heater_on=False)
    picture = prepared.picture(settings, electrons=5, paths=5)
    message = glow_message(picture, np.empty((0, 2)), screen_box(prepared.bench), 1)
    assert message["pairs"] == ""
