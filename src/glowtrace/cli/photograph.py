"""The command that reads a photograph: the glowing line on the screen's grid, as readings."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.frame import about, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, progress_bar
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.measure.methods import Method
    from glowtrace.measure.tables.readings import Table
    from glowtrace.photographs.grid import ScreenMap
    from glowtrace.photographs.grid_points import GridPoint
    from glowtrace.photographs.photograph import Photograph
    from glowtrace.photographs.trace_line import TraceLine

_FORMAT = "glowtrace-photograph 2"
_FEWEST_POINTS = 4
"""Told grid points from which the map rests on them alone."""
_GIVE_FOUR = "; give four or more grid points with --at"
_GIVE_ONE = "; give one crossing that you know with --at"

EXAMPLES = """Examples:

\b
glowtrace photograph trace.jpg "deflection tube" --points points.csv --overlay seen.png
glowtrace photograph trace.jpg "deflection tube" --accelerating "3 kV" --plate "1 kV" \\
    --readings readings.csv

Without --at the printed grid is looked for. --at "20 mm, -10 mm = 812, 1433" says where in the
photograph (pixels from the left and from the top) a crossing of the grid is seen. One tells which
line is which where the grid is found but not its labels; with four or more the grid is not looked
for, with six or more the lens's distortion is fitted as well.
"""


@with_groups
def photograph(
    image: Annotated[
        Path, typer.Argument(show_default=False, help="A photograph: JPEG, PNG or HEIC.")
    ],
    bench: BenchChoice,
    options: SettingsOptions,
    at: Annotated[
        list[str] | None,
        typer.Option(
            "--at", metavar="PLACE=PIXEL", help='A grid point: "20 mm, -10 mm = 812, 1433".'
        ),
    ] = None,
    shape: Annotated[
        Literal["single-valued", "loop"] | None,
        typer.Option(help="loop for circles and lines that turn back; the bench's usual one."),
    ] = None,
    points: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the points to a .csv file.")
    ] = None,
    overlay: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the photograph with the line to a .png file."),
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write readings for `glowtrace measure` to a .csv file."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Read the glowing line off a photograph of the screen.

    Exit code 1 says that no line was found; the findings say why.
    """
    from glowtrace.report.output import write_output

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        points = outputs.want("--points", points, (".csv",))
        overlay = outputs.want("--overlay", overlay, (".png",))
        readings = outputs.want("--readings", readings, (".csv",))
        found = find_bench(bench)
        settings = options.choose(found) if readings is not None else None
        with progress_bar() as show:
            show(None, "reading the photograph")
            from glowtrace.photographs.photograph import load_photograph

            taken = load_photograph(image)
            screen_map, says = screen_map_of(taken, found, at or [])
            line = line_in(taken, screen_map, found, shape) if screen_map is not None else None
        is_found = line is not None and line.is_found
        notes = _notes(line, found, settings) if line is not None else []
        if line is not None and is_found and points is not None:
            write_output(points, _points_csv(line).encode())
            outputs.note(points)
        if line is not None and is_found and readings is not None and settings is not None:
            write_output(readings, _readings_csv(line, found, settings).encode())
            outputs.note(readings)
        if overlay is not None and screen_map is not None:
            from glowtrace.photographs.overlay import overlay_png

            write_output(overlay, overlay_png(taken, line=line, screen_map=screen_map))
            outputs.note(overlay)
        present(
            outputs,
            "photograph",
            lambda: (
                about(found)
                | {"format": _FORMAT, "grid": says, "line": line.as_dict() if line else None}
                | {"notes": notes}
            ),
            lambda: _tell(says, line, notes, has_readings=readings is not None and is_found),
            as_json=as_json,
        )
    if not is_found:
        raise typer.Exit(1)


def screen_map_of(taken: Photograph, bench: Bench, at: list[str]) -> tuple[ScreenMap | None, str]:
    """Map the photograph to the screen, by the told grid points or by the printed grid."""
    from glowtrace.photographs.grid import FEWEST_WITH_LENS, fit_screen_map, screen_rectangle_of
    from glowtrace.photographs.grid_finding import find_grid
    from glowtrace.photographs.grid_lines import grey, printed_grid

    clicked = [_grid_point(text) for text in at]
    if len(clicked) < _FEWEST_POINTS:
        looked = find_grid(grey(taken), printed_grid(bench), known=clicked)
        says = looked.says.replace("; click four or more grid points", _GIVE_FOUR)
        return looked.screen_map, says.replace("; click one crossing that you know", _GIVE_ONE)
    lens = len(clicked) >= FEWEST_WITH_LENS
    found = fit_screen_map(taken, clicked, screen_rectangle_of(bench), lens=lens)
    fits = f"{len(clicked)} grid points, which fit to {found.rms_residual:.2f} px"
    return found, f"{fits}; with the lens's distortion" if lens else fits


