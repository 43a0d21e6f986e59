"""One fault with the pictures that it makes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from glowtrace.faults.condition import Condition
from glowtrace.faults.fault import Fault
from glowtrace.faults.looks import Look


@dataclass(frozen=True, eq=False)
class Suspect:
    """One fault with the pictures that it makes.

    Attributes
    ----------
    fault
        The fault.
    conditions
        What the tube gets as set, for each draw (n).
    looks
        What would be seen, by variation.
    """

    fault: Fault
    conditions: tuple[Condition, ...]
    looks: Mapping[str, Look]
