"""Does a 95 % interval hold the true e/m, where the coils are not quite as described?"""

from pathlib import Path
from tempfile import TemporaryDirectory

from glowtrace import Settings, ready_made
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
    found = summary.coverage
    print(f"{found.held} of {found.stated} intervals hold the true e/m,")
    print(f"so {100 * found.low:.0f} % to {100 * found.high:.0f} % of all such would (95 %).")
    print(f"Half an interval: {found.half_width / 1e11:.2g} x 10^11 C/kg")