def _grid_point(text: str) -> GridPoint:
    """Read PLACE=PIXEL."""
    from glowtrace.photographs.grid_points import grid_point

    try:
        return grid_point(text)
    except ValueError:
        wanted = 'give PLACE=PIXEL, as in "20 mm, -10 mm = 812, 1433"'
        raise BenchError("grid points", [Problem("--at", f'"{text}"', wanted)]) from None


def line_in(
    taken: Photograph,
    screen_map: ScreenMap,
    bench: Bench,
    shape: Literal["single-valued", "loop"] | None = None,
) -> TraceLine:
    """Find the line; of the bench's usual shape where none is told."""
    from glowtrace.photographs.trace_line_extraction import extract_line

    usual: Literal["single-valued", "loop"] = "loop" if bench.plane.glows else "single-valued"
    return extract_line(taken, screen_map, shape=shape or usual, grid_pitch=bench.screen.grid_pitch)


def _points_csv(line: TraceLine) -> str:
    """Write the points that count, their standard uncertainties and the line's width, in mm."""
    kept = line.kept
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["u_mm", "v_mm", "u_uncertainty_mm", "v_uncertainty_mm", "width_mm"])
    for (u, v), spread, width in zip(kept.places, kept.own_covariance, kept.width, strict=True):
        sizes = (max(spread[n, n], 0.0) ** 0.5 for n in range(2))
        writer.writerow([f"{1e3 * value:.4f}" for value in (u, v, *sizes, 2.0 * width)])
    return text.getvalue()


def _readings_csv(line: TraceLine, bench: Bench, settings: Settings) -> str:
    from glowtrace.measure.tables.spreadsheet import write_table

    return write_table(_readings(line, bench, settings), separator=",")


def _readings(line: TraceLine, bench: Bench, settings: Settings) -> Table:
    """Give the line as readings of the method that the settings fit, with usual meters."""
    from glowtrace.measure.photograph_readings import KnobReadings, circle_readings, line_readings
    from glowtrace.measure.tables.readings import reading
    from glowtrace.measure.usual_meters import meter_names, usual_meter
    from glowtrace.photographs.agreement import require_on_screen
    from glowtrace.photographs.circle import circle_of_line

    plates, coil = settings.signed_plate_voltage, settings.signed_coil_current
    knobs = KnobReadings(
        reading(settings.accelerating_voltage),
        reading(plates) if plates else None,
        reading(coil) if coil else None,
    )
    if line.shape == "loop":
        usual = {name: usual_meter(name, "circle") for name in meter_names("circle")}
        circle = circle_of_line(line)
        require_on_screen(circle, line)
        return circle_readings(circle, knobs, instruments=usual)
    method: Method = "coils only" if coil else "plates only"
    # The photograph is the ruler.
    usual = {name: usual_meter(name, method) for name in meter_names(method) if name != "ruler"}
    return line_readings(line, bench.screen, knobs, instruments=usual, plate_tie=settings.plate_tie)


def _notes(line: TraceLine, bench: Bench, settings: Settings | None) -> list[str]:
    """Say what is to be known about the line as a reading at these settings."""
    from glowtrace.photographs.agreement import far_from_settings
    from glowtrace.photographs.circle import circle_of_line

    notes: list[str] = []
    if settings is None or not line.is_found:
        return notes
    if (far := far_from_settings(line, bench, settings)) is not None:
        notes.append(far)
    if line.shape == "loop" and len(line.kept) > _FEWEST_POINTS:
        notes += circle_of_line(line).findings
    return notes


def _tell(says: str, line: TraceLine | None, notes: list[str], *, has_readings: bool) -> None:
    print_paragraph(f"{says[:1].upper()}{says[1:]}.")
    if line is not None:
        if line.is_found:
            print_paragraph(f"Line: {len(line.kept)} points in the channel {line.channel}.")
        for finding in line.findings:
            print_paragraph(f"Note: {finding.says}.")
        for note in notes:
            print_paragraph(f"Note: {note}.")
    if has_readings:
        print_paragraph(
            "The meters in the readings are usual ones: write what yours are good for at the top "
            "of the file."
        )
