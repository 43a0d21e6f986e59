"""What the clips show: measured in their frames, against closed forms worked out here."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import constants

from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, RatingError
from glowtrace.report.clips.board import LETTERS, Board
from glowtrace.report.clips.clip import Clip, ClipForm
from glowtrace.report.clips.drift import drift_clip
from glowtrace.report.clips.facts import steady_words
from glowtrace.report.clips.flight import flight_clip
from glowtrace.report.clips.light import shown_extent
from glowtrace.report.clips.slate import Slate
from glowtrace.report.clips.sweep import Turned, sweep_clip
from glowtrace.report.look import DARK

FORM = ClipForm(seconds=1.0, rate=10, size="480p", model="ideal")
E_OVER_M = constants.e / constants.m_e


def test_the_smallest_letters_are_a_25th_of_the_frame():
    # From the top of an H to the foot of a g, as drawn; the share is the project's own choice.
    frame = Slate(200, 720)
    frame.text(20, 360, "Hg", LETTERS, "#ffffff")
    rows = np.flatnonzero(frame.pixels()[..., 3].any(axis=1))
    assert np.ptp(rows) + 1 >= 720 / 25


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(ready_made("deflection tube"))


def screen_of(prepared: PreparedBench, names: tuple[str, ...] = (), extents: int = 1) -> Board:
    extent = shown_extent(prepared)
    return Board(prepared.bench, FORM.pixels, (extent,) * extents, "", DARK, names)


def glow_height(frame: NDArray[np.uint8], prepared: PreparedBench, x: float) -> float:
    """Height in m of the middle of what glows green near x (m)."""
    screen = screen_of(prepared).screens[0]
    column = round(screen.left + screen.scale * (x / _slant(prepared) - screen.extent[0]))
    part = frame[screen.top : screen.top + screen.height, column - 2 : column + 3].astype(float)
    light = np.clip(part[..., 1] - part[..., 0] - 25, 0, None).sum(axis=1)
    assert light.sum() > 0
    row = (light * (np.arange(len(light)) + 0.5)).sum() / light.sum()
    return screen.extent[3] - row / screen.scale


def _slant(prepared: PreparedBench) -> float:
    return math.cos(prepared.bench.screen.angle)  # type: ignore[union-attr]


def white_dot(frame: NDArray[np.uint8], left: int, right: int) -> tuple[float, float]:
    """Middle (column, row) of what is purely white between two columns: the electron."""
    rows, columns = np.nonzero((frame[100:400, left:right, :3] > 250).all(axis=2))
    assert len(rows) > 10
    return float(columns.mean()) + left + 0.5, float(rows.mean()) + 100.5


@pytest.mark.parametrize("number", [0, 4, 9])
def test_the_line_of_a_sweep_is_where_the_parabola_says(tube: PreparedBench, number: int) -> None:
    """Parabola and tangent of the textbook with relativity, as in any text on electron optics."""
    settings = Settings(accelerating_voltage=3000.0)
    clip = sweep_clip(tube, settings, "plate_voltage", -1200.0, 1500.0, form=FORM,
                      with_textbook=False)  # fmt: skip
    plates = tube.bench.plates
    assert plates is not None
    voltage = -1200.0 + number / 9 * 2700.0
    gamma = 1 + constants.e * 3000.0 / (constants.m_e * constants.c**2)
    momentum_times_speed = constants.m_e * constants.c**2 * (gamma - 1 / gamma)
    bend = constants.e * voltage / plates.gap / momentum_times_speed
    x = 0.095
    flown, beyond = plates.length, x - plates.start - plates.length
    expected = bend * flown**2 / 2 + bend * flown * beyond
    assert glow_height(clip.frame(number), tube, x) == pytest.approx(expected, abs=0.5e-3)


def test_there_and_back_ends_where_it_began(tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0)
    clip = sweep_clip(tube, settings, "plate_voltage", 0.0, 1500.0, form=FORM,
                      is_there_and_back=True)  # fmt: skip
    assert np.array_equal(clip.frame(0), clip.frame(clip.count - 1))
    assert not np.array_equal(clip.frame(0), clip.frame(clip.count // 2))


@pytest.mark.parametrize(
    ("kind", "settings"),
    [
        (flight_clip, Settings(accelerating_voltage=2000.0, plate_voltage=1500.0)),
        (drift_clip, Settings(accelerating_voltage=1000.0, plate_voltage=2500.0,
                              coil_current=1.2, coil_reversed=True)),
    ],
)  # fmt: skip
def test_a_frame_is_the_same_whenever_it_is_asked_for(
    tube: PreparedBench, kind, settings: Settings
) -> None:
    clip: Clip = kind(tube, settings, form=FORM)
    first = clip.frame(5).copy()
    clip.frame(9)
    assert np.array_equal(first, clip.frame(5))
    assert (clip.count, clip.rate, clip.size) == (10, 10, (854, 480))
    assert first.shape == (480, 854, 4)


SEEN_FROM = 6.0
"""Heights of the picture from which a last row looks at it; common practice, no source."""
LEAST_MINUTES = 16.0
"""Of arc, of a capital letter that is read with ease: from memory of ISO 9241-303."""
CAPITAL = 0.729
"""Height of a capital of DejaVu Sans as a part of its size, from the font's own table."""


