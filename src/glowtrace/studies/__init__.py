"""Studies: many benches and settings at once, at random, on a grid, for shares, or measured."""

from glowtrace.studies.files import load_study
from glowtrace.studies.hidden_truth import Measurement
from glowtrace.studies.running import run_study
from glowtrace.studies.spreads import Among, Around, Between
from glowtrace.studies.study import Study
from glowtrace.studies.summary import Summary, summarise

__all__ = [
    "Among",
    "Around",
    "Between",
    "Measurement",
    "Study",
    "Summary",
    "load_study",
    "run_study",
    "summarise",
]
