"""Glowtrace: electron-beam demonstrations, computed from the real geometry of your bench.

A bench plus settings gives a picture::

    import glowtrace

    tube = glowtrace.prepare(glowtrace.ready_made("deflection tube"))
    picture = tube.picture(glowtrace.Settings(accelerating_voltage=3000.0, coil_current=0.14))

Names and packages (``glowtrace.report``) are imported when they are first used, so that
``import glowtrace`` is quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from glowtrace.bench.files import load_bench, load_settings, save_bench, save_settings
    from glowtrace.bench.knowledge import Knowledge, knowledge_of
    from glowtrace.bench.learning import learn
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import MeanTrace, Picture, Ray
    from glowtrace.bench.prediction import predict
    from glowtrace.bench.prepared import PreparedBench, prepare
    from glowtrace.bench.ready_made import ready_made, ready_made_names
    from glowtrace.bench.settings import Settings
    from glowtrace.demos.textbook import Textbook, textbook_trace
    from glowtrace.errors import GlowtraceError, GlowtraceWarning
    from glowtrace.measure.specific_charge import fit_specific_charge
    from glowtrace.plan.outcomes import outcome_map
    from glowtrace.plan.solver import plan_goal
    from glowtrace.plan.wiring import wire
    from glowtrace.report.run_sheets.run_sheet import run_sheet
    from glowtrace.safety.review import check_safety
    from glowtrace.sweeps.sweeping import sweep
    from glowtrace.version import __version__

__all__ = [
    "Bench",
    "GlowtraceError",
    "GlowtraceWarning",
    "Knowledge",
    "MeanTrace",
    "Picture",
    "PreparedBench",
    "Ray",
    "Settings",
    "Textbook",
    "__version__",
    "check_safety",
    "fit_specific_charge",
    "knowledge_of",
    "learn",
    "load_bench",
    "load_settings",
    "outcome_map",
    "plan_goal",
    "predict",
    "prepare",
    "ready_made",
    "ready_made_names",
    "run_sheet",
    "save_bench",
    "save_settings",
    "sweep",
    "textbook_trace",
    "wire",
]

_HOMES = {
    "bench.files": ("load_bench", "load_settings", "save_bench", "save_settings"),
    "bench.knowledge": ("Knowledge", "knowledge_of"),
    "bench.learning": ("learn",),
    "bench.model": ("Bench",),
    "bench.picture": ("MeanTrace", "Picture", "Ray"),
    "bench.prediction": ("predict",),
    "bench.prepared": ("PreparedBench", "prepare"),
    "bench.ready_made": ("ready_made", "ready_made_names"),
    "bench.settings": ("Settings",),
    "demos.textbook": ("Textbook", "textbook_trace"),
    "errors": ("GlowtraceError", "GlowtraceWarning"),
    "measure.specific_charge": ("fit_specific_charge",),
    "plan.outcomes": ("outcome_map",),
    "plan.solver": ("plan_goal",),
    "plan.wiring": ("wire",),
    "report.run_sheets.run_sheet": ("run_sheet",),
    "safety.review": ("check_safety",),
    "sweeps.sweeping": ("sweep",),
    "version": ("__version__",),
}

_PACKAGES = (
    "bench", "demos", "errors", "explain", "faults", "films", "lesson", "light", "measure",
    "photographs", "plan", "report", "safety", "shots", "store", "studies", "sweeps", "units",
    "words",
)  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in _PACKAGES:
        return import_module(f"glowtrace.{name}")
    for home, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"glowtrace.{home}"), name)
    raise AttributeError(f"module 'glowtrace' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted((*__all__, *_PACKAGES))
