"""Lines and maps from photographs of which everything is known.

The truth is a pinhole camera (R. Hartley, A. Zisserman, "Multiple View Geometry in Computer
Vision", 2nd ed. 2004, ch. 6; written from memory) in `glowtrace.photographs.synthetic`, which
shares no code with the fitted map. Bounds marked "computed" were measured once and carry a margin.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial import KDTree

from glowtrace.photographs.circle import circle_of_line, fit_circle
from glowtrace.photographs.grid import fit_screen_map
from glowtrace.photographs.synthetic import (
    Camera,
    Conditions,
    CurveLight,
    picture_light,
    take_photograph,
)
from glowtrace.photographs.trace_line_extraction import extract_line

SHEET = (0.010, -0.0225, 0.105, 0.0225)
CAMERA = Camera((0.0575, 0.0), 0.16, 0.35, 0.2, 0.05, distortion=-0.04, size=(1000, 750),
                focal_length=1090.0)  # fmt: skip
CLICKED = [(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02), (0.06, 0.0), (0.06, 0.02),
           (0.06, -0.02)]  # fmt: skip
BULB = (-0.08, -0.03, 0.08, 0.125)
BULB_CAMERA = Camera((0.0, 0.047), 0.30, 0.25, -0.15, 0.05, size=(900, 720), focal_length=1000.0)
BULB_CLICKED = [(-0.06, -0.02), (0.06, -0.02), (0.06, 0.12), (-0.06, 0.12)]

CLEAN = Conditions(grid_pitch=0.01)
NOISY = Conditions(grid_pitch=0.01, full_electrons=300, read_noise=0.01, exposure=0.3)
DIM = Conditions(
    grid_pitch=0.01, full_electrons=1000, read_noise=0.005, exposure=0.02, room_light=0.02
)


def height(u):
    return -0.012 + 3.0 * (u - 0.01) ** 2


def parabola(width=0.4e-3):
    u = np.linspace(0.0, 0.115, 600)
    return CurveLight(np.column_stack([u, height(u)]), width)


def with_seed(conditions, seed):
    return replace(conditions, seed=seed)


@cache  # a photograph is read several times, and made once
def photographed(conditions, camera=CAMERA, uncertainty=0.0, seed=0):
    photograph = take_photograph(parabola(), camera, SHEET, conditions)
    clicks = camera.clicks(CLICKED, uncertainty=uncertainty, seed=seed)
    screen_map = fit_screen_map(photograph, clicks, SHEET, lens=True)
    return extract_line(photograph, screen_map, grid_pitch=conditions.grid_pitch)


def pixel_errors(line, camera=CAMERA):
    u = line.places[:, 0]
    true = camera.pixels(np.column_stack([u, height(u)]))
    return np.linalg.norm(line.pixels - true, axis=1)


@pytest.mark.parametrize(
    ("conditions", "rms"),
    [
        pytest.param(Conditions(), 0.1, marks=pytest.mark.thorough),
        (CLEAN, 0.15),
        pytest.param(
            Conditions(grid_pitch=0.01, jpeg_quality=None), 0.15, marks=pytest.mark.thorough
        ),
        (NOISY, 0.25),
        pytest.param(DIM, 0.7, marks=pytest.mark.thorough),
        pytest.param(Conditions(grid_pitch=0.01, exposure=4.0), 0.4, marks=pytest.mark.thorough),
        (Conditions(grid_pitch=0.01, reflection=1.0, room_light=0.05, gradient=1.0), 0.2),
    ],
    ids=["plain", "grid", "no jpeg", "noisy", "dim", "saturated", "reflection and room light"],
)
def test_a_line_is_found_to_a_fraction_of_a_pixel(conditions, rms):
    # Required: 0.5 pixel on clean photographs. The tighter bounds are computed, with a margin.
    line = photographed(conditions)
    assert len(line) > 80
    assert np.sqrt(np.mean(pixel_errors(line) ** 2)) < rms


@pytest.mark.parametrize(
    ("turn", "tilt"),
    [
        (-0.6, 0.5),
        *(
            pytest.param(*each, marks=pytest.mark.thorough)
            for each in ((0.0, 0.0), (0.7, 0.0), (0.0, 0.7))
        ),
    ],
)
def test_a_tilted_screen_costs_little(turn, tilt):
    camera = Camera((0.0575, 0.0), 0.17, turn, tilt, 0.1, size=(1000, 750), focal_length=1090.0)
    line = photographed(CLEAN, camera)
    assert len(line) > 80
    assert np.sqrt(np.mean(pixel_errors(line, camera) ** 2)) < 0.3


CLEAN_PNG = replace(CLEAN, jpeg_quality=None)
SCATTER = {"clean": CLEAN, "clean PNG": CLEAN_PNG, "noisy": NOISY, "dim": DIM}


def normalised_errors(conditions, seed):
    """Errors of a line's points across it, each divided by its own standard uncertainty."""
    line = photographed(with_seed(conditions, seed))
    error = line.places[:, 1] - height(line.places[:, 0])
    return error / np.sqrt(line.own_covariance[:, 1, 1])


