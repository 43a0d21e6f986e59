"""The uncertainty budget of a fitted parameter.

A fitted parameter is, near the minimum, a linear function of every reading and of everything known
beforehand. Its variance is therefore exactly the sum of one part for each column of readings and
one for each constant or meter known beforehand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import Experiment
from glowtrace.measure.fits.budget import Budget, Contribution
from glowtrace.measure.fits.fitted import Fit, FittedSeries
from glowtrace.measure.fits.parameters import Parameter, index_of
from glowtrace.measure.fits.prior import are_known, whitening
from glowtrace.measure.fits.propagation import Kind
from glowtrace.measure.tables.readings import Table

Array = NDArray[np.float64]


def fit_budget(
    setup: Experiment, fit: Fit, name: str = "specific_charge", *, level: float = 0.95
) -> Budget:
    """Make the budget of a fitted parameter.

    Parameters
    ----------
    setup, fit
        The experiment and its fit.
    name
        Of the parameter.
    level
        Coverage probability of the expanded uncertainty.

    Returns
    -------
    Budget
        The lines from the largest share down. A column counts as kind A where the scatter of
        repeats makes most of its part.

    Raises
    ------
    GlowtraceError
        If the parameter is unknown or exact.
    """
    position = index_of(fit.parameters, name)
    wanted = fit.parameters[position]
    if wanted.is_exact:
        raise GlowtraceError(Problem(name, "an exact parameter", hint="choose a fitted one"))
    row = _inverse_curvature(fit)[position]
    variance = float(fit.covariance[position, position])
    tables = [each for each in setup.tables if each.usable]
    lines = [
        line
        for readings, done in zip(tables, fit.fitted, strict=True)
        for line in _reading_lines(readings, done, row, fit.variance_factors[1], variance)
    ]
    pulls = _pulls(fit, row)
    known = np.flatnonzero(are_known(fit.parameters)).tolist()
    for together in _told_together(fit, known):
        parts = [(fit.parameters[n], float(pulls[n])) for n in together]
        within = fit.prior_correlation[np.ix_(together, together)]
        lines.append(_known_line(parts, within, variance))
    lines.sort(key=lambda line: -line.share)
    value = float(fit.values[position])
    return Budget(wanted.title, wanted.unit, value, math.sqrt(variance), tuple(lines), level)


def _inverse_curvature(fit: Fit) -> Array:
    """Inverse (p, p) of the curvature of the sum of squares; 0 for exact parameters."""
    varied = [n for n, each in enumerate(fit.parameters) if not each.is_exact]
    scales = np.array([fit.parameters[n].scale for n in varied])
    jacobian = np.concatenate([each.jacobian.reshape(-1, len(fit.values)) for each in fit.fitted])
    slopes = math.sqrt(fit.variance_factors[0]) * jacobian[:, varied] * scales
    prior = whitening(fit.parameters, fit.prior_correlation)[:, varied]
    triangle = linalg.qr(np.concatenate([slopes, prior]), mode="r")[0][: len(varied)]
    root = linalg.solve_triangular(triangle, np.diag(scales), trans="T")
    inverse = np.zeros((len(fit.values), len(fit.values)))
    inverse[np.ix_(varied, varied)] = root.T @ root
    return inverse


def _pulls(fit: Fit, row: Array) -> Array:
    """Change (p,) of a parameter when what is known beforehand about each moves by its spread.

    ``row`` is the parameter's row of the inverse curvature.
    """
    known = are_known(fit.parameters)
    spread = np.array(
        [each.spread if n else 1.0 for each, n in zip(fit.parameters, known, strict=True)]
    )
    white = whitening(fit.parameters, fit.prior_correlation)
    pulls: Array = np.where(known, row, 0.0) / spread @ white.T @ white
    return pulls


def _reading_lines(
    readings: Table, done: FittedSeries, row: Array, square: float, variance: float
) -> list[Contribution]:
    """One line for each column that was read with an uncertainty."""
    leverage = np.einsum("p,rcp->rc", row, done.jacobian)
    effect = np.einsum("rc,rck->rk", leverage, done.noise) * math.sqrt(square)
    lines = []
    for n, name in enumerate(done.names):
        part = math.sqrt(float(effect[:, n] @ effect[:, n]))
        if part == 0:
            continue
        sizes = readings.uncertainties(name)
        typical = math.sqrt(float(np.mean(sizes**2)))
        column = readings.column(name)
        lines.append(
            Contribution(
                name=f"{column.symbol} as read ({readings.method})",
                value=math.nan,
                uncertainty=typical,
                unit=column.si_unit,
                kind=_kind(readings, name, effect[:, n]),
                distribution="normal",
                degrees_of_freedom=_freedom(readings.degrees_of_freedom(name), effect[:, n]),
                sensitivity=part / typical,
                contribution=part,
                share=part**2 / variance,
            )
        )
    return lines


def _kind(readings: Table, name: str, effect: Array) -> Kind:
    sizes = readings.uncertainties(name)
    scatter = np.array([readings.rows[n][name].scatter for n in readings.usable])
    share = np.divide(scatter, sizes, out=np.zeros_like(sizes), where=sizes > 0)
    return "A" if float((effect * share) @ (effect * share)) > 0.5 * float(effect @ effect) else "B"


def _freedom(degrees: Sequence[float] | Array, effect: Array) -> float:
    below = float(np.sum(effect**4 / np.asarray(degrees)))
    return float(effect @ effect) ** 2 / below if below > 0 else math.inf


def _told_together(fit: Fit, known: Sequence[int]) -> list[list[int]]:
    """Group what is known beforehand (positions): parts of one thing, and what is correlated."""
    groups: list[list[int]] = []
    for n in known:
        whole = fit.parameters[n].part_of
        for group in groups:
            first = fit.parameters[group[0]].part_of
            if (whole and whole == first) or fit.prior_correlation[n, group].any():
                group.append(n)
                break
        else:
            groups.append([n])
    return groups


def _known_line(
    parts: Sequence[tuple[Parameter, float]], correlation: Array, variance: float
) -> Contribution:
    """One line for what is known beforehand: a constant, a thing of many parts, or correlated ones.

    Each parameter stands with the change of the result for one spread of it.
    """
    pulls = np.array([pull for _, pull in parts])
    spread = np.array([each.spread for each, _ in parts])
    first = parts[0][0]
    total = math.sqrt(float(pulls @ correlation @ pulls))
    typical = math.sqrt(float(np.mean(spread**2)))
    if len(parts) == 1 and not first.part_of:
        name, value, sensitivity = first.title, first.value, float(pulls[0]) / first.spread
    else:
        titles = " and ".join(each.title for each, _ in parts)
        name, value, sensitivity = first.part_of or titles, math.nan, total / typical
    is_a = np.array([each.kind == "A" for each, _ in parts])
    return Contribution(
        name=name,
        value=value,
        uncertainty=typical,
        unit=first.unit,
        kind="A" if float(np.sum(pulls[is_a] ** 2)) > 0.5 * float(pulls @ pulls) else "B",
        distribution=first.distribution,
        degrees_of_freedom=_freedom([each.degrees_of_freedom for each, _ in parts], pulls),
        sensitivity=sensitivity,
        contribution=total,
        share=total**2 / variance,
    )
