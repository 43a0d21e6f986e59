"""A tube's own constants, measured once and kept: effective plate factor and coil factor.

A factor is what acts over what the drawing says: the field between the plates over V_p / gap, and
the flux density over that of the coils at their centre. A calibration belongs to one bench and one
model: that of the `ideal` model holds the fringes of the fields as well.
"""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Final

from glowtrace.bench.identity import fields_key
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import FREE, Experiment, Known, accepted_specific_charge
from glowtrace.measure.experiment import experiment as set_up
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.parameters import index_of
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tube import nominal_tube
from glowtrace.watching import Cancelled, Progress

FORMAT: Final = "glowtrace-calibration 2"
_WITHOUT_CORRELATION: Final = "glowtrace-calibration 1"
"""The format before: its factors are taken for uncorrelated."""


@dataclass(frozen=True)
class Factor:
    """A factor with its standard uncertainty."""

    value: float
    uncertainty: float

    def __post_init__(self) -> None:
        if not (0 < self.value < math.inf and 0 <= self.uncertainty < math.inf):
            given = f"{self.value} with the uncertainty {self.uncertainty}"
            allowed = "give a factor above 0 and an uncertainty of 0 or more"
            raise GlowtraceError(Problem("factor", given, allowed))


@dataclass(frozen=True)
class TubeCalibration:
    """What a tube's plates and coils do, as measured on a day."""

    fields_key: str
    """Of the geometry that it holds for (`glowtrace.bench.identity`)."""
    model: Model
    date: datetime.date
    plate_factor: Factor | None = None
    coil_factor: Factor | None = None
    note: str = ""
    correlation: float = 0.0
    """Correlation coefficient of the two factors: a null, say, knows their product best."""

    def __post_init__(self) -> None:
        both = self.plate_factor is not None and self.coil_factor is not None
        if not (-1 < self.correlation < 1 and (both or self.correlation == 0)):
            allowed = "give more than -1 and less than 1, and 0 where there is only one factor"
            raise GlowtraceError(Problem("correlation", f"{self.correlation}", allowed))

    def known(self, bench: Bench) -> dict[str, Known]:
        """Give the constants for `experiment`, which applies the calibration.

        Where both factors were fitted together their correlation is counted. A calibration against
        the accepted e/m cannot serve to measure e/m by the same method again: that result is the
        accepted value by construction.

        Raises
        ------
        GlowtraceError
            If it belongs to a bench of other geometry.
        """
        if fields_key(bench) != self.fields_key:
            given = f'the bench "{bench.name}"'
            allowed = "it was made for a bench of other geometry; calibrate this one"
            raise GlowtraceError(Problem("calibration", given, allowed))
        nominal = nominal_tube(bench, self.model)
        known = {}
        # A larger plate factor is a smaller gap.
        tie = -math.copysign(1.0, nominal.coil_constant) * self.correlation
        if self.plate_factor is not None:
            gap = nominal.plate_gap / self.plate_factor.value
            relative = self.plate_factor.uncertainty / self.plate_factor.value
            ties = (("coil_constant", tie),) if tie else ()
            known["plate_gap"] = Known(gap, gap * relative, ties)
        if self.coil_factor is not None:
            constant = nominal.coil_constant
            known["coil_constant"] = Known(
                constant * self.coil_factor.value,
                abs(constant) * self.coil_factor.uncertainty,
                (("plate_gap", tie),) if tie else (),
            )
        return known

    def to_json(self) -> str:
        """Write it as JSON text."""
        data = {"format": FORMAT, **asdict(self), "date": self.date.isoformat()}
        return json.dumps(data, indent=2, ensure_ascii=False)


def calibration_from_json(text: str) -> TubeCalibration:
    """Read a calibration from JSON text.

    Raises
    ------
    GlowtraceError
        If it is no such text; says which part is wrong.
    """
    try:
        data = json.loads(text)
        if data["format"] not in (FORMAT, _WITHOUT_CORRELATION):
            allowed = f'this program reads "{FORMAT}" and "{_WITHOUT_CORRELATION}"'
            raise GlowtraceError(Problem("format", repr(data["format"]), allowed))
        if data["model"] not in ("ideal", "bench"):
            raise GlowtraceError(Problem("model", repr(data["model"]), '"ideal" or "bench"'))
        return TubeCalibration(
            fields_key=str(data["fields_key"]),
            model=data["model"],
            date=datetime.date.fromisoformat(data["date"]),
            plate_factor=_factor(data["plate_factor"]),
            coil_factor=_factor(data["coil_factor"]),
            note=str(data["note"]),
            correlation=float(data["correlation"]) if data["format"] == FORMAT else 0.0,
        )
    except (ValueError, KeyError, TypeError) as error:
        reason = f"without its {error}" if isinstance(error, KeyError) else f"broken: {error}"
        given = f"a text that is {reason}"
        raise GlowtraceError(Problem("calibration", given, "give one written here")) from None


def _factor(data: Mapping[str, float] | None) -> Factor | None:
    return None if data is None else Factor(float(data["value"]), float(data["uncertainty"]))


@dataclass(frozen=True, eq=False)
class CalibrationRun:
    """A calibration with the fit that it comes from."""

    calibration: TubeCalibration
    experiment: Experiment
    fit: Fit


def calibrate_tube(
    apparatus: Bench | PreparedBench,
    tables: Table | Sequence[Table],
    *,
    model: Model | None = None,
    date: datetime.date,
    known: Mapping[str, Known] | None = None,
    robust: Robust = "none",
    note: str = "",
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> CalibrationRun:
    """Find the plate and the coil factor of a tube from readings, with e/m as accepted.

    Plates only gives the plate factor; coils only, circles and axial foci the coil factor; a null
    or a turn-back tie the two together.

    Parameters
    ----------
    apparatus, tables, model, known
        As for `experiment`; other constants known beforehand, with their uncertainties.
    date
        Of the readings.
    robust, progress, cancelled
        As for `fit`.
    note
        Anything worth keeping.

    Raises
    ------
    GlowtraceError
        As for `experiment` and its fit.
    """
    every = (tables,) if isinstance(tables, Table) else tuple(tables)
    columns = {column.name for each in every for column in each.columns}
    free = {}
    if "plate_voltage" in columns and {each.method for each in every} - {"null"}:
        free["plate_gap"] = FREE
    if "coil_current" in columns:
        free["coil_constant"] = FREE
    beforehand = {"specific_charge": accepted_specific_charge(), **free, **(known or {})}
    setup = set_up(apparatus, every, model=model, known=beforehand)
    setup, done = setup.fitted(robust=robust, progress=progress, cancelled=cancelled)
    nominal = nominal_tube(setup.bench, setup.model)

    def factor(name: str, whole: float, is_inverse: bool) -> Factor | None:
        if name not in free:
            return None
        value, relative = done.value(name), done.uncertainty(name) / abs(done.value(name))
        ratio = whole / value if is_inverse else value / whole
        return Factor(ratio, ratio * relative)

    return CalibrationRun(
        TubeCalibration(
            fields_key(setup.bench),
            setup.model,
            date,
            factor("plate_gap", nominal.plate_gap, True),
            factor("coil_constant", nominal.coil_constant, False),
            note,
            _correlation_of_factors(done, nominal.coil_constant) if len(free) == 2 else 0.0,
        ),
        setup,
        done,
    )


def _correlation_of_factors(fit: Fit, nominal: float) -> float:
    gap, coils = (index_of(fit.parameters, name) for name in ("plate_gap", "coil_constant"))
    # A larger gap is a smaller plate factor.
    return -math.copysign(1.0, nominal) * float(fit.correlation[gap, coils])
