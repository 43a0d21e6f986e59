"""How often the ranking is right: invented cases of known fault, with an onlooker who errs.

The goal is the project's own: each single fault first or second in at least nine of ten cases, and
its probability raised on average by the check that is chosen next. The sizes of the faults, the
errors of the onlooker and the prior odds are common practice, no source. A case is a picture of
which the onlooker says something true that a bench in order would not have said of it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.faults import Sighting, next_checks, prepare_suspects, rank, update
from glowtrace.faults.invented import invent_case

SETTINGS = {
    "deflection_tube": Settings(accelerating_voltage=3000.0, plate_voltage=900.0, coil_current=0.1),
    "fine_beam_bulb": Settings(accelerating_voltage=210.0, coil_current=1.6),
    "axial_coil_tube": Settings(accelerating_voltage=640.0, coil_current=0.35),
}
WANTED = 0.9
"""Share of cases in which the true fault is first or second."""
HARDER = {
    ("deflection_tube", "charged screen"): 0.85,
    ("axial_coil_tube", "coils out of place"): 0.85,
    ("axial_coil_tube", "charged screen"): 0.85,
    ("axial_coil_tube", "magnet nearby"): 0.85,
    ("fine_beam_bulb", "heater underfed"): 0.8,
    ("fine_beam_bulb", "ripple"): 0.8,
    ("fine_beam_bulb", "gas"): 0.8,
}
"""What is asked of the faults that fall short of it, for what docs/find-a-fault.md says."""
THIRD_IN_THE_DARK = 0.6
"""The same of a loose anode lead: dark, it looks like reversed polarity and a control electrode
that cuts the beam off, and both are more frequent."""
HELD_OUT = range(1000, 1040)
"""Seeds that were not looked at while the ranking was made."""


def wanted(bench: str, fault: str) -> float:
    """Give the share of cases in which a fault is to be first or second."""
    usual = THIRD_IN_THE_DARK if fault == "loose anode lead" else WANTED
    return HARDER.get((bench, fault), usual)


@dataclass
class Score:
    """How the ranking did with the cases of one fault."""

    places: list[int] = field(default_factory=list)
    gains: list[float] = field(default_factory=list)
    named: list[bool] = field(default_factory=list)
    """Whether the fault was first after the checks."""
    claims: list[float] = field(default_factory=list)
    """Probability that the first one was given before the checks."""
    passed_over: int = 0
    """Sizes of the fault of which nobody noticed anything."""
    others: Counter[str] = field(default_factory=Counter)
    """What was first where the fault was neither first nor second."""

    def share(self, best: int) -> float:
        """Give the part of the cases in which the fault was among the best."""
        return float(np.mean(np.array(self.places) < best))

    def told(self) -> str:
        gain, error = np.mean(self.gains), np.std(self.gains) / len(self.gains) ** 0.5
        unnoticed = self.passed_over / (self.passed_over + len(self.places))
        return (
            f"{len(self.places)} cases: first {self.share(1):.3f}, first or second "
            f"{self.share(2):.3f}; next check {gain:+.3f} +- {error:.3f}; first after the checks "
            f"{np.mean(self.named):.3f}; unnoticed {unnoticed:.2f}; else "
            f"{dict(self.others.most_common(3))}"
        )


def judge(suspects, seeds, *, checks: int = 6, **how) -> dict[str, Score]:
    """Rank invented cases of each fault, and follow the advice until the cause is nearly certain.

    Returns
    -------
    The score of each fault that can be seen at the settings.
    """
    scores: dict[str, Score] = {}
    for fault in (one.fault for one in suspects.suspects):
        if fault.group == "nothing" or fault in suspects.hidden:
            continue
        score = scores[fault.key] = Score()
        for seed in seeds:
            case = invent_case(suspects, fault, seed, **how)
            score.passed_over += case.passed_over
            follow(suspects, case, score, checks)
    return scores


def follow(suspects, case, score: Score, checks: int) -> None:
    """Rank one case, make the checks that are proposed, and note how it went."""
    ranking, key = rank(suspects, case.sighting), case.fault.key
    score.places.append([row.fault.key for row in ranking.standings].index(key))
    score.claims.append(ranking.first.probability)
    if score.places[-1] > 1:
        score.others[ranking.first.fault.key] += 1
    before = ranking.probabilities[key]
    for number in range(checks):
        advice = next_checks(ranking, 1)
        if not advice or (number > 0 and ranking.first.probability > 0.95):
            break
        check = advice[0].check
        ranking = update(ranking, check.key, case.answer(check))
        if number == 0:
            score.gains.append(ranking.probabilities[key] - before)
    score.named.append(ranking.first.fault.key == key)


def together(scores: dict[str, Score]) -> Score:
    """Give the score of all faults, each of them counting alike."""
    whole = Score()
    for score in scores.values():
        whole.places += score.places
        whole.gains += score.gains
        whole.named += score.named
        whole.claims += score.claims
        whole.passed_over += score.passed_over
        whole.others += score.others
    return whole


def show(title: str, scores: dict[str, Score]) -> None:
    print(f"\n{title}")
    for key, score in (*scores.items(), ("all together", together(scores))):
        print(f"  {key:24s} {score.told()}")


def test_one_case_of_each_fault_is_ranked_first_or_second_for_most(fine_beam_bulb, bulb_suspects):
    scores = judge(bulb_suspects, range(1), checks=1)
    assert len(scores) >= 10
    assert together(scores).share(2) >= 0.75  # with a quarter of the usual sizes


@pytest.mark.thorough
def test_each_fault_is_ranked_first_or_second_in_most_of_a_few_cases(deflection_tube):
    suspects = prepare_suspects(deflection_tube, SETTINGS["deflection_tube"], draws=8)
    scores = judge(suspects, range(4), checks=1)
    assert len(scores) >= 17
    poor = [key for key, score in scores.items() if score.share(2) < 0.5]
    # Too many-sided for so few sizes; or third in the dark.
    assert set(poor) <= {"magnet nearby", "loose anode lead"}
    whole = together(scores)
    assert whole.share(2) >= WANTED - 0.05  # with a quarter of the usual sizes
    assert np.mean(whole.gains) > 0.0


@pytest.mark.thorough
@pytest.mark.parametrize("bench", SETTINGS)
def test_nine_of_ten_cases_of_each_fault_are_ranked_first_or_second(bench, request):
    """The round of `invent_case`: every statement answered, each knob tried once, lines by hand."""
    suspects = prepare_suspects(request.getfixturevalue(bench), SETTINGS[bench])
    scores = judge(suspects, HELD_OUT)
    show(f"{bench}, the whole round", scores)
    for key, score in scores.items():
        assert score.share(2) >= wanted(bench, key), key
        allowed = np.std(score.gains) / len(score.gains) ** 0.5
        assert np.mean(score.gains) > -allowed, key  # one that is certain already gains nothing
    whole = together(scores)
    assert whole.share(2) >= WANTED
    assert np.mean(whole.claims) == pytest.approx(whole.share(1), abs=0.1)  # no idle claims
    assert np.mean(whole.gains) > 0.0


@pytest.mark.thorough
@pytest.mark.parametrize("bench", SETTINGS)
def test_the_checks_that_are_proposed_find_what_one_look_does_not(bench, request):
    suspects = prepare_suspects(request.getfixturevalue(bench), SETTINGS[bench])
    scores = judge(suspects, range(30), tries_knobs=False)
    show(f"{bench}, one look", scores)
    assert np.mean(together(scores).named) >= WANTED - 0.1


@pytest.fixture(scope="module")
def bulb_suspects(fine_beam_bulb):
    return prepare_suspects(fine_beam_bulb, SETTINGS["fine_beam_bulb"], draws=8)


def test_what_looks_alike_is_told_apart_by_the_check_that_is_chosen(bulb_suspects):
    """Opposing coils and no current look the same; the coil meter, or a compass, tells."""
    seen = Sighting(seen=("line is straight and does not move with the coils",))
    ranking = rank(bulb_suspects, seen)
    alike = {"coils opposing", "no coil current"}
    assert {row.fault.key for row in ranking.standings[:2]} == alike
    assert ranking.first.probability < 0.6
    check = next_checks(ranking, 1)[0].check
    for truth in alike:
        suspect = bulb_suspects.suspect(truth)
        outcome = check.outcomes[int(check.chances(suspect)[0].argmax())]
        after = update(ranking, check.key, outcome)
        assert after.first.fault.key == truth
        assert after.first.probability > 0.7


def test_nothing_said_leaves_the_prior_odds(bulb_suspects):
    ranking = rank(bulb_suspects, Sighting())
    whole = sum(fault.odds for fault in bulb_suspects.faults)
    for fault in bulb_suspects.faults:
        assert ranking.probabilities[fault.key] == pytest.approx(fault.odds / whole)


def test_a_picture_that_no_fault_makes_is_not_explained(bulb_suspects):
    """A zigzag from edge to edge: no steady field bends a beam to and fro like that."""
    points = tuple((-0.07 + 0.017 * n, 0.05 + 0.06 * (-1) ** n) for n in range(9))
    ranking = rank(bulb_suspects, Sighting(line=points))
    assert ranking.nothing_fits
    assert ranking.first.probability > 0.9


def test_a_drawn_line_that_is_the_usual_one_says_that_nothing_is_wrong(bulb_suspects):
    line = bulb_suspects.expected["as set"].line
    points = tuple((float(u), float(v)) for u, v in line[::3])
    ranking = rank(bulb_suspects, Sighting(line=points))
    odds = {fault.key: fault.odds for fault in bulb_suspects.faults}
    gained = {key: ranking.probabilities[key] / odds[key] for key in odds}
    assert gained["in order"] > 20 * gained["coil leads swapped"]
    assert gained["in order"] > 20 * gained["one coil dead"]


def test_a_coarser_line_counts_for_less(bulb_suspects):
    line = bulb_suspects.suspect("one coil dead").looks["as set"].line[0]
    points = tuple((float(u), float(v)) for u, v in line[::3])
    sharp = rank(bulb_suspects, Sighting(line=points, line_error=0.8e-3))
    coarse = rank(bulb_suspects, Sighting(line=points, line_error=8e-3))
    assert sharp.probabilities["one coil dead"] > coarse.probabilities["one coil dead"]


def test_the_same_seed_gives_the_same_ranking(fine_beam_bulb, bulb_suspects):
    again = prepare_suspects(fine_beam_bulb, SETTINGS["fine_beam_bulb"], draws=8, threads=1)
    seen = Sighting(seen=("down",))
    assert rank(again, seen).probabilities == rank(bulb_suspects, seen).probabilities


def test_a_dark_bench_is_ranked_without_a_warning(deflection_tube, recwarn):
    settings = SETTINGS["deflection_tube"].model_copy(update={"heater_on": False})
    suspects = prepare_suspects(deflection_tube, settings, draws=2)
    ranking = rank(suspects, Sighting(seen=("no light at all",)))
    next_checks(ranking)
    assert not [one for one in recwarn if "glowtrace" in str(one.filename)]
    assert ranking.probabilities["in order"] > ranking.probabilities["plates swapped"] * 0.9


def test_progress_rises_to_the_end_and_may_stop_the_work(fine_beam_bulb):
    told: list[float] = []
    prepare_suspects(
        fine_beam_bulb, SETTINGS["fine_beam_bulb"], draws=2,
        progress=lambda done, words: told.append(done),
    )  # fmt: skip
    assert told == sorted(told)
    assert told[-1] == 1.0

    class StoppedError(Exception):
        pass

    def stop(done: float, words: str) -> None:
        if done > 0.5:
            raise StoppedError

    with pytest.raises(StoppedError):
        prepare_suspects(fine_beam_bulb, SETTINGS["fine_beam_bulb"], draws=2, progress=stop)
