"""The figure, its caption and its table: what is where, the same bytes each time, readable.

Contrast is computed as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio);
the PNG signature is from the PNG specification (https://www.w3.org/TR/png-3/#5PNG-file-signature).
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.image import imread

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.report.caption import caption_lines, settings_words
from glowtrace.report.figure import draw_picture, picture_bytes, save_picture
from glowtrace.report.look import DARK, PRINT
from glowtrace.report.table import COLUMNS, record_json, save_table, table_rows

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
AXIAL = ready_made("axial coil tube")
EXTENT = (0.01, 0.11, -0.025, 0.025)
SETTINGS = Settings(
    accelerating_voltage=3000.0, plate_voltage=1200.0, coil_current=0.25, coil_reversed=True
)


def spot_image(u: float, v: float, extent=EXTENT, shape=(100, 200)) -> np.ndarray:
    """Give an image that is lit in the one pixel around (u, v)."""
    light = np.zeros(shape)
    left, right, low, high = extent
    row = int((v - low) / (high - low) * shape[0])
    light[row, int((u - left) / (right - left) * shape[1])] = 1.0
    return light


def picture(**changes):
    u = np.linspace(0.02, 0.1, 9)
    parts = {
        "settings": SETTINGS,
        "model": "bench",
        "plane": TUBE.plane,
        "electrons": 2000,
        "seed": 5,
        "ends": {"screen": 1950, "upper plate": 50, "glass": 0},
        "landings": np.empty((0, 2)),
        "paths": np.empty((0, 0, 3)),
        "image": spot_image(0.06, 0.01),
        "extent": EXTENT,
        "mean_trace": SimpleNamespace(
            u=u, v=2.0 * u**2, width_v=np.full(9, 4e-4), weight=np.full(9, 1 / 9)
        ),
    }
    return SimpleNamespace(**(parts | changes))


def textbook(u, v, **changes):
    numbers = {
        "speed": 3.23e7,
        "electric_field": -2e4,
        "flux_density": 1e-3,
        "radius": 0.18,
        "null_plate_voltage": None,
        "null_coil_current": math.nan,
        "focus_coil_current": None,
        "regime": "parabola",
        "end": "screen",
    }
    return SimpleNamespace(u=u, v=v, **(numbers | changes))


def parabola():
    u = np.linspace(0.01, 0.09, 81)
    return textbook(u, 2.1 * u**2)


def shown(content: bytes) -> np.ndarray:
    """Give the picture's pixels as (rows, columns, rgb), the first row at the top."""
    return imread(io.BytesIO(content), format="png")[..., :3]


def luminance(colour) -> np.ndarray:
    linear = np.asarray(colour, dtype=float)
    linear = np.where(linear <= 0.04045, linear / 12.92, ((linear + 0.055) / 1.055) ** 2.4)
    return linear @ (0.2126, 0.7152, 0.0722)


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(to_rgb(one)), luminance(to_rgb(other))), reverse=True)
    return (high + 0.05) / (low + 0.05)


# Where the light is


def place_in_pixels(figure, u: float, v: float) -> tuple[float, float]:
    """Give row and column where a point of the screen is drawn."""
    column, up = figure.axes[0].transData.transform((1e3 * u, 1e3 * v))
    return figure.bbox.height - up, column


@pytest.mark.parametrize(("bench", "spot"), [(TUBE, (0.0602, 0.0102)), (BULB, (0.0902, -0.0198))])
def test_light_is_drawn_where_the_axes_say(bench, spot):
    made = picture(plane=bench.plane, image=spot_image(*spot))
    pixels = luminance(shown(picture_bytes(made, TUBE)))
    rows, columns = np.nonzero(pixels > 0.9 * pixels.max())
    row, column = place_in_pixels(draw_picture(made, TUBE), *spot)
    assert rows.mean() == pytest.approx(row, abs=6)
    assert columns.mean() == pytest.approx(column, abs=6)


@pytest.mark.slow
def test_trace_is_the_brightest_thing_in_the_dark_room():
    lit = luminance(shown(picture_bytes(picture(), TUBE, parabola()))).max()
    dark = luminance(shown(picture_bytes(picture(image=np.zeros((9, 9))), TUBE, parabola()))).max()
    assert lit > dark


@pytest.mark.slow
def test_end_face_is_seen_against_the_beam():
    # Right-handed axes, x towards the viewer and y up: z then runs to the viewer's left.
    square = (-0.03, 0.03, -0.03, 0.03)
    image = spot_image(0.02, 0.0, square, (120, 120))
    made = picture(plane=AXIAL.plane, extent=square, image=image)
    pixels = luminance(shown(picture_bytes(made, TUBE)))
    columns = np.nonzero(pixels > 0.9 * pixels.max())[1]
    assert columns.mean() < pixels.shape[1] / 2


def test_faint_light_is_still_seen_beside_bright_light():
    image = spot_image(0.06, 0.01) + 0.02 * spot_image(0.09, -0.01)
    both = luminance(shown(picture_bytes(picture(image=image), TUBE)))
    one = luminance(shown(picture_bytes(picture(), TUBE)))
    seen = (both + 0.05) / (one + 0.05)  # contrast as of WCAG; an edge is seen from about 1.2
    assert seen.max() > 1.2


