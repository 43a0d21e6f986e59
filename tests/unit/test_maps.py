"""Field maps on disk: kept, found again, rebuilt when damaged, never in the way."""

import math
import multiprocessing
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.errors import FieldMapError, GlowtraceWarning
from glowtrace.fields.coils import Winding
from glowtrace.fields.electrodes import Conductor
from glowtrace.fields.interpolation import Grid, fields_at
from glowtrace.fields.map_files import load_or_build
from glowtrace.fields.maps import FieldProblem, Glass, build_field_map
from glowtrace.fields.panels import disc_panels, rectangle_panels


def electrodes(count):
    edges = [(0.04, 0, 0), (0, 0, 0.04)]
    disc = disc_panels((0, 0, 0), 0.01, count_radial=count, count_quarter=count)
    return (
        Conductor("anode", disc),
        Conductor("upper plate", rectangle_panels((0.03, 0.01, 0), *edges, count, count)),
        Conductor("lower plate", rectangle_panels((0.03, -0.01, 0), *edges, count, count)),
    )


OUTER = Grid((0, -0.012, -0.008), (0.06, 0.012, 0.008), (24, 20, 10))
PLATES = Grid((0, -0.011, -0.006), (0.056, 0.011, 0.006), (40, 32, 12))


def small_problem(radius=0.05):
    return FieldProblem(
        electrodes=electrodes(6),
        coarse_electrodes=electrodes(4),
        windings=(Winding((0.03, 0, 0.03), (0, 0, 1), radius, 0.005, 0.005, 100.0),),
        glass=Glass((0.03, 0, 0), 0.03, is_tube=False),
        grids=(OUTER, PLATES),
        aperture=Grid((0, -0.0015, -0.0015), (0.004, 0.0015, 0.0015), (24, 12, 8)),
        mirror_radius=0.01,
        probes=np.array([[0.02, 0.0, 0.0], [0.03, 0.002, 0.001]]),
    )


def same(one, other):
    return np.array_equal(one.potentials, other.potentials) and np.array_equal(one.flux, other.flux)


@pytest.fixture(scope="module")
def built():
    return build_field_map(small_problem())


def test_map_agrees_with_the_exact_sums(built):
    accuracy = built.accuracy
    assert 0.0 < accuracy.electric_typical <= accuracy.electric_largest < 2e-2
    assert 0.0 < accuracy.flux_typical <= accuracy.flux_largest < 1e-4


def test_progress_rises_from_nothing_to_done():
    seen = []
    build_field_map(small_problem(), lambda fraction, words: seen.append((fraction, words)))
    fractions = [fraction for fraction, _ in seen]
    assert fractions == sorted(fractions)
    assert (fractions[0], fractions[-1]) == (0.0, 1.0)
    assert all(words for _, words in seen)


def test_settings_superpose(built):
    point = np.array([[0.03, 0.002, 0.001]])
    unit = [fields_at(built.field(v, 0.0, (0, 0, 0)), point) for v in ([1.0, 0.0], [0.0, 1.0])]
    E, B, V = fields_at(built.field([30.0, -20.0], 2.0, (1e-5, 0, 0)), point)
    assert pytest.approx(E) == 30.0 * unit[0][0] - 20.0 * unit[1][0]
    assert pytest.approx(V) == 30.0 * unit[0][2] - 20.0 * unit[1][2]
    once = fields_at(built.field([0.0, 0.0], 1.0, (0, 0, 0)), point)[1]
    assert pytest.approx(B) == 2.0 * once + [1e-5, 0, 0]


def test_electric_field_is_minus_the_gradient_of_the_potential(built):
    field, step = built.field([100.0, -100.0], 0.0, (0, 0, 0)), 1e-6
    point = np.array([0.0231, 0.0042, -0.0011])
    for axis in range(3):
        ahead, behind = point.copy(), point.copy()
        ahead[axis] += step
        behind[axis] -= step
        potential = fields_at(field, np.array([ahead, behind]))[2]
        slope = (potential[1] - potential[0]) / (2 * step)
        assert fields_at(field, point[None])[0][0, axis] == pytest.approx(slope, rel=1e-5, abs=1e-3)


