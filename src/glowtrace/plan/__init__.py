"""Plan a demonstration: settings for a goal with their tolerances, and maps of what happens."""

from glowtrace.plan.answer import (
    Binding,
    IdealAnswer,
    Margin,
    Plan,
    Planned,
    Refusal,
    Remedy,
    Sensitivity,
    Window,
)
from glowtrace.plan.certainty import Certainty, Expected, SureWindow
from glowtrace.plan.limits import Limits, limits, margins
from glowtrace.plan.outcomes import NOT_YET, OutcomeMap, Row, forbidden, outcome_map
from glowtrace.plan.rating_lines import RatingLine
from glowtrace.plan.solver import METER_ERROR, plan_goal
from glowtrace.plan.telling import TellingMap, telling_map

__all__ = [
    "METER_ERROR",
    "NOT_YET",
    "Binding",
    "Certainty",
    "Expected",
    "IdealAnswer",
    "Limits",
    "Margin",
    "OutcomeMap",
    "Plan",
    "Planned",
    "RatingLine",
    "Refusal",
    "Remedy",
    "Row",
    "Sensitivity",
    "SureWindow",
    "TellingMap",
    "Window",
    "forbidden",
    "limits",
    "margins",
    "outcome_map",
    "plan_goal",
    "telling_map",
]
