"""What a fit says: result, picture, verdict, budget, and the check by Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from glowtrace.measure.tube import TUBE_PARAMETERS
from glowtrace.units import fixed, percent
from glowtrace.web.controls import box, words
from glowtrace.web.measuring.budget_view import put_budget
from glowtrace.web.measuring.check_part import CheckPart
from glowtrace.web.measuring.fit_chart import fit_chart
from glowtrace.web.measuring.fit_run import FitRun
from glowtrace.web.measuring.writing import measured_text, power_html
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
        self._box = box("fitted").props('aria-live="polite"')

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
            verdict, _, why = run.fit.verdict.partition(": ")
            words(f"Fit {verdict}: {why}." if why else f"Fit: {verdict}.", "p", _verdict_css(run))
            words(_numbers(run), "p", "hint")
            _put_outliers(run)
            ui.html(fit_chart(run), sanitize=False)
            words(
                "Rings: read, with their standard uncertainty u; crosses: the fit. Below: how far "
                "each reading lies from the fit, in u; about 95 % belong into the grey band.",
                "p",
                "hint",
            )
            _put_inseparable(run)
            words("Uncertainty budget", "h3")
            put_budget(run.budget)
            exact = ", ".join(run.setup.taken_as_exact)
            if exact:
                words(f"Taken as exact: {exact}.", "p", "hint")
            words(f"{100 * run.budget.level:.0f} % interval: linear and Monte Carlo", "h3")
            self._check.put(run)


def _put_result(run: FitRun) -> None:
    budget = run.budget
    with box("result"):
        words(budget.name, "p", "result-name")
        text = measured_text(budget.value, budget.uncertainty, budget.unit)
        ui.html(power_html(escape(text)), sanitize=False, tag="p").classes("result-value")
        if run.table.is_invented:
            words("From invented readings: it says nothing about a real tube.", "p", "attention")
        mixed = _undetermined(run)
        if mixed:
            words(
                f"These readings alone cannot give this number. {' '.join(mixed)} Write what is "
                "known of the other one, or take other readings.",
                "p",
                "attention",
            )
        elif run.result is not None:
            found = run.result
            off = percent(found.relative_deviation, 2, signed=True)
            e_n, zeta = (fixed(each, 2, signed=True) for each in (found.e_n, found.zeta_score))
            css = "result-says" if abs(found.e_n) <= 1 else "result-says is-off"
            ui.html(
                f"{off} from the accepted value: E<sub>n</sub> = {e_n}, "
                f"ζ = {zeta}. It {found.verdict}.",
                sanitize=False,
                tag="p",
            ).classes(css)
            words(
                "Eₙ is how far the two lie apart in expanded uncertainties (95 %) of both, and "
                "ζ in standard ones: within ± 1 and ± 2 they agree.",
                "p",
                "hint",
            )
        if run.calibration is not None:
            for name, factor in (
                ("plate factor", run.calibration.plate_factor),
                ("coil factor", run.calibration.coil_factor),
            ):
                if factor is not None:
                    shown = measured_text(factor.value, factor.uncertainty, "1")
                    words(f"{name.capitalize()} {shown}, with e/m as accepted.", "p", "result-says")
        words(f"Computed with {model_told(run.setup.model)}.", "p", "hint")


def _not_separated(run: FitRun) -> list[str]:
    """Say which parameters the readings do not tell apart."""
    told = [each for each in run.inseparable if "not separated" in each]
    return list(dict.fromkeys(map(_said, told)))


def _undetermined(run: FitRun) -> list[str]:
    """Say from which free constants the readings do not tell what was looked for."""
    wanted = TUBE_PARAMETERS[run.wanted][0]
    free = [
        TUBE_PARAMETERS[name][0]
        for name, each in run.request.known.items()
        if math.isinf(each.uncertainty) and name in TUBE_PARAMETERS
    ]
    return [
        each
        for each in _not_separated(run)
        if wanted.lower() in each.lower() and any(name.lower() in each.lower() for name in free)
    ]


def _put_inseparable(run: FitRun) -> None:
    """Tell what the readings cannot tell apart; what only meters' limits say, folded away."""
    said = list(dict.fromkeys(map(_said, run.inseparable)))
    together = _not_separated(run)
    above = _undetermined(run)
    for each in together:
        if each not in above:
            words(each, "p", "attention")
    others = [each for each in said if each not in together]
    if others:
        with box("fold", "details"):
            words("What these readings do not tell", "summary")
            with box("untold", "ul"):
                for each in others:
                    words(each, "li")


def _put_outliers(run: FitRun) -> None:
    rows = [str(n + 1) for n in run.outliers]
    if len(rows) > max(2, len(run.table.usable) / 2):
        words(
            "Most rows lie further out than chance explains. One wrong reading can pull the fit "
            "away from all others: let rows far out count less, and see which one stands alone. "
            "Else something is missing in the model or in the uncertainties.",
            "p",
            "attention",
        )
    elif rows:
        which = f"Row {rows[0]} lies" if len(rows) == 1 else f"Rows {', '.join(rows)} lie"
        treated = "counts less" if run.fit.robust != "none" else "counts fully"
        words(f"{which} further out than chance explains; what lies out {treated}.", "p",
              "attention")  # fmt: skip


def _numbers(run: FitRun) -> str:
    fit = run.fit
    parts = [f"χ² = {fit.chi_square:.1f} with {fit.degrees_of_freedom} degrees of freedom"]
    if fit.degrees_of_freedom > 0:
        parts.append(f"chance of a larger one, if the model is right, {100 * fit.p_value:.1f} %")
        parts.append(f"scatter {fit.birge_ratio:.2f} times what is stated")
    if not fit.is_settled:
        parts.append("the rounds of the fit did not settle: be wary of it")
    return "; ".join(parts) + "."


def _verdict_css(run: FitRun) -> str:
    is_poor = run.fit.verdict.startswith("poor")
    return "fit-verdict is-off" if is_poor else "fit-verdict"


def _said(sentence: str) -> str:
    """Give a sentence with the titles of constants instead of their names."""
    for name, (title, _, _) in TUBE_PARAMETERS.items():
        sentence = sentence.replace(name, title)
    text = sentence.replace("_", " ").replace("-", "−")
    return f"{text}." if text.startswith("e/m") else f"{text[:1].upper()}{text[1:]}."
