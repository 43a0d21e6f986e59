"""Arrows of the forces on a figure, and figures as PDF: against F = e E and F = e v B."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import FancyArrowPatch
from pypdf import PdfReader
from scipy import constants

from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.explain.account import account_of
from glowtrace.explain.followed import followed_ray
from glowtrace.report.figure import draw_picture, picture_bytes, save_picture

SETTINGS = Settings(
    accelerating_voltage=2000.0, plate_voltage=800.0, coil_current=0.2, coil_reversed=True
)


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(ready_made("deflection tube"))


def arrows_and_keys(tube: PreparedBench) -> tuple[list[FancyArrowPatch], list[str]]:
    picture = tube.picture(SETTINGS, electrons=400, model="ideal")
    account = account_of(followed_ray(tube, SETTINGS, model="ideal"))
    (axes,) = draw_picture(picture, tube.bench, account=account).axes
    legend = axes.get_legend()
    assert legend is not None
    arrows = [patch for patch in axes.patches if isinstance(patch, FancyArrowPatch)]
    return arrows, [text.get_text() for text in legend.get_texts()]


def test_keys_tell_both_forces(tube: PreparedBench) -> None:
    """F = e V/d between the plates, and e v B with the field of the pair at its centre."""
    _, keys = arrows_and_keys(tube)
    electric = constants.e * 800.0 / 0.049
    gamma = 1 + constants.e * 2000.0 / (constants.m_e * constants.c**2)
    speed = constants.c * math.sqrt(1 - gamma**-2)
    flux = 0.8**1.5 * constants.mu_0 * 343 * 0.2 / 0.073
    told = [float(re.search(r"up to ([\d.]+) fN", key)[1]) for key in keys]  # type: ignore[index]
    assert keys[0].startswith("electric force")
    assert keys[1].startswith("magnetic force")
    assert told[0] == pytest.approx(1e15 * electric, abs=0.006)
    assert told[1] == pytest.approx(1e15 * constants.e * speed * flux, rel=0.01)


def test_arrows_point_where_the_forces_do_to_one_scale(tube: PreparedBench) -> None:
    arrows, keys = arrows_and_keys(tube)
    told = [float(re.search(r"up to ([\d.]+) fN", key)[1]) for key in keys]  # type: ignore[index]
    ways = []
    for arrow in arrows:
        start, _, end = np.asarray(arrow.get_path().vertices)[:3]  # the shaft, before the head
        x, y = end - start
        ways.append((arrow.get_edgecolor(), x, y))
    colours = {each[0] for each in ways}
    assert len(colours) == 2
    up = [math.hypot(x, y) for _, x, y in ways if y > 0]
    down = [math.hypot(x, y) for _, x, y in ways if y < 0]
    assert len(up) >= 4
    assert len(down) >= 4
    assert max(up) / max(down) == pytest.approx(told[0] / told[1], rel=0.06)


def test_without_a_force_nothing_is_drawn(tube: PreparedBench) -> None:
    straight = Settings(accelerating_voltage=2000.0)
    picture = tube.picture(straight, electrons=400, model="ideal")
    account = account_of(followed_ray(tube, straight, model="ideal"))
    (axes,) = draw_picture(picture, tube.bench, account=account).axes
    assert axes.get_legend() is None
    assert not [patch for patch in axes.patches if isinstance(patch, FancyArrowPatch)]


@pytest.mark.slow
def test_pdf_is_one_page_and_the_same_each_time(tube: PreparedBench, tmp_path: Path) -> None:
    picture = tube.picture(SETTINGS, electrons=400)
    save_picture(tmp_path / "a.pdf", picture, tube.bench)
    content = (tmp_path / "a.pdf").read_bytes()
    assert content == picture_bytes(picture, tube.bench, kind="pdf")
    printed = PdfReader(tmp_path / "a.pdf")
    assert len(printed.pages) == 1
    assert printed.metadata is not None
    assert printed.metadata.title == "deflection tube"
    assert printed.metadata.creation_date is None