def test_scale_is_not_distorted():
    figure = draw_picture(picture(), TUBE)
    (x0, y0), (x1, y1) = figure.axes[0].transData.transform([(20, 0), (30, 10)])
    assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-6)


def test_no_light_is_said():
    figure = draw_picture(picture(image=np.zeros((5, 5))), TUBE)
    assert "no light" in [text.get_text() for text in figure.axes[0].texts]
    assert figure_texts(draw_picture(picture(), TUBE)).count("no light") == 0


def test_textbook_is_dashed_and_lies_where_it_should():
    figure = draw_picture(picture(), TUBE, parabola())
    (line,) = figure.axes[0].lines
    assert line.is_dashed()
    assert np.allclose(line.get_ydata(), 2.1e-3 * line.get_xdata() ** 2)
    assert not draw_picture(picture(), TUBE).axes[0].lines


def test_on_an_end_face_the_textbook_marks_where_it_arrives():
    square = (-0.03, 0.03, -0.03, 0.03)
    face = picture(plane=AXIAL.plane, extent=square)
    turning = textbook(np.array([0.0, 0.004, 0.002]), np.array([0.0, 0.001, 0.009]))
    (line,) = draw_picture(face, TUBE, turning).axes[0].lines
    assert line.get_xydata().tolist() == [[2.0, 9.0]]
    turning.end = "glass"
    (line,) = draw_picture(face, TUBE, turning).axes[0].lines
    assert len(line.get_xydata()) == 0


# What it says


def figure_texts(figure) -> list[str]:
    return [text.get_text() for text in (*figure.texts, *figure.axes[0].texts)]


def test_caption_names_bench_settings_model_and_ends():
    words = "\n".join(figure_texts(draw_picture(picture(), TUBE)))
    for part in (
        TUBE.name,
        "accelerating 3 kV",
        "plates 1.2 kV (symmetric)",
        "coil pair 250 mA (reversed)",
        "bench: real geometry",
        "2,000 electrons: 1,950 on the screen, 50 on the upper plate",
        "invented",
    ):
        assert part in words
    assert "glass" not in words
    assert "ideal: uniform fields" in "\n".join(caption_lines(picture(model="ideal"), TUBE))


def test_settings_that_do_not_exist_on_the_bench_are_left_out():
    words = " ".join(settings_words(SETTINGS, BULB))
    assert "plates" not in words
    assert "coil pair" in words


def test_every_switch_that_differs_is_named():
    switched = SETTINGS.model_copy(
        update={
            "plate_tie": "lower at anode",
            "plate_source": "accelerating supply",
            "plate_reversed": True,
            "heater_on": False,
            "ripple": False,
        }
    )
    words = " ".join(settings_words(switched, TUBE))
    for part in (
        "from the accelerating supply",
        "lower at anode",
        "reversed",
        "heater off",
        "without ripple",
    ):
        assert part in words


@pytest.mark.parametrize("extent", [EXTENT, (-0.06, 0.06, -0.06, 0.06), (0, 0.02, 0, 0.08)])
def test_nothing_runs_off_the_page_or_into_the_screen(extent):
    ends = {f"a place with a long name {number}": 7 for number in range(8)}
    name = (
        "Tube of the collection, lecture hall on the ground floor, with the new pair of coils, 2nd"
    )
    named = TUBE.model_copy(update={"name": name})
    figure = draw_picture(picture(extent=extent, ends=ends), named, parabola())
    renderer = FigureCanvasAgg(figure).get_renderer()
    screen = figure.axes[0].get_window_extent(renderer)
    legend = figure.axes[0].get_legend().get_window_extent(renderer)
    assert legend.x0 >= 0
    for text in figure.texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0
        assert box.y0 >= 0
        assert box.x1 <= figure.bbox.x1
        assert not box.overlaps(screen)
        assert not box.overlaps(legend)


def test_name_with_dollar_signs_is_shown_as_it_is():
    named = TUBE.model_copy(update={"name": r"tube $\frac$ 5"})
    assert r"tube $\frac$ 5" in picture_bytes(picture(), named, kind="svg").decode()


# Looks


@pytest.mark.parametrize("look", [DARK, PRINT], ids=lambda look: look.name)
def test_text_can_be_read(look):
    for colour in (look.ink, look.quiet):
        assert contrast(colour, look.ground) >= 4.5  # WCAG 2.2, level AA
    assert contrast(look.textbook, look.screen) >= 3.0  # 1.4.11, graphical objects
    assert contrast(look.phosphor[-1], look.screen) >= 3.0
    assert contrast(look.gas[-1], look.screen) >= 3.0


def test_print_look_has_no_colours_to_lose():
    pixels = shown(picture_bytes(picture(), TUBE, parabola(), look=PRINT))
    assert np.ptp(pixels, axis=2).max() == 0.0
    assert np.median(pixels) == 1.0  # paper stays white


# The same every time