@pytest.mark.parametrize("conditions", SCATTER.values(), ids=SCATTER)
def test_the_stated_uncertainty_of_points_is_the_scatter_along_a_line(conditions):
    # The normalised error of a right uncertainty has a standard deviation of 1.
    assert 0.8 < np.std(normalised_errors(conditions, seed=0)) < 1.25


@pytest.mark.thorough
@pytest.mark.parametrize("conditions", SCATTER.values(), ids=SCATTER)
def test_the_stated_uncertainty_of_points_is_the_scatter_over_seeds(conditions):
    ratios = [normalised_errors(conditions, seed) for seed in range(3)]
    assert 0.8 < np.std(np.concatenate(ratios)) < 1.25


@pytest.mark.thorough
def test_the_uncertainty_of_the_map_is_the_scatter_over_clicks():
    # 150 sets of clicks give the standard deviation to better than 6 %.
    places = np.array([[0.02, 0.0], [0.05, -0.01], [0.1, 0.015]])
    at = CAMERA.pixels(places)
    photograph = take_photograph(parabola(), CAMERA, SHEET, Conditions(jpeg_quality=None))
    ratios = []
    for seed in range(150):
        clicks = CAMERA.clicks([*CLICKED, (0.03, 0.01), (0.09, -0.01)], uncertainty=1.0, seed=seed)
        found = fit_screen_map(photograph, clicks, SHEET, lens=True)
        # Judged by the clicks' own uncertainty: the birge factor only ever enlarges it.
        sigma = np.sqrt(np.diagonal(found.map_covariance(at), axis1=1, axis2=2))
        ratios.append((found.places(at) - places) / sigma)
    assert 0.8 < np.std(np.array(ratios)) < 1.25


def test_exact_clicks_give_the_cameras_geometry_back():
    photograph = take_photograph(parabola(), CAMERA, SHEET)
    found = fit_screen_map(photograph, CAMERA.clicks(CLICKED, uncertainty=0.0), SHEET, lens=True)
    places = np.random.default_rng(0).uniform(SHEET[:2], SHEET[2:], (50, 2))
    assert found.distortion == pytest.approx(-0.04, abs=1e-6)
    assert found.pixels(places) == pytest.approx(CAMERA.pixels(places), abs=1e-4)
    assert found.places(CAMERA.pixels(places)) == pytest.approx(places, abs=1e-9)


def test_a_lens_that_is_left_out_shows_in_the_residuals():
    photograph = take_photograph(parabola(), CAMERA, SHEET)
    clicks = CAMERA.clicks(CLICKED, uncertainty=0.1)
    plain = fit_screen_map(photograph, clicks, SHEET)
    curved = fit_screen_map(photograph, clicks, SHEET, lens=True)
    assert plain.rms_residual > 3 * curved.rms_residual


def ring(radius, seed=0, conditions=CLEAN, uncertainty=0.0):
    angle = np.linspace(-np.pi / 2, 1.45 * np.pi, 900)
    curve = radius * np.column_stack([np.cos(angle), 1 + np.sin(angle)])
    photograph = take_photograph(
        CurveLight(curve, 0.7e-3), BULB_CAMERA, BULB, with_seed(conditions, seed)
    )
    clicks = BULB_CAMERA.clicks(BULB_CLICKED, uncertainty=uncertainty, seed=seed)
    screen_map = fit_screen_map(photograph, clicks, BULB)
    return curve, extract_line(photograph, screen_map, shape="loop", grid_pitch=0.01)


@pytest.mark.parametrize(
    "conditions",
    [
        pytest.param(CLEAN, marks=pytest.mark.thorough),
        NOISY,
        pytest.param(DIM, marks=pytest.mark.thorough),
    ],
    ids=["clean", "noisy", "dim"],
)
def test_a_ring_is_followed_all_the_way_round(conditions):
    _, line = ring(0.041, conditions=conditions)
    away = np.hypot(line.places[:, 0], line.places[:, 1] - 0.041) - 0.041
    pixel = 0.3e-3  # m on the screen, roughly
    assert np.sqrt(np.mean(away**2)) < 0.5 * pixel
    angle = np.unwrap(np.arctan2(line.places[:, 1] - 0.041, line.places[:, 0]))
    assert np.ptp(angle) > np.radians(335)


@pytest.mark.parametrize(
    "seed", [2, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in (31, 38, 39, 90, 91))]
)
def test_a_dim_ring_comes_without_points_from_the_noise(seed):
    # On a ring, a point ten standard uncertainties off is none of its points.
    _, line = ring(0.041, seed, DIM)
    away = line.places - [0.0, 0.041]
    radius = np.linalg.norm(away, axis=1)
    outward = away / radius[:, None]
    sigma = np.sqrt(np.einsum("nx,nxy,ny->n", outward, line.own_covariance, outward))
    ratio = (radius - 0.041) / sigma
    assert np.abs(ratio).max() < 10
    assert 0.8 < np.sqrt(np.mean(ratio**2)) < 1.25


