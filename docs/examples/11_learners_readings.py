"""What readings of real learners say: a trend that forbids an interval, and a focus that agrees."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from glowtrace import ready_made
from glowtrace.bench.model import Bench, CoilPair
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.findings import Findings, find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.result import Result, measured_specific_charge
from glowtrace.measure.tables.instrument import meter
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.measure.usual_meters import usual_knowledge
from glowtrace.report.measurement.fit_words import (
    agreement_sentence,
    finding_sentences,
    result_sentence,
    verdict_sentence,
)

READINGS = Path(__file__).parent / "readings"  # with their source


def tell(bench: Bench, readings: Table, known: Mapping[str, Known]) -> tuple[Result, Findings]:
    """Fit readings and tell what comes of it."""
    setup, fit = experiment(bench, readings, known=known).fitted()
    findings = find(setup, fit)
    result = measured_specific_charge(fit_budget(setup, fit))
    print(result_sentence(result, findings))
    print(agreement_sentence(result, findings))
    for sentence in finding_sentences(fit, findings, "specific_charge", readings.columns):
        print(f"- {sentence}")
    print(verdict_sentence(fit))
    return result, findings


# Circles in a gas bulb, read with a ruler and no mirror: two tables, one experiment.
bulb = ready_made("fine-beam bulb")
assert isinstance(bulb.coils, CoilPair)
coils = bulb.coils.model_copy(update={"turns": 130, "mean_radius": 0.15, "spacing": 0.15})
bulb = bulb.model_copy(update={"coils": coils})
files = ("diameter_over_voltage.csv", "diameter_over_current.csv")
tables = [read_table((READINGS / name).read_text(), "circle") for name in files]
meters = {
    "ruler": meter("0.2 %", "1 mm", "m"),  # as if the eye were perfect
    "accelerating_voltage": meter("0.5 % + 2 digits", "1 V", "V"),
    "coil_current": meter("1 % + 2 digits", "1 mA", "A"),
}
circles = replace(
    tables[0], rows=tuple(row for table in tables for row in table.rows), instruments=meters
)
known = usual_knowledge(bulb) | {"coil_constant": Known(None, 7e-6)}  # T/A: to 1 %
circle_result, circle_findings = tell(bulb, circles, known)

# The smallest spot in a long coil: U and I of each row, and the distance once for all.
print()
tube = ready_made("axial coil tube")  # its coil constant was measured, see below
text = (READINGS / "focusing_current.csv").read_text()
foci = replace(
    read_table(text, "axial focus", same={"L": "70 mm"}),
    instruments={
        "accelerating_voltage": meter("0.5 % + 2 digits", "1 V", "V"),
        "coil_current": meter("", "1 mA", "A", judgement="8 mA"),
    },
)
known = {
    "coil_constant": Known(19.8e-3, 0.3e-3),  # T/A, with a Hall probe
    "focus_shift": Known(0.0, 1e-3),  # m: the tube's drawing
}
focus_result, focus_findings = tell(tube, foci, known)