def test_stored_map_is_found_again_without_computing(tmp_path):
    first = load_or_build(small_problem(), tmp_path)
    calls = []
    second = load_or_build(small_problem(), tmp_path, lambda *progress: calls.append(progress))
    assert same(first, second)
    assert second.accuracy == first.accuracy
    assert calls == []


def test_each_part_has_the_key_of_what_it_depends_on():
    one = small_problem()
    others = {
        "coils": small_problem(radius=0.051),
        "glass": replace(one, glass=replace(one.glass, radius=0.031)),
        "mirror": replace(one, mirror_radius=0.0),
        "electrodes": replace(one, electrodes=one.electrodes[:2]),
        "outer": replace(one, grids=(replace(OUTER, cells=(24, 20, 11)), PLATES)),
        "inner": replace(one, grids=(OUTER, replace(PLATES, cells=(40, 32, 13)))),
        "one box": replace(one, grids=(OUTER,)),
        "aperture": replace(one, aperture=None),
        "probes": replace(one, probes=one.probes[:1]),
    }
    kept = {"coils", "glass"}, {"mirror", "electrodes"}
    for key, same_as in zip(("electrodes_key", "coils_key"), kept, strict=True):
        found = {name: getattr(problem, key)() for name, problem in others.items()}
        own = getattr(one, key)()
        assert {name for name, other in found.items() if other == own} == same_as
        assert len(set(found.values()) | {own}) == 1 + len(others) - len(same_as)
        assert getattr(small_problem(), key)() == own


def test_other_coils_keep_the_potentials_of_the_plates(tmp_path):
    first = load_or_build(small_problem(), tmp_path)
    told = []
    second = load_or_build(
        small_problem(radius=0.051), tmp_path, lambda _, words: told.append(words)
    )
    assert np.array_equal(first.potentials, second.potentials)
    assert not np.array_equal(first.flux, second.flux)
    assert not any("electrode" in words for words in told)
    assert sorted(path.name.split("-")[0] for path in tmp_path.iterdir()) == [
        "coils", "coils", "plates",
    ]  # fmt: skip


def test_the_innermost_box_that_holds_a_point_gives_its_field(built):
    points = np.array([[0.002, 0.0004, 0.0], [0.02, 0.002, 0.001], [0.02, 0.0115, 0.0]])
    for boxes, changed in ((3, {0}), (2, {1}), (1, {2})):
        # Emptying a table changes the field at the points that lie in its box alone.
        start = sum(math.prod(grid.shape) for grid in built.grids[: boxes - 1])
        count = math.prod(built.grids[boxes - 1].shape)
        emptied = built.potentials.copy()
        emptied[:, start : start + count] = 0.0
        fields = [
            fields_at(each.field([1.0, -1.0], 0.0, np.zeros(3)), points)[0]
            for each in (built, replace(built, potentials=emptied))
        ]
        differs = np.abs(fields[0] - fields[1]).max(axis=1) > 0.0
        assert set(np.flatnonzero(differs)) == changed


def test_a_box_passes_over_into_the_one_around_it(built):
    field = built.field([1.0, -1.0], 0.0, np.zeros(3))
    for grid in built.grids[1:]:
        place, nudge = np.array([[grid.highest[0], 0.0005, 0.0002]]), np.array([1e-9, 0.0, 0.0])
        E, _, V = fields_at(field, np.concatenate([place - nudge, place + nudge]))
        assert np.linalg.norm(E[0] - E[1]) < 5e-3 * np.linalg.norm(E[0])
        assert abs(V[0] - V[1]) < 1e-4


