"""Everything that is needed to redo a measurement, as JSON; and the measurement from it.

Numbers are in SI units. What cannot be written in JSON, infinity and not-a-number, is null, which
means "free" as an uncertainty, "as drawn" as a value, and "not known" elsewhere.
"""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from importlib.metadata import version
from typing import Any, Final, get_args

from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.identity import bench_hash
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import Experiment, Known, experiment
from glowtrace.measure.findings import Findings, find, findings_data
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import Budget
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.fits.separability import separability
from glowtrace.measure.methods import COLUMNS, Method
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, Table, Tie, table
from glowtrace.measure.tables.spreadsheet import write_table
from glowtrace.version import __version__

FORMAT: Final = "glowtrace-measurement 1"
_PACKAGES = ("numpy", "scipy")


def export_measurement(setup: Experiment, fit: Fit, findings: Findings | None = None) -> str:
    """Write an experiment and its fit as JSON text.

    It holds the bench, all readings with their instruments and faults, what was known beforehand,
    how the fit was made, its results, findings and budget, and the versions of the program's parts.
    Findings are looked for where none are given.
    """
    data = {
        "format": FORMAT,
        "bench": {"hash": bench_hash(setup.bench), "toml": bench_to_toml(setup.bench)},
        "tables": [_table_data(each) for each in setup.tables],
        "model": setup.model,
        "robust": fit.robust,
        "known": {name: _known_data(fact) for name, fact in setup.known.items()},
        "accepted_specific_charge": SPECIFIC_CHARGE,
        "result": _fit_data(setup, fit, findings or find(setup, fit)),
        "versions": {name: version(name) for name in _PACKAGES}
        | {"glowtrace": __version__, "python": platform.python_version()},
    }
    return json.dumps(_plain(data), indent=2, ensure_ascii=False, allow_nan=False)


def logbook_record(setup: Experiment, fit: Fit, findings: Findings | None = None) -> dict[str, Any]:
    """Give what the logbook keeps with a result from one table: readings, and all to redo it."""
    (readings,) = setup.tables
    return {
        "method": readings.method,
        "readings": write_table(readings),
        "measurement": json.loads(export_measurement(setup, fit, findings)),
    }


@dataclass(frozen=True)
class Description:
    """What a measurement rests on, before it is fitted."""

    bench: Bench
    tables: tuple[Table, ...]
    model: Model
    robust: Robust
    known: Mapping[str, Known]


def read_measurement(text: str) -> Description:
    """Read what a JSON text from `export_measurement` says that a measurement rests on.

    Raises
    ------
    GlowtraceError
        If the text is none of these; says which part is wrong.
    """
    try:
        data = json.loads(text)
        if data["format"] != FORMAT:
            allowed = f'this program reads "{FORMAT}"'
            raise GlowtraceError(Problem("format", repr(data["format"]), allowed))
        return Description(
            bench_from_toml(data["bench"]["toml"]),
            tuple(_table_from(each) for each in data["tables"]),
            _one_of("model", data["model"], {each: each for each in get_args(Model)}),
            _one_of("robust", data["robust"], {each: each for each in get_args(Robust)}),
            {name: _known_from(fact) for name, fact in data["known"].items()},
        )
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        reason = f"without its {error}" if isinstance(error, KeyError) else f"broken: {error}"
        given = f"a text that is {reason}"
        raise GlowtraceError(Problem("measurement", given, "give one written here")) from None


def redo_measurement(
    text: str, *, preparing: Callable[[Bench], PreparedBench] = prepare
) -> tuple[Experiment, Fit]:
    """Make the experiment that a JSON text describes, and fit it anew.

    Parameters
    ----------
    text
        From `export_measurement`.
    preparing
        Prepares the bench where the `bench` model needs it.

    Raises
    ------
    GlowtraceError
        As for `read_measurement`. Errors of the fit as in `fit`.
    """
    told = read_measurement(text)
    apparatus = preparing(told.bench) if told.model == "bench" else told.bench
    setup = experiment(apparatus, told.tables, model=told.model, known=told.known)
    return setup.fitted(robust=told.robust)


# ------------------------------------------------------------ out


