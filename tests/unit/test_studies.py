"""Studies: the same rows however they are computed, closed forms, and what is refused.

Closed forms: a parabola between plates, y = V x^2 / (4 V_a d) for slow electrons (D. J. Griffiths,
"Introduction to Electrodynamics", 4th ed. 2013, written from memory), and a straight line without
fields. First-order shares of a product of powers with small relative uncertainties are those of
their squares (JCGM 100:2008, 5.1.6).
"""

from __future__ import annotations

import errno
import json
import math
from concurrent.futures import Future
from pathlib import Path

import numpy as np
import pytest

from glowtrace import GlowtraceError, Settings, ready_made
from glowtrace.bench.checking import change
from glowtrace.errors import RatingError
from glowtrace.report.study_figure import save_study
from glowtrace.studies import (
    Among,
    Around,
    Between,
    Study,
    load_study,
    run_study,
    running,
    summarise,
)
from glowtrace.studies import kept as kept_rows
from glowtrace.studies.crews import WorkerLostError
from glowtrace.studies.kept import open_kept
from glowtrace.studies.rows import compute_rows
from glowtrace.studies.summary import outcome
from glowtrace.version import __version__

AT = 0.06
SETTINGS = Settings(accelerating_voltage=3000.0, plate_voltage=600.0)
METERS = {"accelerating_voltage": Around(3000.0, 60.0), "slack.plate_meter": Around(0.0, 0.01)}


def study(**given):
    usual = {
        "bench": ready_made("deflection tube"), "settings": SETTINGS, "vary": METERS,
        "rows": 24, "electrons": 100, "model": "ideal", "at": AT,
    }  # fmt: skip
    return Study(**(usual | given))


class AtOnce:
    """A crew that computes here; ``failing`` says of which pieces the worker ends, once each."""

    def __init__(self, failing=()):
        self.failing = list(failing)
        self.sent: list[int] = []
        self.waiting = []
        self.free = 1

    def send(self, number, work, *given):
        self.sent.append(number)
        future = Future()
        if number in self.failing:
            self.failing.remove(number)
            future.set_exception(WorkerLostError())
        else:
            future.set_result(work(*given))
        self.waiting.append((number, future.result))
        self.free = 0

    def done(self):
        self.free = 1
        waiting, self.waiting = self.waiting, []
        return iter(waiting)

    def close(self):
        self.free = 0


@pytest.fixture
def crew(monkeypatch):
    crew = AtOnce()
    monkeypatch.setattr(running, "crew_of", lambda workers, cluster: crew)
    return crew


def test_every_row_can_be_computed_alone():
    spans = {"plate_voltage": Between(100.0, 900.0), "accelerating_voltage": Around(3e3, 30.0)}
    lists = {"plate_voltage": Among((100.0, 500.0)), "coil_current": (0.0, 0.01, 0.02)}
    for plan, vary, rows in (("random", spans, 40), ("shares", spans, 70), ("designs", lists, 6)):
        whole = study(plan=plan, vary=vary, rows=rows)
        values = whole.values(range(whole.count))
        for row in (0, 3, whole.count - 1):
            assert (whole.values(range(row, row + 1))[0] == values[row]).all()
    together = compute_rows(study(), range(4, 8), __version__)
    alone = compute_rows(study(), range(6, 7), __version__)
    assert alone["row"].tolist() == [6]
    for name, column in alone.items():
        assert column[0] == together[name][2] or column[0] != column[0], name


def test_designs_are_all_combinations_with_the_knobs_last():
    whole = study(
        plan="designs", vary={"plate_voltage": (1.0, 2.0), "coils.turns": (100.0, 200.0, 300.0)}
    )
    assert whole.names == ("coils.turns", "plate_voltage")
    assert whole.settings_a_bench == 2
    found = {tuple(row) for row in whole.values(range(whole.count)).tolist()}
    assert found == {(t, v) for t in (100.0, 200.0, 300.0) for v in (1.0, 2.0)}


