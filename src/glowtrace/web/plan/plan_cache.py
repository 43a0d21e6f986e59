"""Plans that were made, so that going back to them takes no time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Goal
from glowtrace.plan import Plan, Planned, plan_goal
from glowtrace.watching import Cancelled, Progress

KEPT: Final = 24


@dataclass
class PlanCache:
    """The last plans of all visitors."""

    _plans: dict[tuple[object, ...], Planned] = field(default_factory=dict)

    def plan(
        self,
        prepared: PreparedBench,
        goal: Goal,
        held: Mapping[str, float],
        circuit: Settings,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> Planned:
        """Give what `plan_goal` finds, from memory where it is known."""
        key = (prepared.bench, goal, tuple(sorted(held.items())), circuit.plate_tie)
        known = self._plans.get(key)
        if known is None:
            known = plan_goal(
                prepared,
                goal,
                fixed=dict(held),
                circuit=circuit,
                progress=progress,
                cancelled=cancelled,
            )
            self._plans[key] = known
            while len(self._plans) > KEPT:
                self._plans.pop(next(iter(self._plans)))
        return known

    def answer(
        self,
        prepared: PreparedBench,
        goal: Goal | None,
        held: Mapping[str, float],
        settings: Settings,
    ) -> Plan | None:
        """Give the plan with exactly these settings; None where they were changed since."""
        if goal is None:
            return None
        asked = (prepared.bench, goal, tuple(sorted(held.items())))
        known = [planned for key, planned in self._plans.items() if key[:3] == asked]
        for planned in (*known, self.plan(prepared, goal, held, settings)):
            for each in planned.answers:
                if each.settings == settings:
                    return each
        return None
