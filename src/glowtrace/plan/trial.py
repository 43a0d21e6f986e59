"""A first trial of the beam: low voltage, one knob turned until the beam visibly moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from glowtrace.bench.electron import drawing
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.plan.leads import Lead
from glowtrace.units import format_quantity

_CLEAR_OF_END: Final = 0.9
"""Where the beam is looked at, as a share of the way to where it ends undeflected."""
_ELECTRONS: Final = 400
_HALVINGS: Final = 5
_LEAST_SEEN: Final = 0.5e-3
"""Movement in m that an eye tells from none on the sharpest trace."""
_WIDTHS: Final = 2.0
"""Movement that a check asks for, in widths of the trace, at least."""


@dataclass(frozen=True)
class Trial:
    """What the predictions are made with.

    `low` is where switching on begins: a low accelerating voltage, everything else at zero. At
    `x` in m the beam is looked at.
    """

    prepared: PreparedBench
    low: Settings
    x: float
    leads: tuple[Lead, ...]
    planned: Settings
    """What is set in the end: no check turns a knob further, unless it is to stay at zero."""
    width: float
    """Of the trace where it is looked at, or of the spot, m, two standard deviations."""

    @property
    def bench(self) -> Bench:
        """What stands on the table."""
        return self.prepared.bench

    @property
    def place(self) -> str:
        """In words, where the beam is looked at."""
        return "on the end face" if self._is_face else f"at {place_words(self.bench, self.x)}"

    @property
    def _is_face(self) -> bool:
        return self.bench.plane.is_spot

    def position(self, settings: Settings) -> tuple[float, float] | None:
        """Where the middle of the line (up, towards the audience) is, m."""
        path = self.prepared.fly(settings, drawing(self.bench, self.x))
        at = path.place_of(self.x)
        if at is None:
            return None
        _, up, near = path.point(at).tolist()
        return up, near

    def shift(self, settings: Settings) -> tuple[float, float] | None:
        """Move of the beam's middle against that at `low`, m."""
        old, new = self.position(self.low), self.position(settings)
        return None if old is None or new is None else (new[0] - old[0], new[1] - old[1])

    def spot_width(self, settings: Settings) -> float:
        """Width of the spot on an end face in m, two standard deviations of its height."""
        trace = self.prepared.picture(settings, electrons=_ELECTRONS).mean_trace
        return 2.0 * float(trace.width_v[0]) if len(trace.width_v) else 0.0

    @property
    def least_seen(self) -> float:
        """The smallest movement in m that is told: more than the trace is wide."""
        return max(_LEAST_SEEN, self.width)

    def turned_up(self, knob: str, most: float) -> Settings:
        """Turn one knob until the beam moves visibly, in proportion from a small move.

        It goes no further than ``most``, nor than what is planned.
        """
        planned = float(getattr(self.planned, knob))
        most = min(most, planned) if planned > 0 else most
        little = most / 25
        moved = self.shift(self.low.model_copy(update={knob: little}))
        size = 0.0 if moved is None else max(map(abs, moved))
        wanted = max(_visible_shift(self.bench), _WIDTHS * self.width)
        value = most if size * 25 < wanted else little * wanted / size
        tried = self.low.model_copy(update={knob: min(rounded(value), most)})
        for _ in range(_HALVINGS):
            if self.shift(tried) is not None:
                break
            # Bent so far it ends before the place where it is looked at.
            value /= 2
            tried = self.low.model_copy(update={knob: min(rounded(value), most)})
        return tried


def begin_trial(prepared: PreparedBench, settings: Settings, leads: tuple[Lead, ...]) -> Trial:
    """Choose the low accelerating voltage to begin with, and where the beam is looked at."""
    bench = prepared.bench
    knob = knob_ranges(bench)["accelerating_voltage"]
    voltage = min(rounded(max(1.5 * knob.low, 0.2 * knob.high)), settings.accelerating_voltage)
    nothing = {"accelerating_voltage": voltage, "plate_voltage": 0.0, "coil_current": 0.0}
    low = settings.model_copy(update={**nothing, "heater_on": True})
    trace = prepared.picture(low, electrons=_ELECTRONS).mean_trace
    if bench.plane.is_spot:
        width = 2.0 * float(trace.width_v[0]) if len(trace.width_v) else 0.0
        return Trial(prepared, low, bench.plane.x_to, leads, settings, width)
    # The middle of a flat beam ends where it meets the sheet, well before the sheet's far edge.
    end = float(prepared.central_ray(low).position[-1, 0])
    seen = on_grid(bench, _CLEAR_OF_END * min(end, bench.plane.x_to))
    found = trace.at(seen)
    return Trial(prepared, low, seen, leads, settings, 0.0 if found is None else 2.0 * found[1])


def on_grid(bench: Bench, x: float) -> float:
    """Give the last upright line of the screen's grid before a place, x in m; else the place."""
    pitch = bench.screen.grid_pitch
    line = int(x / pitch + 1e-6) * pitch
    return line if line > bench.plane.shown_x[0] else rounded(x)


def place_words(bench: Bench, x: float) -> str:
    """Say where a place along the beam is on the screen, counted in lines of its grid.

    The first line that the screen shows after the gun counts as the first.
    """
    words = f"x = {millimetres(x)}"
    if not bench.plane.is_line:
        return words
    pitch = bench.screen.grid_pitch
    first = int(-(-bench.plane.shown_x[0] // pitch))
    count = round(x / pitch)
    if abs(count * pitch - x) > 0.1 * pitch or count < first:
        return words
    return f"{words} (upright line {count - first + 1} from the gun)"


def height_words(bench: Bench, y: float) -> str:
    """Say a height above or below the axis, y in m, also in squares of the screen's grid."""
    squares = f"{abs(y) / bench.screen.grid_pitch:.2g} squares"
    return f"{millimetres(abs(y))} {'above' if y > 0 else 'below'} the axis ({squares})"


def _visible_shift(bench: Bench) -> float:
    """A shift in m that is easily seen: 15 % of the way to the screen's edge."""
    low, high = bench.plane.heights
    return 0.15 * (high - low) / 2


def millimetres(length: float) -> str:
    """Write a length as it is read off a screen."""
    return format_quantity(length, "mm", 2)


def rounded(value: float) -> float:
    """Two significant figures, as a knob is set."""
    return float(f"{value:.1e}")
