"""Benches prepared in a row against each prepared on its own, whose accuracy is the yardstick."""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace import Settings, prepare
from glowtrace.bench.checking import change
from glowtrace.bench.series import BenchSeries
from glowtrace.errors import FieldMapError
from glowtrace.fields.electrodes import Conductor, solve_unit_potentials
from glowtrace.fields.panels import rectangle_panels

BOTH = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0, coil_current=0.05)


def test_a_bench_in_a_row_bends_the_line_as_on_its_own(deflection_tube, tmp_path):
    series = BenchSeries(deflection_tube)
    bench = change(deflection_tube.bench, {"plates.gap": 0.047, "plates.tilt_upper": 0.01})
    alone, in_a_row = prepare(bench, cache_dir=tmp_path), series.prepare(bench)
    error = alone.fields.accuracy.electric_typical
    for settings in (BOTH, BOTH.changed(plate_tie="lower at anode")):
        for x in (0.05, 0.095):
            height = alone.line_height(settings, x)
            assert in_a_row.line_height(settings, x) == pytest.approx(height, rel=error)


def test_what_does_not_change_is_kept(deflection_tube):
    series = BenchSeries(deflection_tube)
    first = series.prepare(change(deflection_tube.bench, {"plates.gap": 0.05}))
    plates = series.prepare(change(deflection_tube.bench, {"plates.gap": 0.048}))
    coils = series.prepare(change(deflection_tube.bench, {"plates.gap": 0.05, "coils.turns": 200}))
    assert plates.fields.flux is first.fields.flux
    assert coils.fields.potentials is first.fields.potentials
    assert not np.array_equal(coils.fields.flux, first.fields.flux)


def test_charges_of_mirror_images_are_those_of_the_whole_system():
    upper = rectangle_panels((0.04, 0.02, 0.0), (0.07, 0.01, 0.0), (0.0, 0.0, 0.05), 9, 7)
    lower = rectangle_panels((0.04, -0.02, 0.0), (0.07, 0.0, 0.0), (0.0, 0.0, 0.04), 8, 6)
    plates = [Conductor("upper", upper), Conductor("lower", lower)]
    whole, even = solve_unit_potentials(plates), solve_unit_potentials(plates, is_even=True)
    assert even.charges == pytest.approx(whole.charges, rel=1e-9)
    with pytest.raises(FieldMapError, match="mirror image"):
        solve_unit_potentials(
            [Conductor("aside", upper + np.array([0.0, 0.0, 1e-3]))], is_even=True
        )
