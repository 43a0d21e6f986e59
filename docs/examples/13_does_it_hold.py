"""Does a 95 % interval hold the true e/m? Circles in a stray field that nobody told."""

from pathlib import Path
from tempfile import TemporaryDirectory

from glowtrace import Settings, ready_made
from glowtrace.report.study_figure import coverage_text
from glowtrace.studies import Around, Measurement, Study, run_study, summarise

study = Study(
    bench=ready_made("fine-beam bulb"),
    settings=Settings(accelerating_voltage=200.0),
    plan="hidden truth",
    measurement=Measurement("circle"),
    model="ideal",  # the fit is the textbook's formula; the readings come from the real fields
    vary={"slack.stray_field[2]": Around(0.0, 20e-6)},  # T; the description knows nothing of it
    rows=16,
)

if __name__ == "__main__":
    with TemporaryDirectory() as folder:
        summary = summarise(study, run_study(study, Path(folder) / "rows", workers=1))
    print(coverage_text(summary))
