"""How often the ranking is right: invented cases of known fault, with an onlooker who errs.

The goal is the project's own: the true fault first or second in at least nine of ten cases, and its
probability raised on average by the check that is chosen next. The sizes of the faults, the errors
of the onlooker and the prior odds are common practice, no source. Cases are asked about only where
a careful eye finds anything wrong at all.
"""

from __future__ import annotations

from collections import defaultdict
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


@dataclass
class Score:
    """How the ranking did."""

    places: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    gains: list[float] = field(default_factory=list)
    named: list[bool] = field(default_factory=list)
    """Whether the fault was first after the checks."""
    claims: list[float] = field(default_factory=list)
    """Probability that the first one was given before the checks."""

    def share(self, best: int) -> float:
        """Give the part of the cases in which the fault was among the best."""
        places = np.concatenate([np.array(each) for each in self.places.values()])
        return float((places < best).mean())

    def told(self) -> str:
        each = ", ".join(
            f"{key} {np.mean(np.array(places) < 2):.2f}" for key, places in self.places.items()
        )
        gain, error = np.mean(self.gains), np.std(self.gains) / len(self.gains) ** 0.5
        return (
            f"{len(self.gains)} cases: first {self.share(1):.3f} (claimed "
            f"{np.mean(self.claims):.3f}), first or second "
            f"{self.share(2):.3f}; next check raises the true fault by {gain:.3f} +- {error:.3f}; "
            f"first after the checks {np.mean(self.named):.3f}. Each: {each}"
        )


def judge(suspects, cases: int, *, tries_knobs: bool = True, checks: int = 6) -> Score:
    """Rank invented cases, and follow the advice until the cause is nearly certain."""
    score = Score()
    faults = [one.fault for one in suspects.suspects]
    candidates = [one for one in faults if one.group != "nothing" and one not in suspects.hidden]
    for seed in range(cases):
        fault = candidates[seed % len(candidates)]
        case = invent_case(suspects, fault, seed, tries_knobs=tries_knobs)
        ranking = rank(suspects, case.sighting)
        score.places[fault.key].append(
            [row.fault.key for row in ranking.standings].index(fault.key)
        )
        score.claims.append(ranking.first.probability)
        before = ranking.probabilities[fault.key]
        for number in range(checks):
            advice = next_checks(ranking, 1)
            if not advice or (number > 0 and ranking.first.probability > 0.95):
                break
            check = advice[0].check
            ranking = update(ranking, check.key, case.answer(check))
            if number == 0:
                score.gains.append(ranking.probabilities[fault.key] - before)
        score.named.append(ranking.first.fault.key == fault.key)
    return score


@pytest.mark.slow
def test_most_of_a_few_cases_are_ranked_first_or_second(deflection_tube, record_property):
    suspects = prepare_suspects(deflection_tube, SETTINGS["deflection_tube"], draws=12)
    score = judge(suspects, 38, checks=3)
    record_property("fault cases", score.told())
    assert score.share(2) >= WANTED - 0.05
    assert np.mean(score.gains) > 0.0
    assert np.mean(score.named) >= WANTED - 0.1


@pytest.mark.thorough
@pytest.mark.parametrize("bench", SETTINGS)
def test_nine_of_ten_faults_are_ranked_first_or_second(bench, request, record_property):
    suspects = prepare_suspects(request.getfixturevalue(bench), SETTINGS[bench])
    score = judge(suspects, 200)
    record_property("fault cases", score.told())
    print(f"\n{bench}, knobs tried once: {score.told()}")
    at_a_glance = judge(suspects, 200, tries_knobs=False)
    record_property("fault cases at a glance", at_a_glance.told())
    print(f"{bench}, one look: {at_a_glance.told()}")
    assert score.share(2) >= WANTED
    assert np.mean(score.claims) == pytest.approx(score.share(1), abs=0.1)  # no idle claims
    assert np.mean(score.gains) > 0.0
    assert np.mean(at_a_glance.named) >= WANTED - 0.1


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
    """A line straight across the far corner of the screen, and no beam comes from there."""
    points = tuple((-0.07 + 0.002 * n, 0.12 - 0.001 * n) for n in range(9))
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
    seen = Sighting(seen=("line bends down",))
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
