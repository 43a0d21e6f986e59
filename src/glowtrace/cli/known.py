"""What is known beforehand about a tube: constants told on the command line, and calibrations."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.options import read_text
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Model
    from glowtrace.measure.calibration import TubeCalibration
    from glowtrace.measure.experiment import Known
    from glowtrace.measure.methods import Method

KnownConstants = Annotated[
    list[str] | None,
    typer.Option(
        "--known",
        metavar="NAME=VALUE",
        help="What is known about a constant of the tube, with its standard uncertainty: "
        '"plate_gap=49.0(3) mm", "coil_factor=1.002(5)"; "plate_gap=± 0.3 mm" is as drawn, so '
        'uncertain; "grid_tilt=free" is fitted too. May be repeated.',
    ),
]
CalibrationChoice = Annotated[
    str | None,
    typer.Option(
        "--calibration",
        metavar="WHICH",
        help="Use a calibration of this tube: latest for the last one kept with the bench, the "
        "name of its entry in the logbook, or a .json file.",
    ),
]


def read_known(told: list[str], bench: Bench, model: Model) -> dict[str, Known]:
    """Read constants like "plate_gap=49.0(3) mm", by their name; none that is usual is added.

    Raises
    ------
    GlowtraceError
        A constant is unknown or told twice, or its value cannot be read.
    """
    from glowtrace.measure.known_text import FACTORS, KNOWABLE, known_from_text

    found: dict[str, Known] = {}
    for text in told:
        head, equals, value = text.partition("=")
        name = "_".join(re.split(r"[\s_-]+", head.strip().lower()))
        if not equals or name not in KNOWABLE:
            wanted = f"give NAME=VALUE, with a NAME of {', '.join(KNOWABLE)}"
            raise BenchError("constants of the tube", [Problem("--known", f'"{text}"', wanted)])
        constant = FACTORS.get(name, name)
        if constant in found:
            problem = Problem("--known", f'"{text}"', f"tell {constant} only once")
            raise BenchError("constants of the tube", [problem])
        try:
            found[constant] = known_from_text(name, value, bench, model)
        except GlowtraceError as error:
            raise error.within(f"--known {name}") from None
    return found


def read_calibration(which: str, bench: Bench) -> TubeCalibration:
    """Give the calibration that was meant: the latest of a bench, one by its entry, or a file.

    Raises
    ------
    GlowtraceError
        There is none, it cannot be read, or it was made for a bench of other geometry.
    """
    from glowtrace.measure.calibration import calibration_from_json
    from glowtrace.store import open_store

    if which.endswith(".json"):
        found = calibration_from_json(read_text(Path(which)))
    else:
        with open_store() as store:
            if which == "latest":
                kept = store.calibrations.list(bench)
                if not kept:
                    problem = Problem(
                        "--calibration",
                        '"latest"',
                        f'none is kept for the bench "{bench.name}"; make one with '
                        "`glowtrace calibration make`",
                    )
                    raise BenchError("calibrations", [problem])
                found = kept[0].calibration
            else:
                found = store.calibrations.open(which).calibration
    found.known(bench)
    return found


def known_by_calibration(
    calibration: TubeCalibration, bench: Bench, method: Method, model: Model
) -> dict[str, Known]:
    """Give what a calibration says about the constants that a method depends on.

    Raises
    ------
    GlowtraceError
        It was made with the other model, whose factors hold something else.
    """
    from glowtrace.store.calibrations import calibration_words, known_for

    if calibration.model != model:
        problem = Problem(
            "--calibration",
            calibration_words(calibration),
            f'it was made with the model "{calibration.model}": add --model {calibration.model}, '
            "or choose another one",
        )
        raise BenchError("calibrations", [problem])
    return known_for(calibration, bench, method)
