"""What kind of picture it is: one answer for maps, plans and readings.

A kind is found from where the electrons of a bundle ended and, on a sheet, from the course of the
line that they drew; on an end face from the size of the spot. Maps hand over a few electrons at
each of many settings, a plan many electrons at one: the rules are the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELECTRON_MASS, SPECIFIC_CHARGE
from glowtrace.demos.kinematics import momentum_from_voltage
from glowtrace.demos.lines import (
    FEW,
    SEEN,
    Lines,
    is_straight,
    is_turn,
    judged_end,
    picture_line,
    read_lines,
)

Array = NDArray[np.float64]
Codes = NDArray[np.int8]
Mask = NDArray[np.bool_]

FOCUSES: Final = (
    "focus after 1 turn",
    "focus after 2 turns",
    "focus after 3 turns",
    "focus after more turns",
)
KINDS: Final = (
    "no beam",
    "leaves the screen",
    "hits the glass",
    "hits the upper plate",
    "hits the lower plate",
    "returns to the anode",
    "keeps flying",
    "full line",
    "null",
    "turns back",
    "full circle",
    "spot on the screen",
    *FOCUSES,
)
"""Every kind of picture; a code is a place in this tuple."""
CODE: Final = {name: code for code, name in enumerate(KINDS)}

ASTRAY: Final = 0.05
"""Share of the beam that may end elsewhere without the picture being named after it."""
FOCUS: Final = 1.06
"""Largest size of a focus, two standard deviations, in heights of the aperture: an image of a
round aperture has 0.5."""

_END_OF: Final = {
    "upper plate": "hits the upper plate",
    "lower plate": "hits the lower plate",
    "anode": "returns to the anode",
    "still flying": "keeps flying",
}


@dataclass(frozen=True, eq=False)
class Classifier:
    """Tells the kinds of a bench's pictures."""

    prepared: PreparedBench
    model: Model = "bench"
    end: float | None = None
    """x in m up to which a line is judged; where plates and sheet end when left out."""

    @property
    def bench(self) -> Bench:
        """What stands on the table."""
        return self.prepared.bench

    def codes(self, knobs: Array, ends: NDArray[np.int64], places: Array) -> Codes:
        """Give the code (p,) of the kind of picture at each of p settings.

        Parameters
        ----------
        knobs
            (p, 3): accelerating voltage in V, 0 with a cold cathode, plate voltage in V and coil
            current in A, signed.
        ends
            (p, e): what each electron ended on, as places in `PreparedBench.end_names`.
        places
            (p, e, 2) m: u and v where it ended.
        """
        names = self.prepared.end_names
        counts = np.stack([(ends == code).sum(axis=1) for code in range(len(names))], axis=1)
        return self._codes(knobs, counts / ends.shape[1], places, ends == names.index("screen"))

    def of_picture(self, picture: Picture) -> str:
        """Give the kind of one picture; its landings must have been kept.

        In gas only a picture tells a null and a turn-back: a map knows the ends of flights alone.
        """
        names, settings = self.prepared.end_names, picture.settings
        total = max(1, sum(picture.ends.values()))
        shares = np.array([[picture.ends.get(name, 0) / total for name in names]])
        landed = np.ones((1, len(picture.landings)), dtype=np.bool_)
        knobs = _knobs_of(settings)
        found = self._codes(knobs, shares, picture.landings[None], landed)
        if picture.plane.glows and knobs[0, 0] > 0.0:
            lines = picture_line(self.bench, picture, self._end)
            if lines is not None:
                found = self._crossed(knobs, lines, found)
        return KINDS[found[0]]

    def _codes(self, knobs: Array, shares: Array, places: Array, landed: Mask) -> Codes:
        names, is_lit = self.prepared.end_names, knobs[:, 0] > 0.0
        in_gas = self.bench.plane.glows  # there the glass bounds the picture
        beside = "hits the glass" if in_gas else "leaves the screen"
        codes = np.array([CODE[_END_OF.get(name, beside)] for name in names])
        elsewhere = shares.copy()
        elsewhere[:, names.index("screen")] = 0.0
        found: Codes = codes[elsewhere.argmax(axis=1)].astype(np.int8)
        on_screen = shares[:, names.index("screen")]
        if in_gas:
            back = shares[:, names.index("anode")] + shares[:, names.index("still flying")]
            found[back >= 1 - ASTRAY] = CODE["full circle"]
        elif self.bench.plane.is_spot:
            shown = is_lit & (on_screen >= 1 - ASTRAY)
            found[shown] = self._spots(knobs[shown], places[shown], landed[shown])
        else:
            on_plates = np.zeros(len(knobs))
            for plate in ("upper plate", "lower plate"):
                if plate in names:
                    on_plates += shares[:, names.index(plate)]
            drawn = is_lit & (on_plates <= ASTRAY) & (landed.sum(axis=1) >= FEW)
            if drawn.any():
                lines = self._lines(knobs[drawn], places[drawn], landed[drawn], found[drawn])
                found[drawn] = lines
            on_plate = is_lit & (on_plates > ASTRAY)
            found[on_plate] = _plate_codes(names, shares[on_plate])
        found[~is_lit] = CODE["no beam"]
        return found

    def _lines(self, knobs: Array, places: Array, landed: Mask, missed: Codes) -> Codes:
        """Tell nulls, turn-backs and full lines from lines that end early."""
        plane = self.bench.plane
        lines = read_lines(self.bench, places, landed, self._end)
        found = np.where(missed == CODE["returns to the anode"], missed, CODE["leaves the screen"])
        room = plane.heights[1] - lines.width / 2  # nearer to the edge a line is partly beside it
        is_full = (lines.reach >= plane.x_to - lines.slack) & (lines.edge <= room)
        found[is_full] = CODE["full line"]
        named = self._crossed(knobs, lines, found.astype(np.int8))
        return np.where(np.abs(lines.depth) <= room, named, found).astype(np.int8)

    def _crossed(self, knobs: Array, lines: Lines, otherwise: Codes) -> Codes:
        """Tell nulls and turn-backs; all else stays what it is otherwise."""
        found = otherwise.copy()
        is_judged = (lines.reach >= self._end - lines.slack) & self.is_crossed(knobs, lines.width)
        found[is_judged & is_turn(lines)] = CODE["turns back"]
        found[is_judged & is_straight(lines)] = CODE["null"]
        return found

    @property
    def _end(self) -> float:
        return judged_end(self.bench) if self.end is None else self.end

    def is_crossed(self, knobs: Array, width: Array) -> Mask:
        """Tell where plates and coils act, each strong enough for its own bend to be seen (p,).

        By the textbook's bends at the end of what is judged: this only keeps weak fields from
        being called a null. ``width`` of the line (p,) in m.
        """
        plates = self.bench.plates
        if plates is None or self.bench.coils is None:
            return np.zeros(len(knobs), dtype=np.bool_)
        end = self._end
        voltage = np.maximum(knobs[:, 0], 1e-9)
        inside = max(0.0, end - max(plates.start, 0.0))
        electric = np.abs(knobs[:, 1]) * inside**2 / (4 * voltage * plates.gap)
        flux = np.abs(knobs[:, 2]) * abs(flux_density_per_ampere(self.bench)[2])
        magnetic = flux * SPECIFIC_CHARGE * end**2 / (2 * _momentum(voltage))
        seen: Mask = np.minimum(electric, magnetic) > SEEN * width
        return seen

    def _spots(self, knobs: Array, places: Array, landed: Mask) -> Codes:
        """Tell a focus, with the turns before it, from any other spot."""
        order = np.rint(self.turns(knobs)).astype(np.int64)
        is_focus = spot_sizes(places, landed) <= FOCUS * self.bench.gun.aperture_height
        focus = CODE[FOCUSES[0]] + np.clip(order, 1, len(FOCUSES)) - 1
        spot = CODE["spot on the screen"]
        return np.where(is_focus & (order >= 1), focus, spot).astype(np.int8)

    def turns_at(self, settings: Settings) -> float:
        """Give the turns of the helices from the aperture to the face; NaN without a beam."""
        knobs = _knobs_of(settings)
        return float(self.turns(knobs)[0]) if knobs[0, 0] > 0.0 else math.nan

    def turns(self, knobs: Array) -> Array:
        """Give the turns (p,) of the helices from the aperture to the face, by the axis's B_x."""
        turns: Array = np.abs(knobs[:, 2]) * self._turns_per_ampere / _momentum(knobs[:, 0])
        return turns

    @cached_property
    def _turns_per_ampere(self) -> float:
        """Turns per ampere at a momentum of 1 m/s."""
        face = self.bench.plane.x_to
        if self.model == "ideal":
            through = flux_density_per_ampere(self.bench)[0] * face
        else:
            x = np.linspace(0.0, face, 200)[:-1]
            points = np.stack([x, np.zeros_like(x), np.zeros_like(x)], axis=1)
            on, off = (
                self.prepared.fields_on(
                    points, Settings(accelerating_voltage=1.0, coil_current=current)
                )[1][:, 0]
                for current in (1.0, 0.0)
            )
            through = float(np.trapezoid(on - off, x))
        return SPECIFIC_CHARGE * abs(through) / (2 * math.pi)


