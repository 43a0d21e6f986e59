"""What a fit says: result, picture, verdict, budget, and the check by Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from html import escape

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from glowtrace.measure.fits.fitted import FitVerdict
from glowtrace.measure.result import Result
from glowtrace.report.measurement.fit_words import (
    agreement_sentence,
    entangled_sentence,
    finding_sentences,
    separability_sentences,
    verdict_sentence,
)
from glowtrace.report.measurement.words import typeset
from glowtrace.units import fixed, page_text
from glowtrace.web.controls import box, hint, words
from glowtrace.web.measure.budget_view import put_budget
from glowtrace.web.measure.check_part import CheckPart
from glowtrace.web.measure.fit_chart import fit_chart
from glowtrace.web.measure.fit_run import FitRun
from glowtrace.web.measure.writing import measured_text, power_html
from glowtrace.words.bench import model_told


class FitView:
    """The result of the last fit.

    Parameters
    ----------
    put_ways_on
        Puts what can be done with the result on the page.
    check
        The check of the result by Monte Carlo.
    """

    def __init__(self, put_ways_on: Callable[[FitRun], None], check: CheckPart) -> None:
        self._put_ways_on, self._check = put_ways_on, check
        self._other: TextElement | None = None
        self._box = box("stack fitted").props('aria-live="polite"')

    def clear(self) -> None:
        """Show nothing, and check nothing any more."""
        self._check.stop()
        self._other = None
        self._box.clear()

    def tell_other_choices(self) -> None:
        """Say that the result shown was made with other choices than those above it."""
        if self._other is not None:
            self._other.text = "Something else is chosen above now: fit again to see what it does."

    def put(self, run: FitRun) -> None:
        """Show a fit."""
        self._box.clear()
        with self._box:
            self._other = words("", "p", "attention").props('role="status"')
            _put_result(run)
            self._put_ways_on(run)
            words(verdict_sentence(run.fit), "p", _verdict_css(run))
            hint(_numbers(run))
            ui.html(fit_chart(run), sanitize=False)
            hint(
                "Rings: read, with their standard uncertainty u; crosses: the fit. Below: how far "
                "each reading lies from the fit, in u; about 95 % belong into the grey band."
            )
            _put_inseparable(run)
            words("Uncertainty budget", "h2")
            put_budget(run.budget, holds=run.findings.interval_holds)
            exact = ", ".join(run.setup.taken_as_exact)
            if exact:
                hint(f"Taken as exact: {exact}.")
            if not run.findings.interval_holds:
                return
            words(f"{100 * run.budget.level:.0f} % interval: linear and Monte Carlo", "h2")
            self._check.put(run)


def _put_result(run: FitRun) -> None:
    budget = run.budget
    with box("result"):
        words(budget.name, "p", "quiet")
        text = measured_text(budget.value, budget.uncertainty, budget.unit)
        ui.html(power_html(escape(text)), sanitize=False, tag="p").classes("result-value")
        if run.table.is_invented:
            words("From invented readings: it says nothing about a real tube.", "p", "attention")
        mixed = _undetermined(run)
        if mixed:
            told = " ".join(typeset(entangled_sentence(run.separability, each)) for each in mixed)
            words(
                f"These readings alone cannot give this number. {told} Write what is known of the "
                "other one, or take other readings.",
                "p",
                "attention",
            )
        elif run.result is not None:
            holds = run.findings.interval_holds
            is_off = not (holds and run.result.agrees)
            said = typeset(agreement_sentence(run.result, run.findings))
            words(said, "p", "large is-off" if is_off else "large")
            if holds:
                with box("fold", "details"):
                    words("How far apart", "summary")
                    ui.html(_scores(run.result), sanitize=False, tag="p").classes("hint")
        columns = run.table.columns
        for each in finding_sentences(run.fit, run.findings, run.wanted, columns):
            _put_told(each)
        if run.calibration is not None:
            for name, factor in (
                ("plate factor", run.calibration.plate_factor),
                ("coil factor", run.calibration.coil_factor),
            ):
                if factor is not None:
                    shown = measured_text(factor.value, factor.uncertainty, "1")
                    words(f"{name.capitalize()} {shown}, with e/m as accepted.", "p", "large")
        hint(f"Computed with {model_told(run.setup.model)}.")


def _put_told(sentence: str) -> None:
    """Put something to be heeded on the page."""
    shown = page_text(escape(typeset(sentence)))
    ui.html(shown, sanitize=False, tag="p").classes("attention")


def _scores(result: Result) -> str:
    e_n, zeta = (fixed(each, 2, signed=True) for each in (result.e_n, result.zeta_score))
    return (
        f"E<sub>n</sub> = {e_n}, ζ = {zeta}: how far result "
        "and accepted value lie apart in expanded uncertainties (95 %) of both, and in standard "
        "ones. Within ± 1 and ± 2 they agree."
    )


def _undetermined(run: FitRun) -> list[tuple[str, str, float]]:
    """Give the free constants from which the readings do not tell what was looked for."""
    free = {name for name, each in run.request.known.items() if math.isinf(each.uncertainty)}
    return [
        pair
        for pair in run.separability.entangled
        if run.wanted in pair[:2] and free & set(pair[:2])
    ]


def _put_inseparable(run: FitRun) -> None:
    """Tell what the readings cannot tell apart; what only meters' limits say, folded away."""
    above = _undetermined(run)
    for pair in run.separability.entangled:
        if pair not in above:
            _put_told(entangled_sentence(run.separability, pair))
    untaught = replace(run.separability, entangled=())
    if untaught.untaught:
        with box("fold", "details"):
            words("What these readings do not tell", "summary")
            with box("untold", "ul"):
                for each in separability_sentences(untaught):
                    words(each, "li")


def _numbers(run: FitRun) -> str:
    fit = run.fit
    parts = [f"χ² = {fit.chi_square:.1f} with {fit.degrees_of_freedom} degrees of freedom"]
    if fit.degrees_of_freedom > 0:
        parts.append(f"scatter {fit.birge_ratio:.2f} times what is stated")
    return "; ".join(parts) + "."


def _verdict_css(run: FitRun) -> str:
    is_off = run.fit.verdict in (FitVerdict.POOR, FitVerdict.DOUBTFUL)
    return "large is-off" if is_off else "large"