@pytest.mark.thorough
def test_the_diameter_of_a_ring_scatters_over_clicks_as_stated():
    # 150 sets of clicks give a standard deviation to 6 %.
    ratios = []
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    places = 0.041 * np.column_stack([np.cos(angle), 1 + np.sin(angle)])
    _, line = ring(0.041)
    for seed in range(150):
        clicks = BULB_CAMERA.clicks(BULB_CLICKED, uncertainty=1.0, seed=seed)
        moved = replace(
            line.selected(np.arange(len(line)) < 120),
            pixels=BULB_CAMERA.pixels(places),
            screen_map=fit_screen_map(PHOTOGRAPH, clicks, BULB),
        )
        circle = circle_of_line(moved)
        ratios.append((circle.diameter - 0.082) / circle.diameter_uncertainty)
    assert 0.8 < np.std(ratios) < 1.25


PHOTOGRAPH = take_photograph(
    lambda places: np.zeros(len(places)), BULB_CAMERA, BULB, Conditions(jpeg_quality=None)
)


def test_loops_are_followed_through_their_crossing():
    t = np.linspace(0.0, 4 * np.pi, 1600)
    curve = np.column_stack([-0.06 + 0.009 * t - 0.018 * np.sin(t), 0.04 + 0.018 * np.cos(t)])
    photograph = take_photograph(CurveLight(curve, 0.7e-3), BULB_CAMERA, BULB, CLEAN)
    screen_map = fit_screen_map(photograph, BULB_CAMERA.clicks(BULB_CLICKED, uncertainty=0.0), BULB)
    line = extract_line(photograph, screen_map, shape="loop", grid_pitch=0.01)
    away, nearest = KDTree(BULB_CAMERA.pixels(curve)).query(line.pixels)
    inner = (nearest > 20) & (nearest < 1580)
    assert np.sqrt(np.mean(away[inner] ** 2)) < 0.5
    # All of it is found, and each piece runs along the curve without a jump to another branch.
    assert np.all(np.diff(np.sort(nearest)) < 120)
    for piece in np.unique(line.piece):
        along = np.diff(nearest[line.piece == piece])
        assert np.all(along > 0) or np.all(along < 0)


def test_a_computed_picture_gives_its_mean_trace_back(deflection_tube):
    from glowtrace.bench.settings import Settings

    settings = Settings(accelerating_voltage=3000.0, plate_voltage=800.0)
    picture = deflection_tube.picture(settings, electrons=20_000)
    screen = deflection_tube.plane.rectangle
    photograph = take_photograph(picture_light(picture), CAMERA, screen, CLEAN)
    clicks = CAMERA.clicks(CLICKED, uncertainty=0.0)
    line = extract_line(
        photograph, fit_screen_map(photograph, clicks, screen, lens=True), grid_pitch=0.01
    )
    u, v = line.places.T
    inner = (u > 0.015) & (u < 0.1)
    trace = picture.mean_trace
    off = v - np.interp(u, trace.u, trace.v)
    # A hundredth of the trace's width would be 5 um; the electrons' own scatter gives more.
    assert np.sqrt(np.mean(off[inner] ** 2)) < 0.06e-3
    # Blur of the photograph and the picture's own pixels widen it: variances add.
    low, high = CAMERA.pixels(np.array([[0.05, 0.0], [0.05, 1e-3]]))
    blur = 1e-3 * CLEAN.blur / float(np.hypot(*(high - low)))
    pixel = (picture.extent[3] - picture.extent[2]) / picture.image.shape[0]
    widened = np.interp(u, trace.u, trace.width_v) ** 2 + blur**2 + pixel**2 / 12
    assert 0.95 < np.nanmedian(line.width[inner] / np.sqrt(widened[inner])) < 1.15


def test_the_published_example_of_a_geometric_circle_fit():
    # Gander, Golub, Strebel, BIT 34 (1994) 558-578, example of section 3 (numbers from memory):
    # centre (4.7398, 2.9835), radius 4.7142.
    points = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], dtype=float)
    circle = fit_circle(points)
    assert circle.centre == pytest.approx((4.7398, 2.9835), abs=5e-5)
    assert circle.radius == pytest.approx(4.7142, abs=5e-5)


@pytest.mark.thorough
def test_a_circles_uncertainty_is_the_scatter_over_seeds():
    # Monte Carlo, computed here: the independent estimate is the spread of 300 fits.
    rng = np.random.default_rng(2)
    angle = np.linspace(0.2, 2.4, 30)
    exact = 40.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    spread = np.tile(np.diag([0.04, 0.01]), (30, 1, 1))
    fits = [fit_circle(exact + rng.normal(size=(30, 2)) * [0.2, 0.1], spread) for _ in range(300)]
    radii = np.array([fit.radius for fit in fits])
    stated = np.sqrt(np.mean([fit.covariance[2, 2] for fit in fits]))
    assert np.std(radii) == pytest.approx(stated, rel=0.12)
    assert np.mean([fit.chi_square for fit in fits]) == pytest.approx(27, rel=0.06)
