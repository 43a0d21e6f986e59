"""What a fit says, in sentences: for command line, page and paper alike.

Numbers stand as on the command line; `glowtrace.report.measurement.words.typeset` sets them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from glowtrace.measure.findings import Findings, PulledError, Trend, interval_of
from glowtrace.measure.fits.fitted import Fit, FitVerdict
from glowtrace.measure.fits.separability import Separability
from glowtrace.measure.methods import Column
from glowtrace.measure.result import Result
from glowtrace.report.measurement.words import measurement_text, quantity_text

_VERDICTS: Final = {
    FitVerdict.GOOD: "the readings agree with the model within their uncertainties",
    FitVerdict.DOUBTFUL: "the readings lie somewhat further from the model than is likely",
    FitVerdict.POOR: "the readings lie further from the model than their uncertainties explain",
    FitVerdict.TOO_GOOD: "the stated uncertainties look too large",
    FitVerdict.UNCHECKED: "as many unknowns as readings",
}


def verdict_sentence(fit: Fit) -> str:
    """Say what chi-square says, with the chance of a larger one: "Fit good: ... (p = 0.34)."."""
    verdict = fit.verdict
    p = "" if math.isnan(fit.p_value) else f" (p {_chance(fit.p_value)})"
    return f"Fit {verdict}: {_VERDICTS[verdict]}{p}."


def chi_square_sentence(fit: Fit) -> str:
    """Give chi-square with its degrees of freedom."""
    freedom = fit.degrees_of_freedom
    plural = "" if freedom == 1 else "s"
    return f"Chi-square {fit.chi_square:.3g} for {freedom} degree{plural} of freedom."


def result_sentence(result: Result, findings: Findings) -> str:
    """Give the result, with its expanded uncertainty where that holds."""
    if not findings.interval_holds:
        return (
            f"{result.name} = {result.text} as stated; no {100 * result.level:.0f} % interval, "
            "for the reasons below."
        )
    written = measurement_text(result.value, result.expanded, result.unit)
    return (
        f"{result.name} = {result.text}; with the expanded uncertainty {written} "
        f"(k = {result.coverage_factor:.2f}, {100 * result.level:.0f} %)."
    )


def agreement_sentence(result: Result, findings: Findings) -> str:
    """Say how the result lies to the accepted value; where its interval does not hold, how far."""
    off = f"{100 * result.relative_deviation:+.2f} %"
    if not findings.interval_holds:
        return f"It lies {off} from the accepted value."
    if result.agrees:
        return f"It agrees with the accepted value within the expanded uncertainty ({off})."
    return (
        f"It does not agree with the accepted value within the expanded uncertainty ({off}): "
        "something that matters is not in the budget."
    )


def finding_sentences(
    fit: Fit, findings: Findings, wanted: str, columns: Sequence[Column]
) -> tuple[str, ...]:
    """Say what speaks against a fit, what matters most first.

    Parameters
    ----------
    fit, findings
        The fit and what was found about it.
    wanted
        Name of the parameter that was looked for.
    columns
        Of the table.
    """
    return tuple(_findings(fit, findings, wanted, columns))


def _findings(
    fit: Fit, findings: Findings, wanted: str, columns: Sequence[Column]
) -> Iterator[str]:
    for each in findings.pulled:
        yield _pulled(each)
    scatter = findings.scatter
    if scatter is not None:
        column = next(each for each in columns if each.name == scatter.column)
        shown, stated = (
            quantity_text(size, column.si_unit, 2) for size in (scatter.shown, scatter.stated)
        )
        yield (
            f"The readings of {column.symbol} scatter by {shown} about the model; stated was "
            f"{stated}. With {shown}, {_estimate(scatter.fit, wanted, findings.scatter_holds)}."
        )
    if findings.trend is not None:
        yield _trend(findings.trend, wanted)
    if not findings.interval_holds and not findings.scatter_holds:
        yield f"No interval is given: {_why_not(findings)}."
    rows = [str(n + 1) for n in findings.rows_named]
    if rows:
        one = len(rows) == 1
        which = f"Row {rows[0]} lies" if one else f"Rows {' and '.join(rows)} lie"
        counts = "; what lies out counts less" if fit.robust != "none" else ""
        yield f"{which} far out: look at {'it' if one else 'them'} again{counts}."
    elif findings.rows_out:
        yield (
            f"{len(findings.rows_out)} of {findings.rows} rows lie further out than chance "
            "explains: what was stated of the readings is too good, or the model lacks something."
        )
    if not fit.is_settled:
        yield "The fit did not come to rest: take the result with care."


def _pulled(each: PulledError) -> str:
    moved = quantity_text(each.fitted - each.stated, each.unit, 2)
    stated = quantity_text(each.stated_uncertainty, each.unit, 2)
    if each.unit == "1":
        moved = f"{100 * (each.fitted - each.stated):.2g} %"
        stated = f"{100 * each.stated_uncertainty:.2g} %"
    return (
        f"The fit moved one error that all readings share by {moved}: {each.title}. Stated was a "
        f"standard uncertainty of {stated}; that is {abs(each.distance):.0f} times as much."
    )


def _trend(trend: Trend, wanted: str) -> str:
    size = measurement_text(abs(trend.value), trend.uncertainty, trend.unit)
    more = "more" if trend.value > 0 else "less"
    what = {
        "contact_offset": f"{size} {more} accelerating voltage than the meter shows",
        "plate_offset": f"{size} {more} plate voltage than the meter shows",
        "current_offset": f"{size} {more} coil current than the meter shows",
    }.get(trend.name, f"a {trend.title} of {'-' if trend.value < 0 else ''}{size}")
    return f"There is a trend: {what} would explain it; {_estimate(trend.fit, wanted, False)}."


def _estimate(fit: Fit, wanted: str, with_interval: bool) -> str:
    one = next(each for each in fit.parameters if each.name == wanted)
    text = measurement_text(fit.value(wanted), fit.uncertainty(wanted), one.unit)
    if not with_interval:
        return f"{one.title} would be {text}"
    low, high = (quantity_text(end, one.unit, 3) for end in interval_of(fit, wanted))
    return f"{one.title} = {text}, 95 % interval {low} to {high}"


def _why_not(findings: Findings) -> str:
    if findings.trend is not None:
        return "what is behind the trend decides the result; find it first"
    if findings.pulled:
        return "what was stated of an error that all readings share contradicts the readings"
    return "no scatter of the readings explains how far they lie from the model"


def separability_sentences(found: Separability) -> tuple[str, ...]:
    """Say what the readings do not determine, each said once."""
    lines = []
    unknown = [found.title(name) for name in found.untaught]
    if unknown:
        *others, last = dict.fromkeys(unknown)
        which = f"{', '.join(others)} and {last}" if others else last
        lines.append(f"The readings say less than was known beforehand about {which}.")
    lines += [entangled_sentence(found, pair) for pair in found.entangled]
    return tuple(dict.fromkeys(lines))


def entangled_sentence(found: Separability, pair: tuple[str, str, float]) -> str:
    """Say that two parameters are not separated."""
    first, second, r = pair
    sense = "the other up as well" if r > 0 else "the other down"
    title = found.title(first)
    title = title if title.startswith("e/m") else title[0].upper() + title[1:]
    return (
        f"{title} and {found.title(second)} are not separated: an error that takes "
        f"one up takes {sense} (correlation {r:.2f})."
    )


def _chance(p: float) -> str:
    return f"= {p:.2g}" if p >= 1e-4 else "below 0.0001"
