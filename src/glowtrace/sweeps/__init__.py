"""Sweeps: how what is seen changes with a knob, or with a number of the bench."""

from glowtrace.sweeps.sweeping import sweep
from glowtrace.sweeps.table import Sweep

__all__ = ["Sweep", "sweep"]
