"""An explanation as plain data, for programs: everything in SI units, told in the keys."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from glowtrace.bench.ratings import settings_record
from glowtrace.explain.accounts import WrongAccount
from glowtrace.explain.differences import Differences
from glowtrace.explain.drift_frame import NoFrame
from glowtrace.explain.explanation import Explanation
from glowtrace.explain.spread import Spread


def explanation_record(
    trace: Explanation,
    differences: Differences | None = None,
    spread: Spread | None = None,
    accounts: Sequence[WrongAccount] | None = None,
) -> dict[str, Any]:
    """Give an explanation as plain data; a part that was not computed is null."""
    return {
        "bench": {"name": trace.bench.name, "invented": trace.bench.invented},
        "settings": settings_record(trace.settings),
        "model": trace.model,
        "end": trace.account.end,
        "places": [_place(trace, mark.name, mark.at) for mark in trace.marks],
        "energy": _energy(trace),
        "moving_frame": _frame(trace),
        "differences": None if differences is None else _differences(differences),
        "spread": None if spread is None else _spread(spread),
        "accounts": None
        if accounts is None
        else [
            asdict(each) | {"numbers": {told.name: told.value for told in each.numbers}}
            for each in accounts
        ],
    }


def _differences(found: Differences) -> dict[str, Any]:
    return {
        "compared": found.compared,
        "textbook_m": found.textbook,
        "bench_m": found.bench,
        "causes": [
            {
                "cause": each.effect,
                "name": each.name,
                "mean_m": each.share.mean,
                "least_m": each.share.least,
                "most_m": each.share.most,
                "alone_m": each.share.alone,
            }
            for each in found.parts
        ],
    }


def _spread(found: Spread) -> dict[str, Any]:
    return {
        "place": found.place,
        "width_m": found.width,
        "width_uncertainty_m": found.uncertainty,
        "interaction": found.interaction,
        "electrons": found.electrons,
        "bundles": found.seeds,
        "causes": [
            {
                "cause": part.cause,
                "name": part.name,
                "share": part.share,
                "share_uncertainty": part.uncertainty,
                "alone_m": part.alone,
            }
            for part in found.parts
        ],
    }


def _place(trace: Explanation, name: str, at: float) -> dict[str, Any]:
    now = trace.instant(at)
    return {
        "name": name,
        "time_s": now.time,
        "position_m": now.position.tolist(),
        "velocity_m_per_s": now.velocity.tolist(),
        "electric_force_n": now.electric_force.tolist(),
        "magnetic_force_n": now.magnetic_force.tolist(),
        "kinetic_energy_j": now.kinetic_energy,
        "potential_energy_j": now.potential_energy,
    }


def _energy(trace: Explanation) -> dict[str, float] | None:
    account = trace.account
    if not trace.flies:
        return None
    return {
        "electric_work_j": float(account.electric_work[-1]),
        "magnetic_work_j": float(np.abs(account.magnetic_work).max()),
        "not_kept_j": float(np.abs(account.energy_residual).max()),
        "edge_step_j": account.edge_step,
    }


def _frame(trace: Explanation) -> dict[str, Any]:
    frame = trace.frame
    if isinstance(frame, NoFrame):
        return {"exists": False, "reason": frame.reason}
    circle = frame.circle
    return {
        "exists": True,
        "velocity_m_per_s": frame.velocity.tolist(),
        "radius_m": None if circle is None else circle.radius,
        "roughness_m": None if circle is None else circle.roughness,
        "turned_rad": None if circle is None else circle.turned,
    }