def test_shares_of_a_parabola_are_those_of_relative_uncertainties_squared(tmp_path, crew):
    # y goes as plate voltage over accelerating voltage: 1 % and 2 %, so one part in five.
    whole = study(plan="shares", rows=4 * 64)
    outcome = summarise(whole, run_study(whole, tmp_path / "rows")).outcomes[0]
    assert (outcome.name, outcome.count) == ("height_m", 256)
    shares = {each.name: each for each in outcome.shares}
    assert shares["accelerating_voltage"].alone == pytest.approx(0.8, abs=0.06)
    assert shares["slack.plate_meter"].alone == pytest.approx(0.2, abs=0.06)
    assert shares["slack.plate_meter"].total == pytest.approx(0.2, abs=0.06)
    bench = whole.bench
    slow = 600.0 * (AT - bench.plates.start) ** 2 / (4.0 * 3000.0 * bench.plates.gap)
    assert outcome.mean == pytest.approx(slow, rel=0.01)  # 0.3 % of it is the mass at 3 kV
    assert outcome.deviation == pytest.approx(math.hypot(0.01, 0.02) * outcome.mean, rel=0.1)


def test_random_rows_tell_shares_by_straight_lines(tmp_path, crew):
    whole = study(rows=150)
    outcome = summarise(whole, run_study(whole, tmp_path / "rows")).outcomes[0]
    values = whole.values(range(150))
    spread = (values.std(axis=0) / [1.0, 3000.0]) ** 2  # of this sample
    assert outcome.explained == pytest.approx(1.0, abs=0.01)
    assert outcome.shares[0].name == "accelerating_voltage"
    assert outcome.shares[0].alone == pytest.approx(spread[1] / spread.sum(), abs=0.06)


def test_a_plan_for_shares_with_gaps_tells_those_of_straight_lines():
    whole = study(plan="shares", rows=256)
    values = whole.values(range(whole.count))
    columns = dict(zip(whole.columns, values.T, strict=True))
    read = columns["slack_plate_meter"] * 3.0
    read[::9] = np.nan
    found = outcome(whole, "height_m", columns | {"height_m": read})
    assert found.missing == 29
    assert found.shares[0].name == "slack.plate_meter"
    assert found.shares[0].alone == pytest.approx(1.0, abs=0.02)
    assert math.isnan(found.shares[0].total)


def test_a_beam_that_leaves_askew_goes_straight_without_fields():
    rise = math.radians(1.0)
    vary = {"slack.beam_rise": Among((rise,)), "slack.beam_height": Among((1e-3,)),
            "slack.grid_height": Among((2e-4,))}  # fmt: skip
    straight = Settings(accelerating_voltage=3000.0, thermal_spread=False, ripple=False)
    bench = change(ready_made("deflection tube"), {"place.ignore_earth": True})
    whole = study(plan="designs", vary=vary, settings=straight, bench=bench)
    row = compute_rows(whole, range(1), __version__)
    assert row["height_m"][0] == pytest.approx(1e-3 + AT * math.tan(rise) + 2e-4, abs=2e-6)


def test_doubts_of_the_bench_vary_with_their_correlations():
    bench = change(
        ready_made("deflection tube"),
        {"plates.start": "9(1) mm", "plates.length": "76(1) mm",
         "doubts.together": [{"numbers": ["plates.start", "plates.length"], "correlation": -0.8}]},
    )  # fmt: skip
    whole = study(bench=bench, vary={}, doubts=True, rows=2000)
    assert "slack.stray_field[2]" in whole.names
    values = whole.values(range(2000))[:, [whole.names.index(n) for n in
                                           ("plates.start", "plates.length")]]  # fmt: skip
    # A correlation of 2,000 pairs is known to (1 - r^2) / sqrt(2000) = 0.008.
    assert np.corrcoef(values.T)[0, 1] == pytest.approx(-0.8, abs=0.035)
    assert values.std(axis=0) == pytest.approx([1e-3, 1e-3], rel=0.07)
    with pytest.raises(GlowtraceError, match="known on their own"):
        study(bench=bench, vary={}, doubts=True, plan="shares", rows=2000)


