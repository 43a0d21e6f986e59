"""Parameters that several commands share, and the bench and settings that they stand for."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.printing import is_there
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.store import SavedBench

Tie = Literal["symmetric", "lower at anode", "upper at anode"]
Source = Literal["own supply", "accelerating supply"]


class Cause(StrEnum):
    """What makes the trace wide, as it is called on the command line."""

    THERMAL_SPREAD = "thermal-spread"
    RIPPLE = "ripple"
    DIVERGENCE = "divergence"


BenchChoice = Annotated[
    str,
    typer.Argument(
        show_default=False,
        help="A ready-made or saved bench by its name, or the path of a bench file.",
    ),
]
SettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", metavar="FILE", help="Start from a settings file."),
]
Accelerating = Annotated[
    str | None,
    typer.Option("--accelerating", metavar="VOLTAGE", help='Accelerating voltage, as in "3 kV".'),
]
Plate = Annotated[
    str | None,
    typer.Option("--plate", metavar="VOLTAGE", help='Voltage between the plates: "1.2 kV".'),
]
PlateTie = Annotated[
    Tie | None,
    typer.Option(
        "--plate-tie",
        metavar="TIE",
        help='What of the plates has the anode\'s potential: "symmetric" (their middle), '
        '"lower at anode" or "upper at anode".',
    ),
]
PlateSource = Annotated[
    Source | None,
    typer.Option(
        "--plate-source",
        metavar="SOURCE",
        help='What feeds the plates: "own supply" or "accelerating supply".',
    ),
]
ReversePlates = Annotated[
    bool | None,
    typer.Option("--reverse-plates/--keep-plates", help="Swap the leads of the plates."),
]
Coil = Annotated[
    str | None,
    typer.Option("--coil", metavar="CURRENT", help='Current in the coils, as in "250 mA".'),
]
ReverseCoils = Annotated[
    bool | None,
    typer.Option("--reverse-coils/--keep-coils", help="Swap the leads of the coils."),
]
HeaterOff = Annotated[
    bool | None, typer.Option("--heater-off/--heater-on", help="Leave the cathode cold.")
]
Without = Annotated[
    list[Cause] | None,
    typer.Option(
        "--without",
        metavar="CAUSE",
        help="Leave a cause of the trace's width out: thermal-spread, ripple or divergence; "
        "may be repeated.",
    ),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print one JSON object, and nothing else, to stdout.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace what has this name.")]

_KNOBS = ("accelerating_voltage", "plate_voltage", "coil_current")


def find_bench(choice: str) -> Bench:
    """Give the ready-made bench, the bench file or the saved bench that was named.

    Raises
    ------
    BenchError
        There is none of this name, or the file cannot be read.
    """
    from glowtrace.bench.files import load_bench
    from glowtrace.bench.ranges import show
    from glowtrace.bench.ready_made import ready_made, ready_made_names

    if choice in ready_made_names():
        return ready_made(choice)
    path = Path(choice)
    if path.suffix == ".toml" or path.parent != Path() or is_there(path):
        return load_bench(path)
    saved = {one.name: one for one in saved_benches()}
    if choice in saved:
        return saved[choice].bench
    names = ", ".join(f'"{name}"' for name in (*ready_made_names(), *saved))
    wanted = f"choose {names}, or give the path of a bench file"
    raise BenchError("benches", [Problem("BENCH", show(" ".join(choice.split())), wanted)])


def saved_benches() -> tuple[SavedBench, ...]:
    """Give the saved benches; none, and no new database, where nothing was ever saved."""
    from glowtrace.store import open_store
    from glowtrace.store.location import database_location

    location = database_location()
    if isinstance(location, Path) and not location.exists():
        return ()
    with open_store(location) as store:
        return store.benches.list()


def choose_settings(
    bench: Bench,
    file: Path | None,
    *,
    accelerating: str | None,
    plate: str | None,
    plate_tie: Tie | None,
    plate_source: Source | None,
    reverse_plates: bool | None,
    coil: str | None,
    reverse_coils: bool | None,
    heater_off: bool | None,
    without: list[Cause] | None,
) -> Settings:
    """Give the settings that the options tell, within the ratings of the bench.

    They change those of a file where one is given. Else a knob that is not told is at zero; only
    where no knob is told at all, the bench is set to show its demonstration.

    Raises
    ------
    BenchError
        A value cannot be read, or the accelerating voltage is missing.
    RatingError
        A rating of the bench is passed; the text names it.
    """
    from glowtrace.bench.checking import change, check
    from glowtrace.bench.files import load_settings
    from glowtrace.bench.ratings import require_within_ratings
    from glowtrace.bench.settings import Settings
    from glowtrace.web.opening import opening_settings

    options = {
        "accelerating_voltage": accelerating,
        "plate_voltage": plate,
        "plate_tie": plate_tie,
        "plate_source": plate_source,
        "plate_reversed": reverse_plates,
        "coil_current": coil,
        "coil_reversed": reverse_coils,
        "heater_on": None if heater_off is None else not heater_off,
        **{cause.replace("-", "_"): False for cause in without or ()},
    }
    told = {name: value for name, value in options.items() if value is not None}
    if file is not None:
        subject = f'settings file "{file}" with the options'
        settings = change(load_settings(file), told, subject, is_written=True)
    elif told.keys() & _KNOBS:
        settings = check(Settings, told, "settings", is_written=True)
    else:
        settings = change(opening_settings(bench), told, "settings", is_written=True)
    require_within_ratings(bench, settings)
    return settings
