"""Find a fault: what could be wrong, what it would look like, and which check tells.

suspects = prepare_suspects(prepared, settings)
ranking = rank(suspects, Sighting(seen=(Seen.DOWN,)))
advice = next_checks(ranking)[0]
ranking = update(ranking, advice.check.key, "line does not move")
"""

from glowtrace.faults.advice import WORTH, Advice, Prospect, advise, next_checks
from glowtrace.faults.appearance import Appearance
from glowtrace.faults.check import Check, Safety
from glowtrace.faults.checks import checks_for
from glowtrace.faults.condition import Condition
from glowtrace.faults.fault import OFF_FIRST, Fault
from glowtrace.faults.library import FAULTS, faults_for
from glowtrace.faults.look_alikes import LookAlike, look_alikes
from glowtrace.faults.ranking import Ranking, Standing, rank, update
from glowtrace.faults.seen import Seen
from glowtrace.faults.sighting import PHOTOGRAPHED, SKETCHED, Sighting
from glowtrace.faults.statement import Statement
from glowtrace.faults.statements import statements_for
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.suspects import Suspects, prepare_suspects
from glowtrace.faults.variations import Variation

__all__ = [
    "FAULTS",
    "OFF_FIRST",
    "PHOTOGRAPHED",
    "SKETCHED",
    "WORTH",
    "Advice",
    "Appearance",
    "Check",
    "Condition",
    "Fault",
    "LookAlike",
    "Prospect",
    "Ranking",
    "Safety",
    "Seen",
    "Sighting",
    "Standing",
    "Statement",
    "Suspect",
    "Suspects",
    "Variation",
    "advise",
    "checks_for",
    "faults_for",
    "look_alikes",
    "next_checks",
    "prepare_suspects",
    "rank",
    "statements_for",
    "update",
]
