"""Limits that are kept with 95 %, with what is known of the bench; closed forms.

Relative uncertainties of a product: GUM (JCGM 100:2008) 5.1.6. One-sided 95 %: scipy's normal
distribution. A dipole's field falls off as 1/r^3 (Jackson, Classical Electrodynamics, 5.6).
"""

from __future__ import annotations

import pytest
from scipy.stats import norm

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.safety.lines import SafetyLine
from glowtrace.safety.review import check_safety
from glowtrace.safety.sureness import ONE_SIDED
from glowtrace.words.safety import told_report

EXACT = ready_made("deflection tube")
DOUBTED = change(EXACT, {"coils.resistance": "3.9 ohm ± 10 %", "slack.plate_meter": "0.02"})


def line(bench, settings: Settings, key: str) -> SafetyLine:
    return next(
        each for each in check_safety(bench, settings).lines if each.topic.key.endswith(key)
    )


def test_a_rating_is_as_sure_as_its_meter() -> None:
    assert norm.ppf(0.95) == pytest.approx(ONE_SIDED)
    for volts, verdict in ((4000.0, "ok"), (4700.0, "attention")):
        found = line(DOUBTED, Settings(accelerating_voltage=4700.0, plate_voltage=volts),
                     "rating.plate_voltage")  # fmt: skip
        assert found.margin == pytest.approx(1.0 - volts / 4800.0)
        assert found.sure_margin == pytest.approx(1.0 - volts / 4800.0 * (1.0 + 0.02 * ONE_SIDED))
        assert found.verdict == verdict


def test_an_exact_bench_is_checked_as_before() -> None:
    report = check_safety(EXACT, Settings(accelerating_voltage=4000.0, plate_voltage=4700.0))
    assert all(each.sure_margin is None for each in report.lines)


def test_a_coil_of_uncertain_resistance_may_get_hotter() -> None:
    # Short of any loss the rise is as I^2 R t; half a minute is short.
    settings = Settings(accelerating_voltage=3000.0, coil_current=1.0)
    found = next(
        each
        for each in check_safety(DOUBTED, settings, run_minutes=0.5).lines
        if each.topic.key.endswith("topic.insulation")
    )
    assert found.sure_margin is not None
    assert 0.0 < found.sure_margin < found.margin  # type: ignore[operator]


def test_the_reach_of_the_coils_grows_as_the_third_root() -> None:
    bench = change(EXACT, {"slack.coil_meter": "0.05", "coils.resistance": "3.9(1) ohm"})
    settings = Settings(accelerating_voltage=3000.0, coil_current=1.5)
    found = line(bench, settings, "topic.reach")
    (advice,) = (each for each in found.advice if each.key.endswith("reach_95"))
    reach = dict(advice.values)["reach"].value  # type: ignore[union-attr]
    # Near the coils the field falls off faster or slower than that of a dipole.
    assert reach / found.value_si - 1.0 == pytest.approx(0.05 * ONE_SIDED / 3.0, rel=0.25)  # type: ignore[operator]


def test_it_is_said_beside_the_margin_and_in_the_advice() -> None:
    report = told_report(
        check_safety(DOUBTED, Settings(accelerating_voltage=4700.0, plate_voltage=4700.0))
    )
    told = next(each for each in report.lines if each.key.endswith("rating.plate_voltage"))
    assert told.verdict == "attention"
    assert "not with 95 %" in told.advice
