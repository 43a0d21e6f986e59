"""Which uncertain inputs make the verdict uncertain, the gravest first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import middle_density, needed_by_eye
from glowtrace.light.glow import Glow
from glowtrace.light.luminance import backgrounds, trace_luminance
from glowtrace.light.scene import Scene
from glowtrace.light.trust import TRUSTS, Draws, Trust, factor_of

_COUNT = 1001
_NOTICEABLE = 1.05


@dataclass(frozen=True)
class Doubt:
    """An input, and the factor that it alone puts on the margin of the eye."""

    trust: Trust
    factor: float


def doubts(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> tuple[Doubt, ...]:
    """Give the inputs that change the eye's margin noticeably, the gravest first."""
    found = []
    for key, trust in TRUSTS.items():
        draws = Draws(_COUNT, frozenset({key}))
        trace = trace_luminance(bench, scene, glow, middle_density(glow), draws)
        behind = backgrounds(bench, settings, scene, glow, draws)
        margins = trace / needed_by_eye(scene, glow, behind, draws)
        factor = factor_of(margins)
        if factor >= _NOTICEABLE and np.ptp(margins) > 0.0:
            found.append(Doubt(trust, factor))
    return tuple(sorted(found, key=lambda doubt: -doubt.factor))