def _table_data(readings: Table) -> dict[str, Any]:
    return {
        "method": readings.method,
        "plate_tie": readings.plate_tie,
        "is_invented": readings.is_invented,
        "note": readings.note,
        "runs": list(readings.runs),
        "instruments": {name: asdict(each) for name, each in readings.instruments.items()},
        "columns": [
            {"name": c.name, "symbol": c.symbol, "unit": c.si_unit} for c in readings.columns
        ],
        "rows": [{name: _cell_data(cell) for name, cell in row.items()} for row in readings.rows],
        "faults": {str(n + 1): fault for n, fault in readings.faults.items()},
    }


def _cell_data(cell: Reading) -> dict[str, Any]:
    return {name: value for name, value in asdict(cell).items() if value not in (None, "", ())}


def _fit_data(setup: Experiment, fit: Fit, findings: Findings) -> dict[str, Any]:
    found = separability(fit)
    wanted = [each.name for each in fit.parameters if each.is_free]
    return {
        "parameters": [
            asdict(each) | {"fitted": value, "fitted_uncertainty": math.sqrt(variance)}
            for each, value, variance in zip(
                fit.parameters, fit.values.tolist(), fit.covariance.diagonal().tolist(), strict=True
            )
        ],
        "covariance": fit.covariance.tolist(),
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.degrees_of_freedom,
        "p_value": fit.p_value,
        "verdict": fit.verdict,
        "is_settled": fit.is_settled,
        "series": [
            {
                "label": each.label,
                "rows": [n + 1 for n in readings.usable],
                "residuals": each.residuals.tolist(),
                "weights": each.weights.tolist(),
                "outliers": [readings.usable[n] + 1 for n in each.outliers],
            }
            for readings, each in zip(
                [t for t in setup.tables if t.usable], fit.fitted, strict=True
            )
        ],
        "findings": findings_data(findings, wanted[0]) if wanted else None,
        "untaught": list(found.untaught),
        "entangled": [
            {"names": [first, second], "correlation": r} for first, second, r in found.entangled
        ],
        "taken_as_exact": list(setup.taken_as_exact),
        "budgets": {
            each.name: _budget_data(fit_budget(setup, fit, each.name))
            for each in fit.parameters
            if each.is_free
        },
    }


def _budget_data(budget: Budget) -> dict[str, Any]:
    return asdict(budget) | {
        "degrees_of_freedom": budget.degrees_of_freedom,
        "coverage_factor": budget.coverage_factor,
        "expanded": budget.expanded,
    }


def _plain(data: Any) -> Any:
    """Replace what JSON has no number for."""
    if isinstance(data, Mapping):
        return {name: _plain(value) for name, value in data.items()}
    if isinstance(data, list | tuple):
        return [_plain(value) for value in data]
    if isinstance(data, float) and not math.isfinite(data):
        return None
    return data


def _known_data(fact: Known) -> dict[str, Any]:
    data: dict[str, Any] = {"value": fact.value, "uncertainty": fact.uncertainty}
    return data | ({"correlations": dict(fact.correlations)} if fact.correlations else {})


# ------------------------------------------------------------ in


def _table_from(data: Mapping[str, Any]) -> Table:
    method: Method = _one_of("method", data["method"], {each: each for each in COLUMNS})
    tie: Tie = _one_of("plate_tie", data["plate_tie"], {each: each for each in get_args(Tie)})
    return table(
        method,
        [{name: _cell_from(cell) for name, cell in row.items()} for row in data["rows"]],
        {name: _instrument_from(each) for name, each in data["instruments"].items()},
        plate_tie=tie,
        is_invented=bool(data["is_invented"]),
        note=str(data["note"]),
        runs=tuple(map(str, data.get("runs", ()))),
    )


def _cell_from(data: Mapping[str, Any]) -> Reading:
    return Reading(**{**data, "repeats": tuple(data.get("repeats", ()))})


def _instrument_from(data: Mapping[str, Any]) -> Instrument:
    sway = tuple(tuple(map(float, each)) for each in data.get("sway", ()))
    return Instrument(**{**data, "sway": sway})


def _known_from(data: Mapping[str, Any]) -> Known:
    value, uncertainty = data["value"], data["uncertainty"]
    return Known(
        None if value is None else float(value),
        math.inf if uncertainty is None else float(uncertainty),
        tuple((str(name), float(r)) for name, r in data.get("correlations", {}).items()),
    )


def _one_of(field: str, given: object, known: Mapping[Any, Any]) -> Any:
    if given not in known:
        allowed = "choose " + " or ".join(f'"{each}"' for each in known)
        raise GlowtraceError(Problem(field, repr(given), allowed))
    return known[given]