def test_a_stopped_study_goes_on_where_it_was(tmp_path, monkeypatch, crew):
    whole, folder = study(), tmp_path / "rows"
    write = kept_rows.write_whole
    written = []

    def full_disk(path, content):
        if len(written) == 4:
            raise OSError(errno.ENOSPC, "No space left on device")
        written.append(path)
        write(path, content)

    monkeypatch.setattr(kept_rows, "write_whole", full_disk)
    with pytest.raises(GlowtraceError, match=r"no space left on device. 9 of 24 rows are kept"):
        run_study(whole, folder)
    monkeypatch.setattr(kept_rows, "write_whole", write)
    (folder / "rows" / ".0123456789abcdef.part").write_bytes(b"half")  # as kill -9 leaves it
    crew.sent.clear()
    kept = run_study(whole, folder)
    assert crew.sent == [3, 4, 5, 6, 7]
    rows = kept.read(("row", "height_m"))
    assert rows["row"].tolist() == list(range(24))
    whole_at_once = compute_rows(whole, range(24), __version__)
    assert (rows["height_m"] == whole_at_once["height_m"]).all()
    crew.sent.clear()
    run_study(whole, folder)
    assert crew.sent == []


def test_a_worker_that_ends_costs_its_rows_only(tmp_path, crew):
    crew.failing = [2, 2]
    kept = run_study(study(), tmp_path / "rows")
    assert sorted(crew.sent) == [0, 1, 2, 2, 2, 3, 4, 5, 6, 7]
    assert kept.read(("row",))["row"].tolist() == list(range(24))
    crew.failing = [1, 1, 1]
    with pytest.raises(GlowtraceError, match=r"ended 3 times over rows 3 to 5.* 3 of 24 rows"):
        run_study(study(seed=1), tmp_path / "others")


def test_a_folder_holds_one_study_of_one_version(tmp_path):
    folder = tmp_path / "rows"
    open_kept(study(), folder)
    open_kept(study(), folder)
    with pytest.raises(GlowtraceError, match=r"another study .it differs in seed"):
        open_kept(study(seed=3), folder)
    mark = folder / "study.json"
    mark.write_text(json.dumps(json.loads(mark.read_text()) | {"glowtrace": "0.0.1"}))
    with pytest.raises(GlowtraceError, match=f"of Glowtrace 0.0.1, and this is {__version__}"):
        open_kept(study(), folder)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("x")
    with pytest.raises(GlowtraceError, match="something else"):
        open_kept(study(), tmp_path / "mine")
    with pytest.raises(GlowtraceError, match=r"has Glowtrace .*, and this computer 0.0.1"):
        compute_rows(study(), range(1), "0.0.1")


def test_rows_beyond_ratings_are_refused_or_marked(tmp_path, crew):
    vary = {"plate_voltage": (1000.0, 9000.0)}
    with pytest.raises(RatingError, match="1 of 2 rows looked at pass a rating"):
        run_study(study(plan="designs", vary=vary), tmp_path / "rows")
    assert not (tmp_path / "rows").exists()
    whole = study(plan="designs", vary=vary, beyond_ratings=True)
    kept = run_study(whole, tmp_path / "rows")
    assert kept.read(("is_within_ratings",))["is_within_ratings"].tolist() == [True, False]
    assert summarise(whole, kept).beyond_ratings == 1


