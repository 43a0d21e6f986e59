"""What the two deflections have in common: a height at an x, and a check of the trace there."""

from __future__ import annotations

import math
from abc import ABC
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import Shows
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import ASTRAY, Classifier
from glowtrace.demos.goals import trace
from glowtrace.demos.goals.goal import (
    ELECTRONS,
    Check,
    Figure,
    Goal,
    Measure,
    array,
    require,
    rounded,
)
from glowtrace.demos.kinematics import FloatArray
from glowtrace.units import format_quantity

_SHARE_OF_ROOM = 0.6


@dataclass(frozen=True)
class Deflection(Goal, ABC):
    """The trace at a height, by one kind of field."""

    x: float
    """Where along the beam the height is read, m."""
    height: float
    """Wanted height of the trace's middle there, m; negative is down."""
    tolerance: float = 0.001
    """Distance in m from the wanted height that still counts."""

    views: ClassVar[tuple[Shows, ...]] = ("line", "spot", "path")
    measures: ClassVar[tuple[Measure, ...]] = (Measure("height", "m"),)
    units: ClassVar[Mapping[str, str]] = {"x": "m", "height": "m", "tolerance": "m"}

    def __post_init__(self) -> None:
        require("x", self.x, "m", 0.0, "give more than 0 m")
        require("tolerance", self.tolerance, "m", 0.0, "give more than 0 m")
        require("height", abs(self.height), "m", 0.0, "give a height that is not 0 m")

    @classmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Give most of the height that there is, near the far end of the trace.

        In gas, which has room for whole circles, four tenths of it.
        """
        screen = bench.screen
        low, high = bench.plane.shown_x
        x = high if bench.plane.is_spot else low + 0.85 * (high - low)
        on_line = int(x / screen.grid_pitch) * screen.grid_pitch
        share = 0.4 if bench.plane.glows else _SHARE_OF_ROOM
        return cls(
            x=on_line if on_line > low else rounded(x, 0.001),
            height=rounded(share * trace.room(bench), 0.001),
            tolerance=rounded(0.1 * screen.grid_pitch, 0.0005),
        )

    def misfit(self, bench: Bench) -> str | None:
        """Say that the screen does not show the place, if so."""
        low, high = bench.plane.shown_x
        if not low - 1e-9 <= self.x <= high + 1e-9:
            where = (
                f"at x = {format_quantity(high, 'm')} only"
                if low == high
                else f"x from {format_quantity(low, 'm')} to {format_quantity(high, 'm')}"
            )
            return f"the screen shows the beam {where}, not at {format_quantity(self.x, 'm')}"
        bottom, top = bench.plane.heights
        if not bottom <= self.height <= top:
            return (
                f"the screen reaches from {format_quantity(bottom, 'm')} to "
                f"{format_quantity(top, 'm')} in height, not to {format_quantity(self.height, 'm')}"
            )
        return None

    def easier(self, share: float) -> Self:
        """Give a smaller deflection."""
        return replace(self, height=share * self.height)

    def aims(self) -> FloatArray:
        """Give the wanted height."""
        return array(self.height)

    def scales(self) -> FloatArray:
        """Give the tolerance."""
        return array(self.tolerance)

    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the line's height at x in m, as if nothing stood in its way."""
        return array(prepared.line_height(settings, self.x, model=model, through="walls"))

    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = ELECTRONS,
    ) -> Check:
        """Check the height of the line, and that the beam gets there."""
        picture = prepared.picture(settings, electrons=electrons, model=model)
        width = trace.width(prepared.bench, picture, self.x)
        is_lit = not math.isnan(width)
        height = prepared.line_height(settings, self.x, model=model) if is_lit else math.nan
        low, high = self.height - self.tolerance, self.height + self.tolerance
        figures = [Figure("height", height, "m", low, high), Figure("trace width", width, "m")]
        if prepared.bench.plates is not None:
            on_plates = trace.share(picture, "upper plate", "lower plate")
            figures.append(Figure("share on the plates", on_plates, "1", high=ASTRAY))
        kind = Classifier(prepared, model).of_picture(picture)
        return Check(tuple(figures), (height,), kind)