def spot_sizes(places: Array, landed: Mask) -> Array:
    """Give the diameters (p,) in m of spots: two standard deviations, as those of lines.

    Of both directions the root mean square is taken, as in `MeanTrace`.
    """
    weight = landed[:, :, None] / np.maximum(landed.sum(axis=1), 1)[:, None, None]
    middle = (weight * places).sum(axis=1, keepdims=True)
    squares: Array = (weight * (places - middle) ** 2).sum(axis=(1, 2))
    return 2.0 * np.sqrt(squares / 2.0)


def _plate_codes(names: tuple[str, ...], shares: Array) -> Codes:
    upper, lower = (shares[:, names.index(plate)] for plate in ("upper plate", "lower plate"))
    which = np.where(upper >= lower, CODE["hits the upper plate"], CODE["hits the lower plate"])
    return which.astype(np.int8)


def _knobs_of(settings: Settings) -> Array:
    voltage = settings.accelerating_voltage if settings.heater_on else 0.0
    return np.array([[voltage, settings.signed_plate_voltage, settings.signed_coil_current]])


def _momentum(voltage: Array) -> Array:
    """Give gamma v (p,) in m/s of electrons of this voltage (p,), more than 0 V."""
    momentum: Array = momentum_from_voltage(np.maximum(voltage, 1e-9)) / ELECTRON_MASS
    return momentum
