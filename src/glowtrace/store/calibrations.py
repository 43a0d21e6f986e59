"""Calibrations of a tube, kept with its bench: entries of the logbook, offered for that bench.

A calibration holds for every bench of the same geometry, whatever its name. One that is withdrawn
in the logbook is no longer offered.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from glowtrace.bench.identity import fields_key
from glowtrace.bench.model import Bench
from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.measure.calibration import TubeCalibration, calibration_from_json
from glowtrace.measure.experiment import Known
from glowtrace.measure.methods import Method, columns_of
from glowtrace.store.attaching import Attachment
from glowtrace.store.entry import Entry
from glowtrace.store.logbook import Logbook
from glowtrace.units import format_measurement
from glowtrace.words.bench import model_told

_TOLD = 0.005
"""From this correlation coefficient on it is told."""


@dataclass(frozen=True)
class KeptCalibration:
    """A calibration that is kept.

    Attributes
    ----------
    id
        Of its entry in the logbook.
    kept
        When it was put there, UTC.
    bench_name
        Of the bench that it was made on.
    calibration
        The calibration, with its date and uncertainties.
    """

    id: str
    kept: datetime
    bench_name: str
    calibration: TubeCalibration


class Calibrations:
    """All calibrations that a logbook keeps.

    Every function raises StoreError where what is asked for is unknown or the database fails;
    nothing is changed then.
    """

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook

    def keep(
        self,
        calibration: TubeCalibration,
        bench: Bench,
        *,
        data: Mapping[str, Any] | None = None,
        attachments: tuple[Attachment, ...] = (),
    ) -> KeptCalibration:
        """Keep a calibration with the bench that it was made on; one that is kept stays one.

        Parameters
        ----------
        calibration, bench
            They belong together; a GlowtraceError says where they do not.
        data
            What it rests on, such as readings, as plain JSON.
        attachments
            Photographs that the readings were taken from.
        """
        calibration.known(bench)
        if (same := self._same(calibration)) is not None:
            return same
        entry = self._logbook.add(
            "calibration",
            f"Calibration of {calibration.date:%d %b %Y}: {calibration_words(calibration)}",
            bench=bench,
            payload={**(data or {}), "calibration": json.loads(calibration.to_json())},
            attachments=attachments,
        )
        return _kept(entry, calibration)

    def _same(self, calibration: TubeCalibration) -> KeptCalibration | None:
        return next((each for each in self.list() if each.calibration == calibration), None)

    def list(self, bench: Bench | None = None) -> tuple[KeptCalibration, ...]:
        """Give those for benches of this geometry, or all; the one measured last first.

        What a newer program kept and this one cannot read is left out.
        """
        found = [
            _kept(entry, calibration)
            for entry in self._logbook.list(kind="calibration")
            if (calibration := calibration_of(entry)) is not None
        ]
        if bench is not None:
            key = fields_key(bench)
            found = [each for each in found if each.calibration.fields_key == key]
        return tuple(sorted(found, key=lambda each: each.calibration.date, reverse=True))

    def open(self, id: str) -> KeptCalibration:
        """Give the calibration of an entry."""
        entry = self._logbook.open(id)
        calibration = calibration_of(entry)
        if calibration is None:
            raise StoreError(f'The entry "{entry.title}" holds no calibration that can be read.')
        return _kept(entry, calibration)


def calibration_of(entry: Entry) -> TubeCalibration | None:
    """Give the calibration that an entry of the logbook holds; None where there is none."""
    if not isinstance(entry.payload, dict) or "calibration" not in entry.payload:
        return None
    try:
        return calibration_from_json(json.dumps(entry.payload["calibration"]))
    except GlowtraceError:
        return None


def known_for(calibration: TubeCalibration, bench: Bench, method: Method) -> dict[str, Known]:
    """Give what a calibration says about the constants that readings of a method depend on."""
    columns = {column.name for column in columns_of(method)}
    needs = {"plate_gap": "plate_voltage", "coil_constant": "coil_current"}
    known = calibration.known(bench)
    return {name: each for name, each in known.items() if needs[name] in columns}


def calibration_words(calibration: TubeCalibration) -> str:
    """Write what a calibration says: factors with their uncertainties, and for which fields."""
    factors = (("plate", calibration.plate_factor), ("coil", calibration.coil_factor))
    parts = [
        f"{name} factor {format_measurement(factor.value, factor.uncertainty, '1')}"
        for name, factor in factors
        if factor is not None
    ]
    if abs(calibration.correlation) >= _TOLD:
        parts.append(f"correlation {calibration.correlation:.2f}")
    return f"{', '.join(parts) or 'no factor'} ({model_told(calibration.model)})"


def _kept(entry: Entry, calibration: TubeCalibration) -> KeptCalibration:
    bench = entry.bench
    return KeptCalibration(entry.id, entry.created, bench.name if bench else "", calibration)