@pytest.mark.parametrize("part", ["plates", "coils"])
@pytest.mark.parametrize("damage", ["cut short", "flipped", "empty", "nonsense"])
def test_damaged_map_is_built_again(tmp_path, damage, part):
    first = load_or_build(small_problem(), tmp_path)
    path = next(tmp_path.glob(f"{part}-*.npz"))
    whole = path.read_bytes()
    flipped = bytearray(whole)
    flipped[len(whole) // 2] ^= 0xFF
    path.write_bytes(
        {
            "cut short": whole[: len(whole) // 2],
            "flipped": bytes(flipped),
            "empty": b"",
            "nonsense": b"not a field map",
        }[damage]
    )
    assert same(load_or_build(small_problem(), tmp_path), first)
    assert path.read_bytes() == whole or len(path.read_bytes()) == len(whole)


def _build_in(folder):
    load_or_build(small_problem(), folder)


@pytest.mark.slow
def test_two_processes_may_build_at_once(tmp_path):
    spawn = multiprocessing.get_context("spawn")
    builders = [spawn.Process(target=_build_in, args=(tmp_path,)) for _ in range(2)]
    for builder in builders:
        builder.start()
    for builder in builders:
        builder.join(120)
    assert [builder.exitcode for builder in builders] == [0, 0]
    assert [path.suffix for path in tmp_path.iterdir()] == [".npz", ".npz"]
    # Another process may round differently in its last bits.
    found, here = load_or_build(small_problem(), tmp_path), build_field_map(small_problem())
    assert np.abs(found.potentials - here.potentials).max() < 1e-9
    assert np.array_equal(found.flux, here.flux)


def test_a_folder_that_cannot_be_written_is_a_warning(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way of a folder")
    with pytest.warns(GlowtraceWarning, match="could not be kept in"):
        stored = load_or_build(small_problem(), blocked / "fields")
    assert same(stored, build_field_map(small_problem()))


COUNTING = (
    "from glowtrace import *\n"
    "import numba.core.compiler as c\n"
    "counted, plain = [], c.compile_extra\n"
    "c.compile_extra = lambda *a, **k: (counted.append(1), plain(*a, **k))[1]\n"
    "prepare(ready_made('deflection tube')).picture(Settings(accelerating_voltage=3000.0))\n"
    "print(len(counted))\n"
)


def kernels_compiled(environment):
    """Count the kernels that a new process compiles for one picture."""
    command = [sys.executable, "-c", COUNTING]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    return int(done.stdout)


@pytest.mark.slow
def test_another_process_compiles_nothing(deflection_tube):
    """Kernels are kept: a process finds on disk every one that this one has needed."""
    deflection_tube.picture(Settings(accelerating_voltage=3000.0))
    assert kernels_compiled(os.environ) == 0


@pytest.mark.thorough  # all kernels are compiled, a minute or more
def test_first_start_compiles_and_the_second_does_not(tmp_path):
    environment = os.environ | {"XDG_CACHE_HOME": str(tmp_path)}
    assert kernels_compiled(environment) > 0
    assert kernels_compiled(environment) == 0


def test_a_coil_that_hugs_the_glass_is_tabulated_to_the_glass(built):
    # Half a cell of room: the flux density cannot be told beyond the glass as far as elsewhere.
    problem = small_problem()
    cell = float(OUTER.spacing.max())
    glass = Glass((0.03, 0, 0), 0.012, is_tube=False)
    inner = glass.radius + 0.5 * cell
    tight = Winding((0.03, 0, 0), (0, 0, 1), inner + 0.0025, 0.005, 0.005, 100.0)
    accuracy = build_field_map(replace(problem, windings=(tight,), glass=glass)).accuracy
    assert accuracy.flux_typical < 1e-2
    assert accuracy.flux_typical > built.accuracy.flux_typical  # and the map says that it is worse


def test_a_coil_inside_the_glass_is_refused():
    problem = small_problem()
    inside = Winding((0.03, 0, 0), (0, 0, 1), 0.01, 0.005, 0.005, 100.0)
    with pytest.raises(FieldMapError, match="inside the winding"):
        build_field_map(replace(problem, windings=(inside,)))
