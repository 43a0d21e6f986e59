"""From readings of circles, and from a photograph, to e/m with its uncertainty budget."""

from dataclasses import replace

import numpy as np

from glowtrace import ready_made
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.findings import find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.separability import separability
from glowtrace.measure.photograph_readings import KnobReadings, circle_readings
from glowtrace.measure.result import measured_specific_charge
from glowtrace.measure.tables.instrument import meter
from glowtrace.measure.tables.readings import reading
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.photographs.circle import circle_of_line
from glowtrace.photographs.grid import fit_screen_map, screen_rectangle_of
from glowtrace.photographs.synthetic import Camera, CurveLight, take_photograph
from glowtrace.photographs.trace_line_extraction import extract_line
from glowtrace.report.measurement.fit_words import (
    finding_sentences,
    result_sentence,
    separability_sentences,
    verdict_sentence,
)

bench = ready_made("fine-beam bulb")
meters = {
    "ruler": meter("0.2 %", "1 mm", "m", judgement="0.5 mm"),
    "accelerating_voltage": meter("0.5 % + 1 digit", "1 V", "V"),
    "coil_current": meter("1 % + 1 digit", "0.01 A", "A"),
}
known = {
    "coil_constant": Known(None, 0.01 * 7.8e-4),  # as drawn, to 1 %
    "earth_z": Known(0.0, 10e-6),  # T: nobody turned the bulb to see
    "contact_offset": Known(0.0, 0.5),  # V
}

# Made up; each diameter read three times.
typed = read_table(
    """D (mm)\tV_a (V)\tI (A)
    81 / 82 / 81\t200\t1.50
    91 / 91 / 92\t250\t1.50
    60 / 61 / 61\t200\t2.00
    71 / 70 / 71\t150\t1.50
    101 / 102 / 101\t250\t1.35""",
    "circle",
)

# A photograph of one more circle, made up as well, with four clicked crossings of its grid.
angle = np.linspace(-np.pi / 2, 1.45 * np.pi, 900)
circle = 0.0355 * np.column_stack([np.cos(angle), 1 + np.sin(angle)])  # m
rectangle = screen_rectangle_of(bench)
camera = Camera((0.0, 0.047), 0.30, turn=0.2, tilt=-0.1, size=(800, 600), focal_length=900.0)
photograph = take_photograph(CurveLight(circle, 0.7e-3), camera, rectangle)
corners = [(-0.06, -0.02), (0.06, -0.02), (0.06, 0.12), (-0.06, 0.12)]
clicked = camera.clicks(corners, uncertainty=1.0, seed=4)  # pixels
line = extract_line(photograph, fit_screen_map(photograph, clicked, rectangle), shape="loop")
found = circle_of_line(line)
print(f"photograph: diameter {1e3 * found.diameter:.2f}({1e3 * found.diameter_uncertainty:.2f}) mm")
seen = circle_readings(
    found, KnobReadings(reading(150.0), coil_current=reading(1.49)), instruments=meters
)

setup = experiment(bench, [replace(typed, instruments=meters), seen], known=known)
fit = setup.fit()
budget = fit_budget(setup, fit)
findings = find(setup, fit)
print(result_sentence(measured_specific_charge(budget), findings))
print(verdict_sentence(fit))
for sentence in finding_sentences(fit, findings, "specific_charge", typed.columns):
    print(sentence)
for entry in budget.lines[:6]:
    print(f"{100 * entry.share:5.1f} %  {entry.name}")
for sentence in separability_sentences(separability(fit)):
    print(sentence)