@pytest.mark.parametrize("size", ["480p", "720p", "1080p"])
def test_every_word_of_a_clip_can_be_read_from_the_last_row(
    tube: PreparedBench, monkeypatch: pytest.MonkeyPatch, size: str
) -> None:
    written: dict[str, float] = {}
    write = Slate.text

    def note(slate: Slate, x: float, y: float, text: str, size: float, *more, **named) -> None:
        written[text] = size / slate.height
        wide = slate.text_width(text, size)
        ends = {"left": (x, x + wide), "middle": (x - wide / 2, x + wide / 2),
                "right": (x - wide, x)}[named.get("side", "left")]  # fmt: skip
        assert ends[0] >= 0.0, text
        assert ends[1] <= slate.width, text
        write(slate, x, y, text, size, *more, **named)

    monkeypatch.setattr(Slate, "text", note)
    form = ClipForm(1.0, 10, size, "bench")  # type: ignore[arg-type]
    crossed = Settings(accelerating_voltage=1000.0, plate_voltage=2500.0,
                       coil_current=1.2, coil_reversed=True)  # fmt: skip
    flight_clip(tube, crossed, form=form).frame(5)
    drift_clip(tube, crossed, form=form).frame(5)
    sweep_clip(tube, crossed, "plate_voltage", 0.0, 2500.0, form=form).frame(5)
    assert "electric force" in written
    assert "mm" in written
    for text, share in written.items():
        minutes = 60.0 * math.degrees(math.atan(CAPITAL * share / SEEN_FROM))
        assert minutes >= LEAST_MINUTES, text


def test_the_electron_of_a_flight_is_where_time_says(tube: PreparedBench) -> None:
    """Between the frames it moves along x with the constant speed of the ideal model."""
    settings = Settings(accelerating_voltage=2000.0, plate_voltage=800.0)
    clip = flight_clip(tube, settings, form=ClipForm(2.0, 20, "480p", "ideal"))
    screen = screen_of(tube).screens[0]
    places = [white_dot(clip.frame(n), screen.left, 854)[0] for n in (8, 16, 24)]
    assert places[1] - places[0] == pytest.approx(places[2] - places[1], abs=1.0)
    told = [caption.text for caption in clip.captions]
    assert "electric force" in told[0]
    force = constants.e * 800.0 / 0.049
    assert f"electric force {1e15 * force:.2f} fN up" in told[0]