DRAW = """
import hashlib, sys
sys.path.insert(0, "tests/unit")
from test_figure import TUBE, parabola, picture, picture_bytes
for kind in ("png", "svg"):
    print(hashlib.sha256(picture_bytes(picture(), TUBE, parabola(), kind=kind)).hexdigest())
print("matplotlib.pyplot" in sys.modules)
"""


@pytest.mark.slow
def test_same_picture_gives_the_same_bytes_whatever_the_users_own_look(tmp_path):
    (tmp_path / "matplotlibrc").write_text("font.size: 30\nsvg.fonttype: none\nsavefig.dpi: 50\n")
    outputs = []
    for seed, rc in (("1", "/nowhere"), ("2", str(tmp_path))):
        environment = os.environ | {"PYTHONHASHSEED": seed, "MATPLOTLIBRC": rc}
        done = subprocess.run(
            [sys.executable, "-c", DRAW],
            capture_output=True,
            text=True,
            env=environment,
            check=True,
        )
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1]
    assert outputs[0].splitlines()[2] == "False"  # no global state of pyplot


# Files


def test_png_and_svg_are_what_they_say(tmp_path):
    save_picture(tmp_path / "a.png", picture(), TUBE)
    assert (tmp_path / "a.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    save_picture(tmp_path / "a.SVG", picture(), TUBE)
    root = ElementTree.fromstring((tmp_path / "a.SVG").read_text())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"


@pytest.mark.parametrize("save", [save_picture, save_table])
def test_other_ending_is_refused(tmp_path, save):
    with pytest.raises(GlowtraceError, match="must end in"):
        save(tmp_path / "a.bmp", picture(), TUBE)
    assert list(tmp_path.iterdir()) == []


def test_old_file_stays_where_the_new_one_cannot_be_written(tmp_path, monkeypatch):
    target = tmp_path / "a.csv"
    target.write_text("old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("glowtrace.disk.os.fsync", full)
    with pytest.raises(GlowtraceError, match="no space left on device"):
        save_table(target, picture(), TUBE)
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_link_stays_a_link_and_permissions_are_usual(tmp_path):
    (tmp_path / "link.csv").symlink_to(tmp_path / "real.csv")
    save_table(tmp_path / "link.csv", picture(), TUBE)
    (tmp_path / "usual").touch()
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real.csv").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_missing_folder_is_one_line(tmp_path):
    with pytest.raises(GlowtraceError) as error:
        save_picture(tmp_path / "none" / "a.png", picture(), TUBE)
    assert "\n" not in str(error.value)
    assert str(tmp_path / "none") in str(error.value)


# Numbers


def test_table_has_units_in_its_names_and_the_textbook_beside_the_trace():
    rows = table_rows(picture(), parabola())
    assert tuple(rows[0]) == COLUMNS
    assert rows[0]["u_mm"] == 20.0
    assert rows[0]["v_mm"] == pytest.approx(0.8)  # 2 x (20 mm)^2
    assert rows[0]["width_mm"] == 0.8  # two standard deviations, as in readouts and sweeps
    assert rows[0]["textbook_v_mm"] == pytest.approx(0.84)  # 2.1 x (20 mm)^2
    assert rows[-1]["textbook_v_mm"] is None  # the textbook's trace ends at 90 mm


def test_textbook_that_turns_back_gives_no_single_height():
    angle = np.linspace(0, 2 * np.pi, 50)
    circle = textbook(np.sin(angle), np.cos(angle))
    assert {row["textbook_v_mm"] for row in table_rows(picture(), circle)} == {None}


def test_csv_reads_back(tmp_path):
    save_table(tmp_path / "a.csv", picture(), TUBE, parabola())
    with (tmp_path / "a.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["u_mm"]) for row in rows] == [20, 30, 40, 50, 60, 70, 80, 90, 100]
    assert rows[-1]["textbook_v_mm"] == ""


def test_json_carries_all_that_made_the_picture(tmp_path):
    save_table(tmp_path / "a.json", picture(), TUBE, parabola())
    whole = json.loads((tmp_path / "a.json").read_text())
    assert whole["bench"] == {"name": TUBE.name, "invented": True}
    assert whole["model"] == "bench"
    assert whole["seed"] == 5
    assert whole["electrons"] == 2000
    assert whole["ends"] == {"screen": 1950, "upper plate": 50, "glass": 0}
    assert whole["settings"]["accelerating_voltage_v"] == 3000.0
    assert whole["settings"]["coil_current_a"] == 0.25
    assert whole["settings"]["coil_reversed"] is True
    assert whole["textbook"]["regime"] == "parabola"
    assert whole["textbook"]["radius_m"] == pytest.approx(0.18)
    assert whole["textbook"]["null_coil_current_a"] is None
    assert len(whole["trace"]) == 9


def test_numbers_that_do_not_exist_are_null():
    trace = SimpleNamespace(
        u=np.array([0.02]), v=np.array([np.nan]), width_v=np.array([np.inf]), weight=np.array([0.0])
    )
    whole = json.loads(record_json(picture(mean_trace=trace), TUBE))
    assert whole["trace"][0]["v_m"] is None
    assert whole["trace"][0]["width_m"] is None
    assert whole["textbook"] is None
