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

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.budget import Budget, Contribution
from glowtrace.measure.experiment import Experiment
from glowtrace.measure.fitted import Fit, FittedSeries
from glowtrace.measure.parameters import Parameter, index_of
from glowtrace.measure.propagation import Kind
from glowtrace.measure.readings import Table

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
        raise GlowtraceError(str(Problem(name, "an exact parameter", "choose a fitted one")))
    row = _inverse_curvature(fit)[position]
    variance = float(fit.covariance[position, position])
    tables = [each for each in setup.tables if each.usable]
    lines = [
        line
        for readings, done in zip(tables, fit.fitted, strict=True)
        for line in _reading_lines(readings, done, row, fit.variance_factors[1], variance)
    ]
    known = [
        (parameter, float(pull))
        for parameter, pull in zip(fit.parameters, row, strict=True)
        if not (parameter.is_exact or parameter.is_free)
    ]
    lines += [_known_line(each, pull, variance) for each, pull in known if not each.part_of]
    for whole in dict.fromkeys(each.part_of for each, _ in known if each.part_of):
        parts = [(each, pull) for each, pull in known if each.part_of == whole]
        lines.append(_line_of_parts(whole, parts, variance))
    lines.sort(key=lambda line: -line.share)
    value = float(fit.values[position])
    return Budget(wanted.title, wanted.unit, value, math.sqrt(variance), tuple(lines), level)


def _inverse_curvature(fit: Fit) -> Array:
    """Inverse (p, p) of the curvature of the sum of squares; 0 for exact parameters."""
    varied = [n for n, each in enumerate(fit.parameters) if not each.is_exact]
    scales = np.array([fit.parameters[n].scale for n in varied])
    jacobian = np.concatenate([each.jacobian.reshape(-1, len(fit.values)) for each in fit.fitted])
    scaled = jacobian[:, varied] * scales
    known = [0.0 if fit.parameters[n].is_free else 1.0 for n in varied]
    inner = np.linalg.inv(fit.variance_factors[0] * scaled.T @ scaled + np.diag(known))
    inverse = np.zeros((len(fit.values), len(fit.values)))
    inverse[np.ix_(varied, varied)] = inner * np.outer(scales, scales)
    return inverse


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


def _line_of_parts(
    whole: str, parts: Sequence[tuple[Parameter, float]], variance: float
) -> Contribution:
    """One line for all parts of a thing, such as the map of a photograph."""
    effect = np.array([pull / each.spread for each, pull in parts])
    spread = np.array([each.spread for each, _ in parts])
    is_a = np.array([each.kind == "A" for each, _ in parts])
    total, typical = math.sqrt(float(effect @ effect)), math.sqrt(float(np.mean(spread**2)))
    return Contribution(
        name=whole,
        value=math.nan,
        uncertainty=typical,
        unit=parts[0][0].unit,
        kind="A" if float(np.sum(effect[is_a] ** 2)) > 0.5 * total**2 else "B",
        distribution=parts[0][0].distribution,
        degrees_of_freedom=_freedom([each.degrees_of_freedom for each, _ in parts], effect),
        sensitivity=total / typical,
        contribution=total,
        share=total**2 / variance,
    )


def _known_line(parameter: Parameter, pull: float, variance: float) -> Contribution:
    part = abs(pull) / parameter.spread
    return Contribution(
        name=parameter.title,
        value=parameter.value,
        uncertainty=parameter.spread,
        unit=parameter.unit,
        kind=parameter.kind,
        distribution=parameter.distribution,
        degrees_of_freedom=parameter.degrees_of_freedom,
        sensitivity=pull / parameter.spread**2,
        contribution=part,
        share=part**2 / variance,
    )