def test_two_observers_see_a_trochoid_and_a_circle(tube: PreparedBench) -> None:
    """In the drift frame of uniform fields the electron keeps its distance from one point."""
    settings = Settings(accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.2,
                        coil_reversed=True)  # fmt: skip
    clip = drift_clip(tube, settings, form=ClipForm(3.0, 20, "480p", "ideal"))
    middle = 854 // 2 + 20
    seen = np.array([white_dot(clip.frame(n), middle, 854) for n in range(14, 40, 3)])
    terms = np.column_stack([2 * seen, np.ones(len(seen))])
    (a, b, c), *_ = np.linalg.lstsq(terms, (seen**2).sum(axis=1), rcond=None)
    radius = math.sqrt(c + a**2 + b**2)
    away = np.hypot(seen[:, 0] - a, seen[:, 1] - b)
    assert away == pytest.approx(np.full(len(seen), radius), abs=1.0)
    # The textbook's circle: r = m v' / (e B), with the velocity v' seen from u = E/B. The coils
    # have turned the beam by the angle phi already where the plates begin.
    coils, plates = tube.bench.coils, tube.bench.plates
    assert coils is not None
    assert plates is not None
    flux = 0.8**1.5 * constants.mu_0 * coils.turns * 1.2 / coils.mean_radius
    speed = math.sqrt(2 * E_OVER_M * 1000.0)
    sine = plates.start * E_OVER_M * flux / speed
    drift = 2500.0 / plates.gap / flux
    seen_speed = math.hypot(speed * math.sqrt(1 - sine**2) - drift, speed * sine)
    expected = seen_speed / (E_OVER_M * flux)
    screens = screen_of(tube, ("a", "b"), extents=2).screens
    assert radius / screens[1].scale == pytest.approx(expected, rel=0.02)


def test_below_zero_the_reversing_switch_is_thrown(tube: PreparedBench) -> None:
    turned = Turned(tube.bench, Settings(accelerating_voltage=3000.0), "coil_current", -0.1, 0.3)
    begin, end = turned.at(0.0), turned.at(1.0)
    assert (begin.coil_current, begin.coil_reversed) == (pytest.approx(0.1), True)
    assert (end.coil_current, end.coil_reversed) == (pytest.approx(0.3), False)


def test_above_zero_the_switches_stay(tube: PreparedBench) -> None:
    settings = Settings(accelerating_voltage=3000.0, plate_reversed=True)
    turned = Turned(tube.bench, settings, "plate_voltage", 0.0, 900.0)
    assert turned.at(0.5) == settings.model_copy(update={"plate_voltage": 450.0})


def test_a_sweep_beyond_a_rating_is_refused(tube: PreparedBench) -> None:
    with pytest.raises(RatingError, match=r"the plates are rated 4\.8 kV"):
        sweep_clip(tube, Settings(accelerating_voltage=3000.0), "plate_voltage", 0.0, 6000.0)


def test_a_knob_that_is_not_there_is_refused() -> None:
    bulb = prepare(ready_made("fine-beam bulb"))
    with pytest.raises(GlowtraceError, match="choose accelerating_voltage, coil_current"):
        sweep_clip(bulb, Settings(accelerating_voltage=200.0), "plate_voltage", 0.0, 60.0)


def test_a_knob_that_is_not_turned_is_refused(tube: PreparedBench) -> None:
    with pytest.raises(GlowtraceError, match="give two different values"):
        sweep_clip(tube, Settings(accelerating_voltage=3000.0), "coil_current", 0.2, 0.2)


@pytest.mark.parametrize(
    ("settings", "why"),
    [
        (Settings(accelerating_voltage=3000.0, plate_voltage=500.0), "Without a magnetic field"),
        (Settings(accelerating_voltage=3000.0, coil_current=0.2), "without a plate voltage"),
        (Settings(accelerating_voltage=3000.0, heater_on=False), "No electron leaves the gun"),
    ],
)
def test_without_a_drift_frame_there_is_no_clip_of_it(
    tube: PreparedBench, settings: Settings, why: str
) -> None:
    with pytest.raises(GlowtraceError, match=why):
        drift_clip(tube, settings)


def test_a_cold_cathode_gives_no_flight(tube: PreparedBench) -> None:
    with pytest.raises(GlowtraceError, match="switch the heater on"):
        flight_clip(tube, Settings(accelerating_voltage=3000.0, heater_on=False))


@pytest.mark.parametrize(
    ("value", "largest", "unit", "text"),
    [
        (0.0, 5000.0, "V", "0.00 kV"),
        (4999.0, 5000.0, "V", "5.00 kV"),
        (0.0421, 0.25, "A", "42 mA"),
        (1.239, 2.0, "A", "1.24 A"),
    ],
)
def test_numbers_keep_unit_and_decimals(value: float, largest: float, unit: str, text: str) -> None:
    assert steady_words(value, largest, unit) == text
