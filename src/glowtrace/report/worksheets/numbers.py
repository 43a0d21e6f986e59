"""The numbers of one learner: different for each, the same for the same seed, within the ratings.

Numbers are drawn until the textbook's picture is one that can be seen and measured: a line that
neither hugs the axis nor hits a plate, a circle that fits the glass, a turn-back between the
plates. Only `random.Random.random` is used, which Python keeps the same from version to version.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from typing import Final, TypeVar

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench, CoilPair, LongCoil, Plates
from glowtrace.bench.ratings import knob_ranges
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.report.worksheets import school

Drawn = TypeVar("Drawn")
_TRIES: Final = 400
_FIGURES: Final = 2  # of a knob
_LOWEST, _HIGHEST = 0.3, 1.0  # shares of the gun's range
_GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True)
class Deflection:
    """Voltages for a line that is lifted, and whether the upper plate is the negative one."""

    accelerating: float
    plate: float
    is_reversed: bool
    x: float
    """m: where its height is asked for, measured along the beam from the aperture."""
    has_null: bool
    """Whether the coils can take it back, by the textbook and within their rating."""


@dataclass(frozen=True)
class Circle:
    """Accelerating voltage and coil current for an arc or a circle."""

    accelerating: float
    current: float
    is_reversed: bool


@dataclass(frozen=True)
class TurnBack:
    """Settings for a dip between the plates that turns back."""

    accelerating: float
    plate: float
    current: float


@dataclass(frozen=True)
class Numbers:
    """All numbers of one learner; None for what a bench cannot show."""

    accelerating: float
    """V."""
    deflection: Deflection | None
    circle: Circle | None
    turn_back: TurnBack | None
    ratio: int
    """A small whole number for questions on proportion."""


def draw_numbers(bench: Bench, seed: int, learner: int) -> Numbers:
    """Draw the numbers of a learner.

    Parameters
    ----------
    bench
        Whose ratings hold.
    seed
        Of the class.
    learner
        From 1.
    """
    random = Random(f"{seed} {learner}")
    draw = _Draw(bench, random)
    return Numbers(
        accelerating=draw.apart(seed, learner),
        deflection=_first(draw.deflection_with_null) or _first(draw.deflection),
        circle=_first(draw.circle),
        turn_back=_first(draw.turn_back),
        ratio=2 + int(2 * random.random()),
    )


def far_x(bench: Bench) -> float:
    """Give the farthest x in m, in steps of a centimetre, at which a height is asked for."""
    plane, plates = bench.plane, bench.plates
    if plane.is_line or plates is None:
        return math.floor(100 * plane.x_to * 0.99) / 100
    return math.floor(100 * min(plane.x_to, plates.start + plates.length)) / 100


def _first(draw: Callable[[], Drawn | None]) -> Drawn | None:
    """Draw until something sensible comes; None where nothing does."""
    return next((drawn for drawn in (draw() for _ in range(_TRIES)) if drawn is not None), None)


class _Draw:
    """One try after the other."""

    def __init__(self, bench: Bench, random: Random) -> None:
        self._bench, self._random = bench, random
        self._ranges = knob_ranges(bench)
        self._per_ampere = math.hypot(*flux_density_per_ampere(bench))

    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self._random.random()

    def apart(self, seed: int, learner: int) -> float:
        """Give an accelerating voltage, to two figures, that learners beside each other differ in.

        Steps of the golden ratio round the range never come close to the last ones.
        """
        bottom, top, _ = self._ranges["accelerating_voltage"]
        begin = Random(f"{seed}").random()
        share = _LOWEST + (_HIGHEST - _LOWEST) * ((begin + _GOLDEN * learner) % 1.0)
        return _rounded(bottom + (top - bottom) * share)

    def accelerating(self, low: float, high: float) -> float:
        """Draw a voltage between two shares of the gun's range, to two figures."""
        bottom, top, _ = self._ranges["accelerating_voltage"]
        return _rounded(bottom + (top - bottom) * self.between(low, high))

    def deflection_with_null(self) -> Deflection | None:
        drawn = self.deflection()
        return drawn if drawn is not None and drawn.has_null else None

    def deflection(self) -> Deflection | None:
        bench, plates = self._bench, self._bench.plates
        if plates is None:
            return None
        accelerating, target = self.accelerating(0.2, 0.9), self.between(0.25, 0.62)
        is_reversed, x = self._random.random() < 0.5, far_x(bench)
        lift = school.height(x - plates.start, plates.length, plates.gap, 1.0, accelerating)
        plate = _rounded(target * _reach(bench, plates) / lift)
        if not self._gives(plate, accelerating):
            return None
        null = school.null_flux_density(accelerating, school.plate_field(plate, plates.gap))
        has_null = isinstance(bench.coils, CoilPair) and self._carries(null)
        return Deflection(accelerating, plate, is_reversed, x, has_null)

    def circle(self) -> Circle | None:
        bench = self._bench
        accelerating, is_reversed = self.accelerating(0.2, 0.95), self._random.random() < 0.5
        if isinstance(bench.coils, LongCoil) and bench.plane.is_spot:
            flux = school.focus_flux_density(accelerating, bench.plane.x_to)
            current = self._current(flux)
        elif isinstance(bench.coils, CoilPair) and self._per_ampere > 0.0:
            current = self._current(self._pair_flux(accelerating))
            is_reversed = is_reversed and bench.plane.is_line
        else:
            return None
        if current is None:
            return None
        return Circle(accelerating, current, is_reversed)

    def _pair_flux(self, accelerating: float) -> float:
        """Draw a flux density for a circle that fits the glass, or an arc that fits the sheet."""
        bench, one_tesla = self._bench, school.radius(accelerating, 1.0)
        plane = bench.plane
        if plane.glows:
            room = min(plane.heights[1], plane.x_to, -plane.x_from)
            return one_tesla / (self.between(0.35, 0.65) * room)
        x = far_x(bench)
        height = self.between(0.25, 0.65) * plane.heights[1]
        return one_tesla / ((x**2 + height**2) / (2 * height))

    def turn_back(self) -> TurnBack | None:
        bench, plates = self._bench, self._bench.plates
        if plates is None or not isinstance(bench.coils, CoilPair) or not self._per_ampere:
            return None
        accelerating, ratio = self.accelerating(0.0, 0.5), self.between(0.54, 0.78)
        depth = self.between(0.4, 0.7) * _reach(bench, plates)
        entry = school.speed(accelerating)
        current = self._current(2 * entry * (1 - ratio) / (SPECIFIC_CHARGE * depth))
        if current is None:
            return None
        flux = current * self._per_ampere
        plate = _rounded(ratio * entry * flux * plates.gap)
        drift = school.plate_field(plate, plates.gap) / flux
        turns = 0.55 * school.pitch(drift, flux) < plates.length
        fits = 0.35 < school.depth(entry, drift, flux) / _reach(bench, plates) < 0.75
        if not (self._gives(plate, accelerating) and turns and fits):
            return None
        return TurnBack(accelerating, plate, current)

    def _gives(self, plate: float, accelerating: float) -> bool:
        """Say whether plates may have this voltage; without a supply they share the other's."""
        supply, rated = self._bench.supplies.plates, self._ranges["plate_voltage"].high
        if supply is None:
            return 0.0 < plate <= min(rated, accelerating)
        return max(supply.min_voltage, 1e-9) <= plate <= rated

    def _current(self, flux: float) -> float | None:
        """Give the coil current for a flux density, to two figures; None beyond the rating."""
        return _rounded(flux / self._per_ampere) if self._carries(flux) else None

    def _carries(self, flux: float) -> bool:
        high = self._ranges["coil_current"].high
        return self._per_ampere > 0 and 0.02 * high < flux / self._per_ampere < 0.98 * high


def _reach(bench: Bench, plates: Plates) -> float:
    """Give how far up a line may go, m."""
    return min(plates.gap / 2, bench.plane.heights[1])


def _rounded(value: float) -> float:
    return float(f"{value:.{_FIGURES - 1}e}")
