"""Small plate gaps in wide tubes, and the lens of the slit, against sums over finer panels.

Independent of the field map: the charges are solved on other, finer panels, their exact fields are
summed at every point, and scipy integrates the equation of motion. The panels themselves are
compared with a general boundary-element package and published capacitances in
`test_electrodes.py`.
"""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from glowtrace.bench.checking import change
from glowtrace.bench.layout import bench_conductors, electrode_voltages
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.constants import REST_ENERGY_VOLTS, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.electrodes import solve_unit_potentials
from glowtrace.fields.interpolation import fields_at

TABLE = (Path(__file__).parents[2] / "docs/physics.md").read_text(encoding="utf-8")
FACE = 0.2
FINER = 1.3


def narrow(gap_mm, length_mm, width_mm, radius_mm):
    """A tube with an end face, as an oscilloscope has it; no coils."""
    face = {"kind": "end face", "x": FACE, "width": 0.05, "height": 0.05, "grid_pitch": 0.01}
    tube = {"kind": "cylinder", "x_from": -0.05, "x_to": FACE + 0.01, "radius": radius_mm / 1e3}
    gun = {f"gun.{name}": value for name, value in APERTURE.items()}
    plates = {"gap": gap_mm, "length": length_mm, "width": width_mm, "start": 10.0}
    sizes = {f"plates.{name}": size / 1e3 for name, size in plates.items()}
    parts = {"screen": face, "envelope": tube, "coils": None, "supplies.coils": None}
    return change(ready_made("deflection tube"), gun | sizes | parts)


APERTURE = {"aperture_height": 0.001, "aperture_width": 0.004, "anode_radius": 0.012}


def printed(row, column=1):
    """The number in a column of the table in docs/physics.md, in the row that begins so."""
    (line,) = (each for each in TABLE.splitlines() if each.startswith(f"| {row}"))
    figure = line.split(" | ")[column].split()[0]
    return float(figure)


class ExactField:
    """E and potential from the charges on panels."""

    def __init__(self, bench, settings, fineness=FINER):
        self.solutions = solve_unit_potentials(bench_conductors(bench, fineness))
        self.names, self.volts = self.solutions.names[1:], np.array(electrode_voltages(settings))

    def electric(self, points):
        return np.einsum("k,kgi->gi", self.volts, self.solutions.electric_field(points, self.names))

    def potential(self, points):
        return self.volts @ self.solutions.potential(points, self.names)


def height_where(field, voltage, x, aside=0.0):
    """Height at x of an electron that leaves the slit level, so far towards the audience."""
    k = (voltage + field.potential(np.array([[0.0, 0.0, aside]]))[0]) / REST_ENERGY_VOLTS
    start = SPEED_OF_LIGHT * math.sqrt(k * (k + 2))

    def derivative(_, state):
        gamma = math.sqrt(1 + state[3:] @ state[3:] / SPEED_OF_LIGHT**2)
        pull = -SPECIFIC_CHARGE * gamma * field.electric(state[None, :3])[0]
        return np.concatenate([state[3:], pull])

    def is_there(_, state):
        return state[0] - x

    is_there.terminal = True
    flown = solve_ivp(
        derivative, (0, 1e-6), [1e-9, 0, aside, start, 0, 0], method="DOP853", rtol=1e-7,
        atol=[1e-9] * 3 + [1.0] * 3, max_step=0.01 / start, events=is_there,
    )  # fmt: skip
    return float(flown.y[1, -1])


@pytest.mark.parametrize(
    ("sizes", "plate"),
    [
        ((5, 25, 15, 60), 40.0),
        pytest.param((10, 30, 20, 40), 65.0, marks=pytest.mark.thorough),
        pytest.param((20, 50, 30, 60), 90.0, marks=pytest.mark.thorough),
    ],
    ids=["5 mm", "10 mm", "20 mm"],
)
@pytest.mark.parametrize("tie", ["symmetric", "lower at anode"])
def test_deflection_between_close_plates(sizes, plate, tie):
    bench = narrow(*sizes)
    settings = Settings(accelerating_voltage=1000.0, plate_voltage=plate, plate_tie=tie)
    ray = prepare(bench).central_ray(settings)
    assert ray.end == "screen"
    expected = height_where(ExactField(bench, settings), 1000.0, FACE)
    assert ray.position[-1, 1] == pytest.approx(expected, rel=1e-3)
    if sizes[0] == 5:
        row = "deflection 200 mm" if tie == "symmetric" else "the same, 0 and +40 V"
        assert 1e3 * ray.position[-1, 1] == pytest.approx(printed(row), abs=2e-3)
        assert 1e3 * expected == pytest.approx(printed(row, 2), abs=2e-3)


def test_lens_of_the_slit(deflection_tube):
    """Potential in the slit, and the impulse that turns an electron off the axis back to it."""
    bench = deflection_tube.bench
    settings = Settings(
        accelerating_voltage=3000.0, plate_voltage=1000.0, plate_tie="lower at anode"
    )
    exact, field = ExactField(bench, settings), deflection_tube.field(settings)
    half = bench.gun.aperture_height / 2
    ends = np.concatenate([[0.0], np.geomspace(1e-5, 6e-3, 12)])
    nodes, weights = np.polynomial.legendre.leggauss(24)
    x = (ends[:-1, None] + np.diff(ends)[:, None] * (nodes + 1) / 2).ravel()
    dx = (np.diff(ends)[:, None] * weights / 2).ravel()
    points = np.zeros((len(x), 3))
    points[:, 0] = x
    middle = np.zeros((1, 3))
    inside = exact.potential(middle)[0]
    assert inside > 1.0
    assert fields_at(field, middle)[2][0] == pytest.approx(inside, rel=0.03)
    assert fields_at(field, middle)[2][0] == pytest.approx(
        printed("potential in its slit"), abs=0.01
    )
    for share in (0.25, 0.5, 0.8):
        off = points + np.array([0.0, share * half, 0.0])
        wanted = (exact.electric(off) - exact.electric(points))[:, 1] @ dx
        found = (fields_at(field, off)[0] - fields_at(field, points)[0])[:, 1] @ dx
        assert wanted > 0.0  # an electron above the axis is pulled down: a converging lens
        assert found == pytest.approx(wanted, rel=0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tie", "row"),
    [("symmetric", "height of the line"), ("lower at anode", "the same, lower plate at the anode")],
)
def test_height_of_the_line_on_the_sheet(deflection_tube, tie, row):
    """The electron that draws the line at a place leaves the slit beside its middle."""
    screen, x = deflection_tube.bench.screen, 0.086
    share = (x - screen.x_from) / (screen.x_to - screen.x_from)
    aside = screen.z_from + share * (screen.z_to - screen.z_from)
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0, plate_tie=tie)
    exact = ExactField(deflection_tube.bench, settings, 1.6)
    expected = height_where(exact, 3000.0, x, aside)
    found = deflection_tube.line_height(settings, x)
    assert found == pytest.approx(expected, rel=3e-4)
    assert 1e3 * found == pytest.approx(printed(row), abs=2e-3)
