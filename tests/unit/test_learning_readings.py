"""Tables of readings and photographed lines, as things that were seen on a tube."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.checking import change
from glowtrace.bench.files import load_bench, save_bench
from glowtrace.bench.learning import learn, with_seen
from glowtrace.bench.observing import READ_TO
from glowtrace.bench.prediction import FACTOR, predict
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.cli import run
from glowtrace.errors import GlowtraceError
from glowtrace.measure.learning_readings import readings_to_learn_from, seen_in_table
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.photographs.grid import screen_rectangle_of
from glowtrace.photographs.synthetic import Camera, Conditions, picture_light, take_photograph

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
UP = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)
ELSEWHERE = Settings(accelerating_voltage=2500.0, plate_voltage=700.0)
PLATES = "x (mm), y (mm), V_a (V), V_p (V)\n"


def test_points_of_a_table_are_seen_at_their_own_knobs() -> None:
    table = readings_to_learn_from(PLATES + "95, 12.5(5), 3000, 1000\n80, -9(1), 3000, -1000\n")
    first, second = seen_in_table(table, TUBE)
    assert (first.x, first.y) == (TUBE.plane.x_of(0.095), 0.0125)
    assert first.uncertainty == pytest.approx(0.5e-3)
    assert first.settings == UP
    assert second.settings == UP.model_copy(update={"plate_reversed": True})


def test_a_table_of_any_kind_is_known_by_its_heads() -> None:
    circle = seen_in_table(readings_to_learn_from("D (mm),V_a (V),I (A)\n80,230,-1.7\n"), BULB)
    assert (circle[0].what, circle[0].y, circle[0].uncertainty) == ("circle", -0.08, READ_TO)
    null = seen_in_table(readings_to_learn_from("V_p (V),I (A),V_a (V)\n1000,-0.107,3000\n"), TUBE)
    assert (null[0].y, null[0].x) == (0.0, pytest.approx(TUBE.plane.first_read_x))
    assert null[0].settings.coil_reversed
    with pytest.raises(GlowtraceError, match=r"V_p \(V\), I \(A\), V_a \(V\)"):
        readings_to_learn_from("t (s),h (m)\n1,2\n")


def test_what_a_ruler_errs_in_all_readings_does_not_average_out() -> None:
    # GUM (JCGM 100:2008) 5.2.2: n readings with a common error c have a mean that errs by c.
    rows = "".join(f"{x}, 10(0.5), 3000, 1000\n" for x in (60, 70, 80, 90))
    plain = seen_in_table(readings_to_learn_from(PLATES + rows), TUBE)
    mean = sum(each.uncertainty**2 for each in plain) ** 0.5 / 4
    assert mean == pytest.approx(0.25e-3)
    table = readings_to_learn_from(PLATES + rows)
    shared = replace(table, instruments={"ruler": Instrument(zero_limit=1e-3)})
    found = seen_in_table(shared, TUBE)
    mean = sum(each.uncertainty**2 for each in found) ** 0.5 / 4
    assert mean == pytest.approx(np.hypot(0.25e-3, 1e-3 / np.sqrt(3.0)))


@pytest.mark.thorough
@pytest.mark.slow
def test_a_photograph_of_the_real_tube_tightens_the_band(tmp_path: Path, capsys) -> None:
    """The tube has a gap of 51 mm where 49(2) mm was told."""
    told = change(TUBE, {"plates.gap": "49(2) mm"})
    truth = prepare(change(TUBE, {"plates.gap": "51 mm"}))
    taken = take_photograph(
        picture_light(truth.picture(UP, electrons=20_000)),
        Camera(aim=(0.0577, 0.0), distance=0.16, turn=0.1, tilt=0.05),
        screen_rectangle_of(TUBE),
        Conditions(grid_pitch=0.01, room_light=0.08),
    )
    image, bench, kept = (tmp_path / name for name in ("line.png", "told.toml", "kept.toml"))
    Image.fromarray(taken.pixels).save(image)
    save_bench(told, bench)
    knobs = ("--accelerating", "3 kV", "--plate", "1 kV")
    command = ["bench", "learn", str(bench), *knobs, "--photograph", str(image)]
    assert run([*command, "--keep", str(kept)]) == 0, capsys.readouterr().err
    tube = prepare(load_bench(kept))
    assert tube.bench.doubts is not None
    assert len(tube.bench.doubts.seen) == 6
    learnt = learn(tube)
    assert not learnt.is_contradicted
    before, after = (
        predict(tube, ELSEWHERE, belief=each).height(0.08) for each in (learnt.before, learnt.after)
    )
    assert before.uncertainty > 1.5 * after.uncertainty
    true = truth.line_height(ELSEWHERE, 0.08)
    assert abs(true - after.value) < FACTOR * after.uncertainty
    # The same line, told as a table.
    rows = "".join(
        f"{1e3 * TUBE.plane.u_of(x):.2f}, {1e3 * truth.line_height(UP, x):.2f}(0.3), 3000, 1000\n"
        for x in (0.05, 0.07, 0.09)
    )
    seen = seen_in_table(readings_to_learn_from(PLATES + rows), TUBE)
    other = prepare(with_seen(told, seen))
    found = predict(other, ELSEWHERE).height(0.08)
    assert abs(true - found.value) < FACTOR * found.uncertainty
