"""Studies: many benches and settings at once, drawn at random, on a grid, or for shares."""

from glowtrace.studies.files import load_study
from glowtrace.studies.running import run_study
from glowtrace.studies.spreads import Among, Around, Between
from glowtrace.studies.study import Study
from glowtrace.studies.summary import Summary, summarise

__all__ = [
    "Among",
    "Around",
    "Between",
    "Study",
    "Summary",
    "load_study",
    "run_study",
    "summarise",
]