def test_designs_say_which_show_what_is_wanted_and_which_cannot_be(tmp_path, crew):
    vary = {"screen.height": (0.01, 0.044, 0.06), "plate_voltage": (0.0, 1000.0, 2500.0)}
    whole = study(plan="designs", vary=vary, wanted="full line", at=0.09)
    kept = run_study(whole, tmp_path / "rows")
    summary = summarise(whole, kept)
    assert (summary.rows, summary.impossible) == (9, 3)
    assert "screen.height" in summary.problem  # it would touch a plate
    assert "height_m" not in {each.name for each in summary.outcomes}
    best, second, none = summary.designs
    # A sheet of 44 mm shows 13 mm of deflection at 1 kV, one of 10 mm does not.
    assert (best.numbers, best.shown) == ({"screen.height": 0.044}, 2)
    assert best.ends == {"plate_voltage": (0.0, 1000.0)}
    assert (second.numbers, second.shown, none.rows) == ({"screen.height": 0.01}, 1, 0)
    for ending in ("png", "svg"):
        save_study(tmp_path / f"designs.{ending}", summary, kept)
        assert (tmp_path / f"designs.{ending}").stat().st_size > 5000


FILE = """
format = "glowtrace-study 1"
bench = "deflection tube"
rows = 50
at = "60 mm"
[settings]
accelerating_voltage = "3 kV"
[vary]
plates.gap = "49(1) mm"
"coils.spacing" = "70 mm to 76 mm"
"coils.turns" = [300, 343]
plate_voltage = { range = "0 V to 2 kV", points = 3 }
"""


def test_a_file_says_what_varies(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(FILE)
    read = load_study(path)
    assert (read.rows, read.at, read.settings.accelerating_voltage) == (50, 0.06, 3000.0)
    assert read.vary == {
        "plates.gap": Around(0.049, pytest.approx(1e-3)),
        "coils.spacing": Between(0.07, 0.076),
        "coils.turns": Among((300.0, 343.0)),
        "plate_voltage": Among((0.0, 1000.0, 2000.0)),
    }


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"deflection tube"', '"deflection tub"', "did you mean deflection tube"),
        ("plates.gap", "plates.gab", "did you mean plates.gap"),
        ("rows", "rowss", "did you mean rows"),
        ("rows = 50", 'rows = "50"', "give a whole number"),
        ("rows = 50", 'wanted = "turn back"', "did you mean turns back"),
        ("rows = 50", 'plan = "design"', "did you mean designs"),
        ('"49(1) mm"', '"49(1) s"', "vary: plates.gap"),
        ('"49(1) mm"', "49", "vary: plates.gap: 49 is not allowed; give"),
        ("study 1", "bench 1", 'start the file with format = "glowtrace-study 1"'),
        ("[settings]", "[settings", "this is no TOML"),
    ],
)
def test_a_wrong_file_is_told_in_one_message(tmp_path, old, new, told):
    path = tmp_path / "study.toml"
    path.write_text(FILE.replace(old, new, 1))
    with pytest.raises(GlowtraceError, match=told):
        load_study(path)


def test_what_cannot_be_is_refused(tmp_path, crew):
    with pytest.raises(GlowtraceError, match="name what varies"):
        study(vary={})
    with pytest.raises(GlowtraceError, match="needs a list"):
        study(plan="designs")
    with pytest.raises(GlowtraceError, match=r"2 numbers need 64 rows"):
        study(plan="shares", rows=20)
    with pytest.raises(GlowtraceError, match=r"slack.beam_rise"):
        study(vary={"slack.beam_rize": Around(0.0, 0.01)})
    with pytest.raises(GlowtraceError, match="an uncertainty above 0"):
        study(vary={"plates.gap": Around(0.049, 0.0)})
    whole = study(read=("hight_m",))
    kept = run_study(whole, tmp_path / "rows")
    with pytest.raises(GlowtraceError, match="did you mean height_m"):
        summarise(whole, kept)


def test_a_missing_package_is_named_with_the_way_to_get_it(monkeypatch, tmp_path):
    import sys

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(GlowtraceError, match=r'pip install "glowtrace\[studies\]"'):
        run_study(study(), tmp_path / "rows")
    assert not Path(tmp_path / "rows").exists()
