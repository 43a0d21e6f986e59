"""The measurement report: what it must say, the same bytes each time, and redoing it from files.

Statistics are held against numpy; the rest are rules of the project, no source. The reference
e/m is CODATA's as scipy has it.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from functools import cache

import numpy as np
import pytest
from pypdf import PdfReader
from scipy import constants

from glowtrace.bench.checking import change
from glowtrace.bench.files import bench_from_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known, accepted_specific_charge, experiment
from glowtrace.measure.export import redo_measurement
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, table
from glowtrace.photographs.photograph import Photograph
from glowtrace.report.measurement.chart import chart_columns
from glowtrace.report.measurement.content import build_measurement_report
from glowtrace.report.measurement.report import (
    measurement_csv,
    measurement_json,
    measurement_report,
    save_measurement,
)
from glowtrace.report.measurement.words import measurement_text, quantity_text

ROWS = [
    {"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 0.0825},
    {"accelerating_voltage": 250.0, "coil_current": 1.5, "diameter": [0.092, 0.0925, 0.093]},
    {"accelerating_voltage": 250.0, "coil_current": 1.4, "diameter": Reading(0.099, 5e-4)},
    {"accelerating_voltage": 250.0, "coil_current": 1.4, "diameter": None},
    {"accelerating_voltage": 150.0, "coil_current": 1.5, "diameter": 0.0715},
    {"accelerating_voltage": 300.0, "coil_current": 1.6, "diameter": 0.0945},
]
METERS = {
    "ruler": Instrument(1e-3, judgement=5e-4),
    "coil_current": Instrument(0.01, 0.01, 0.01, name="M1"),
}
ODD = r'#eval("1") *b* $x$ [c] <l> @r'


@cache
def setup(name="fine-beam bulb", note="readings of a made-up class"):
    bench = change(ready_made("fine-beam bulb"), {"name": name})
    made = table("circle", ROWS, METERS, is_invented=True, note=note)
    return experiment(bench, made, known={"coil_constant": Known(None, 4e-6)})


@cache
def fitted():
    return setup().fit()


def text_of(pdf):
    pages = PdfReader(io.BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def squeezed(text):
    return re.sub(r"[\s\xad]+", "", text)


def csv_lines(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_report_tells_all_that_was_built():
    content = build_measurement_report(setup(), fitted())
    pdf = squeezed(text_of(measurement_report(setup(), fitted())))
    told = [
        content.title, content.bench, *content.conclusion, *content.method, *content.exact,
        *(cell for each in content.tables for row in each.rows for cell in row),
        *(meter for each in content.tables for meter in each.meters),
        *(cell for row in content.parameters for cell in row),
        *(cell for each in content.budgets for line in each.lines for cell in line),
        *(each.summary for each in content.budgets),
        "readings of a made-up class", "invented data, for demonstration", "D: missing", "(n = 3)",
    ]  # fmt: skip
    for words in told:
        assert squeezed(words) in pdf


def test_the_conclusion_has_value_uncertainty_and_comparison():
    content = build_measurement_report(setup(), fitted())
    value, uncertainty = fitted().value("specific_charge"), fitted().uncertainty("specific_charge")
    assert f"{value / 1e11:.2f}" in content.conclusion[0]
    assert "expanded uncertainty" in content.conclusion[0]
    accepted = -constants.physical_constants["electron charge to mass quotient"][0]
    assert f"{accepted / 1e11:.5f} × 10¹¹ C/kg" in content.conclusion[1]
    agrees = abs(value - accepted) <= 2 * uncertainty
    assert ("agrees with the accepted value" in content.conclusion[1]) == agrees
    assert "freedom" in content.conclusion[-1]


def test_residuals_stand_beside_their_rows():
    (printed,) = build_measurement_report(setup(), fitted()).tables
    shown = [row[-2] for row in printed.rows]
    whitened = fitted().fitted[0].residuals[:, 0]
    assert shown[3] == "–"
    read = [float(words.replace("−", "-")) for n, words in enumerate(shown) if n != 3]
    np.testing.assert_allclose(read, whitened, atol=0.00501)


def test_the_same_measurement_is_the_same_file():
    first = measurement_report(setup(), fitted())
    assert measurement_report(setup(), setup().fit()) == first


@pytest.mark.parametrize(("paper", "width"), [("a4", 595.3), ("us-letter", 612.0)])
def test_paper(paper, width):
    pages = PdfReader(io.BytesIO(measurement_report(setup(), fitted(), paper=paper))).pages
    assert {round(float(page.mediabox.width), 1) for page in pages} == {width}


def test_names_and_notes_cannot_act_as_markup():
    odd = setup(ODD, ODD)
    pdf = squeezed(text_of(measurement_report(odd, odd.fit())))
    assert pdf.count(squeezed(ODD)) >= 2


def test_constants_of_the_tube_are_reported_without_a_comparison():
    made = table("circle", ROWS, METERS)
    known = {"specific_charge": accepted_specific_charge(), "coil_constant": Known(None, math.inf)}
    tube = experiment(ready_made("fine-beam bulb"), made, known=known)
    content = build_measurement_report(tube, tube.fit())
    assert content.title == "Measurement: coil constant"
    assert content.conclusion[0].startswith("coil constant = 77")
    assert not any("CODATA" in sentence for sentence in content.conclusion)


def test_a_robust_fit_marks_the_outlier():
    rows = [*ROWS, {"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 0.12}]
    bad = experiment(ready_made("fine-beam bulb"), table("circle", rows, METERS))
    content = build_measurement_report(bad, bad.fit(robust="student"))
    assert "robust" in content.method[1]
    assert "outlier" in content.tables[0].rows[-1][-1]
    assert any("Row 7" in each for each in content.conclusion)


@pytest.mark.slow
def test_a_photograph_is_shown_and_made_smaller():
    pixels = np.zeros((2000, 3000, 3), dtype=np.uint8)
    pixels[:, :1500] = 200
    plain = measurement_report(setup(), fitted())
    shown = measurement_report(
        setup(), fitted(), photograph=Photograph(pixels), photograph_words="A ring"
    )
    assert "A ring" in text_of(shown)
    assert "A ring" not in text_of(plain)
    (image,) = images(shown)
    assert image.image.size == (1600, 1067)
    assert not images(plain)


def images(pdf):
    return [image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]


def test_json_redoes_the_measurement():
    text = measurement_json(setup(), fitted())
    assert json.loads(text)["format"].startswith("glowtrace-measurement")
    _, again = redo_measurement(text)
    assert again.values.tolist() == fitted().values.tolist()


def test_csv_redoes_the_measurement():
    again = redone(csv_lines(measurement_csv(setup(), fitted())))
    assert again.tables == setup().tables
    assert again.bench == setup().bench
    assert again.fit().values.tolist() == fitted().values.tolist()


def redone(lines):
    """Set the experiment up anew from nothing but the lines of the table."""

    def of(kind):
        return [line for line in lines if line["kind"] == kind]

    (bench,) = of("bench")
    about = {line["name"]: line["text"] for line in of("table")}
    model = next(line["text"] for line in of("fit") if line["name"] == "model")
    meters: dict[str, dict[str, object]] = {}
    for line in of("instrument"):
        meter, part = line["name"].split(".")
        if part == "sway":
            assert line["text"] == ""  # no photograph here
            continue
        meters.setdefault(meter, {})[part] = (
            line["text"] if part == "name" else float(line["value"])
        )
    rows: dict[str, dict[str, Reading]] = {}
    for line in of("reading"):
        repeats = tuple(map(float, line["text"].split()))
        value, uncertainty = (
            float(line[key]) if line[key] else None for key in ("value", "uncertainty")
        )
        rows.setdefault(line["row"], {})[line["name"]] = Reading(value, uncertainty, repeats)
    made = table(
        about["method"],
        rows.values(),
        {name: Instrument(**parts) for name, parts in meters.items()},
        plate_tie=about["plate_tie"],
        is_invented=about["is_invented"] == "true",
        note=about["note"],
    )
    known = {
        line["name"]: Known(
            float(line["value"]) if line["value"] else None,
            math.inf if line["uncertainty"] == "free" else float(line["uncertainty"]),
        )
        for line in of("known")
    }
    return experiment(bench_from_toml(bench["text"]), made, model=model, known=known)


def test_csv_has_results_residuals_and_faults():
    lines = csv_lines(measurement_csv(setup(), fitted()))
    charge = next(line for line in lines if line["name"] == "specific_charge")
    assert float(charge["fitted"]) == fitted().value("specific_charge")
    assert float(charge["uncertainty"]) == fitted().uncertainty("specific_charge")
    residuals = [float(line["value"]) for line in lines if line["kind"] == "residual"]
    assert residuals == fitted().fitted[0].residuals[:, 0].tolist()
    faults = [(line["row"], line["text"]) for line in lines if line["kind"] == "fault"]
    assert faults == [("4", "D: missing")]
    budget = [line for line in lines if line["kind"] == "budget of specific_charge"]
    total = math.fsum(float(line["fitted"]) ** 2 for line in budget)
    assert math.sqrt(total) == pytest.approx(fitted().uncertainty("specific_charge"), rel=1e-6)


@pytest.mark.parametrize("ending", [".pdf", ".json", ".csv"])
def test_files_by_their_ending(tmp_path, ending):
    path = tmp_path / f"measured{ending}"
    save_measurement(path, setup(), fitted())
    content = path.read_bytes()
    starts = {".pdf": b"%PDF", ".json": b"{", ".csv": b"kind,table,row"}
    assert content.startswith(starts[ending])
    with pytest.raises(GlowtraceError, match="must end in"):
        save_measurement(tmp_path / "measured.txt", setup(), fitted())


def test_charts_lie_over_the_reading_that_varies_most():
    across, upright = chart_columns(setup().tables[0])
    assert (across.name, upright.name) == ("accelerating_voltage", "diameter")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (quantity_text(math.nan, "V"), "–"),
        (quantity_text(7.79e-4, "T/A", 3), "779 µT/A"),
        (measurement_text(7.793e-4, 4e-6, "T/A"), "779(4) µT/A"),
        (measurement_text(0.0066, 1.13, "V"), "0 V ± 1.1 V"),
        (measurement_text(3.0, 0.0, "V"), "3.000 V"),
    ],
)
def test_numbers_in_words(text, words):
    assert text == words
