"""Measurements on hidden benches against closed forms.

Coverage is what 95 % means (GUM, JCGM 100:2008, 6.2); how well a share of n is known: E. B. Wilson,
J. Am. Stat. Assoc. 22 (1927) 209, formula (4). e/m of a circle is 8 V_a / (B D)^2, and the best
linear estimate from readings with shared errors has the variance 1 / (1 C^-1 1) (A. C. Aitken,
Proc. R. Soc. Edinburgh 55 (1935) 42); all written from memory.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from glowtrace import GlowtraceError, Settings, prepare, ready_made
from glowtrace.bench.checking import change
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.measure.invented import invented_readings
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.usual_meters import GAS_OFFSET
from glowtrace.studies import Around, Measurement, Study, load_study, run_study, summarise
from glowtrace.studies.hidden_truth import coverage
from glowtrace.studies.rows import compute_rows
from glowtrace.version import __version__

EXACT = Instrument()
JUDGED = 1.5e-3  # m
METERS = {"ruler": Instrument(judgement=JUDGED), "accelerating_voltage": EXACT,
          "coil_current": EXACT}  # fmt: skip
BULB = change(ready_made("fine-beam bulb"), {"place.ignore_earth": True})


def study(**given):
    usual = {
        "bench": BULB, "settings": Settings(accelerating_voltage=200.0), "plan": "hidden truth",
        "vary": {"slack.beam_aside": Around(0.0, 1e-4)}, "rows": 12, "model": "ideal",
        "measurement": Measurement("circle", METERS),
    }  # fmt: skip
    return Study(**(usual | given))


def test_a_normal_reading_of_a_parabola_is_held_in_95_of_100():
    # y = V x^2 / (4 V_a d), read to 0.5 mm: V follows with 4 V_a d / x^2 times that.
    generator = np.random.default_rng(3)
    truth, slope, size = 600.0, 4.0 * 3000.0 * 0.049 / 0.06**2, 0.5e-3
    found = slope * (truth / slope + size * generator.standard_normal(4000))
    half = np.full(4000, 1.96 * slope * size)
    half[::10] = np.nan  # no interval
    told = coverage(np.abs(found - truth) <= half, half)
    share, n, z = told.held / told.stated, told.stated, 1.959964
    assert n == 3600
    assert share == pytest.approx(0.95, abs=3.0 * math.sqrt(0.95 * 0.05 / n))
    middle = (share + z**2 / (2 * n)) / (1 + z**2 / n)
    away = z / (1 + z**2 / n) * math.sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    assert (told.low, told.high) == pytest.approx((middle - away, middle + away), rel=1e-6)
    assert told.half_width == pytest.approx(1.96 * slope * size)
    assert coverage(np.zeros(3, bool), np.full(3, np.nan)) is None


def test_a_measured_row_can_be_computed_alone():
    rows, alone = (compute_rows(study(), r, __version__) for r in (range(6, 8), range(7, 8)))
    for name, column in alone.items():
        assert column[0] == rows[name][1], name
    assert rows["specific_charge_c_per_kg"][0] != rows["specific_charge_c_per_kg"][1]
    assert rows["specific_charge_c_per_kg"] == pytest.approx([SPECIFIC_CHARGE] * 2, rel=0.15)


@pytest.mark.slow
def test_circles_are_measured_as_well_as_the_closed_form_says(tmp_path):
    whole = study()
    rows = compute_rows(whole, range(12), __version__)
    shown = invented_readings(prepare(BULB), "circle", METERS)
    diameters, voltages = (shown.values(n) for n in ("diameter", "accelerating_voltage"))
    own, shared = 2.0 * JUDGED / diameters, GAS_OFFSET / voltages
    weights = np.linalg.solve(np.diag(own**2) + np.outer(shared, shared), np.ones(len(own)))
    size = SPECIFIC_CHARGE / math.sqrt(weights.sum())
    assert rows["uncertainty_c_per_kg"] == pytest.approx(np.full(12, size), rel=0.1)
    off = (rows["specific_charge_c_per_kg"] - SPECIFIC_CHARGE) / size
    assert 0.3 < np.sqrt(np.mean(off**2)) < 1.7  # 12 of a standard normal: 0.54 to 1.48 with 99 %
    stated = np.isfinite(rows["half_width_c_per_kg"])
    off = np.abs(rows["specific_charge_c_per_kg"] - SPECIFIC_CHARGE)
    within = off[stated] <= rows["half_width_c_per_kg"][stated]
    assert stated.sum() >= 10
    assert rows["holds"][stated].tolist() == within.tolist()


@pytest.mark.slow
def test_a_null_is_judged_as_well_as_a_parabola_rises():
    # A height of y is 4 V_a d y / x^2 volts, with x from the plates' edge to the other.
    tube = prepare(ready_made("deflection tube"))
    meters = {"accelerating_voltage": EXACT, "plate_voltage": EXACT, "coil_current": EXACT}

    def volts(judged, seed):
        meters["ruler"] = Instrument(judgement=judged)
        made = invented_readings(tube, "null", meters, seed=seed)
        return made.values("plate_voltage"), made.values("accelerating_voltage")

    exact, accelerating = volts(0.0, 1)
    off = np.concatenate([volts(1e-3, seed)[0] - exact for seed in range(3)])
    plates = tube.bench.plates
    size = 4.0 * accelerating[0] * plates.gap * 1e-3 / plates.length**2
    # 18 of a standard normal: 0.6 to 1.44 with 99 %; fields reach out of the plates.
    assert 0.5 < np.sqrt(np.mean(off**2)) / size < 1.5


def test_what_contradicts_itself_is_refused():
    for plan, measurement in (("hidden truth", None), ("random", Measurement("circle"))):
        with pytest.raises(GlowtraceError, match='give one with the plan "hidden truth"'):
            study(plan=plan, measurement=measurement)
    with pytest.raises(GlowtraceError, match="sets the knobs itself"):
        study(vary={"coil_current": Around(1.0, 0.1)})
    with pytest.raises(GlowtraceError, match="meters of its own"):
        study(vary={"slack.coil_meter": Around(0.0, 0.01)})
    with pytest.raises(GlowtraceError, match="did you mean circle"):
        Measurement("circel")
    with pytest.raises(GlowtraceError, match="ruler"):
        Measurement("circle", {"rulr": EXACT})
    none = compute_rows(study(measurement=Measurement("turn-back")), range(1), __version__)
    assert none["problem"][0]  # this bulb has no plates
    assert not none["holds"][0]


def documented(tmp_path):
    text = (Path(__file__).parents[2] / "docs" / "studies.md").read_text("utf-8")
    (example,) = (t for t in re.findall(r"```toml\n(.*?)```", text, re.S) if "hidden truth" in t)
    path = tmp_path / "study.toml"
    path.write_text(example, "utf-8")
    return load_study(path)


def test_the_documented_file_is_read(tmp_path):
    read = documented(tmp_path)
    assert read.measurement.method == "circle"
    assert read.measurement.instruments["ruler"] == Instrument(resolution=1e-3, judgement=1e-3)
    assert read.vary["coils.mean_radius"] == Around(0.163, pytest.approx(0.5e-3))
    path = tmp_path / "study.toml"
    good = path.read_text("utf-8")
    for old, new, told in (
        ('"circle"', '"circel"', "did you mean circle"),
        ("ruler =", "rular =", "did you mean ruler"),
        ("resolution", "steps", "instruments: ruler"),
        ('"1 mm"', '"1 V"', "instruments: ruler"),
        ("[measurement]", '[settings]\naccelerating_voltage = "200 V"\n[measurement]',
         r"leave \[settings\] out"),
    ):  # fmt: skip
        path.write_text(good.replace(old, new, 1), "utf-8")
        with pytest.raises(GlowtraceError, match=told):
            load_study(path)


@pytest.mark.thorough
def test_a_described_bench_holds_the_truth_in_95_of_100(tmp_path):
    bench = change(
        ready_made("fine-beam bulb"),
        {"coils.mean_radius": "163(2) mm", "coils.spacing": "163(3) mm"},
    )
    whole = study(
        bench=bench, vary={}, doubts=True, model="bench", rows=60, measurement=Measurement("circle")
    )
    found = summarise(whole, run_study(whole, tmp_path / "rows")).coverage
    print(found)
    assert found.stated > 50
    assert found.low < 0.95 <= found.high or found.held == found.stated
