"""The command that makes clips: a knob is turned, an electron flies, two observers look."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import KnobName, SettingsOptions, knob_named
from glowtrace.cli.options import AsJson, BenchChoice, ModelChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.ranges import read_range
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.bench.settings import Settings
    from glowtrace.report.clips.clip import Clip, ClipForm

EXAMPLES = """Examples:

\b
glowtrace clip sweep "deflection tube" --turn plate --range "-2 kV to 2 kV" --out up-and-down.mp4
glowtrace clip flight "fine-beam bulb" --accelerating "250 V" --coil "1.5 A" --out circle.mp4
glowtrace clip drift my-tube.toml --settings turn-back.toml --size 1080p --out two-observers.mp4
"""


class Shows(StrEnum):
    """What a clip shows."""

    SWEEP = "sweep"
    FLIGHT = "flight"
    DRIFT = "drift"


class Rate(StrEnum):
    """Frames a second."""

    TEN = "10"
    TWENTY = "20"
    TWENTY_FIVE = "25"
    FIFTY = "50"


@with_groups
def clip(
    shows: Annotated[
        Shows,
        typer.Argument(
            metavar="sweep|flight|drift",
            show_default=False,
            help="sweep: a knob is turned; flight: one electron with its forces, slowed down; "
            "drift: the same from the laboratory and from the drift frame, side by side.",
        ),
    ],
    bench: BenchChoice,
    options: SettingsOptions,
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="The file to write: .mp4 with captions, or .gif.")
    ],
    turn: Annotated[
        KnobName | None,
        typer.Option(
            parser=knob_named, metavar="KNOB", help="Of a sweep: accelerating, plate or coil."
        ),
    ] = None,
    sweep_range: Annotated[
        str | None,
        typer.Option(
            "--range",
            metavar="RANGE",
            help='Of a sweep: from where to where, as in "-2 kV to 2 kV"; below zero the polarity '
            "is reversed. Left out, the whole range that the ratings allow.",
        ),
    ] = None,
    there_and_back: Annotated[
        bool, typer.Option("--there-and-back", help="Turn the knob back again within the time.")
    ] = False,
    textbook: Annotated[
        bool, typer.Option("--textbook/--no-textbook", help="Of a sweep: the textbook’s line too.")
    ] = True,
    seconds: Annotated[float, typer.Option(metavar="S", help="How long, 1 to 120 s.")] = 6.0,
    rate: Annotated[Rate, typer.Option(help="Frames a second.")] = Rate.TWENTY_FIVE,
    size: Annotated[
        Literal["480p", "720p", "1080p"], typer.Option(help="Lines of a frame.")
    ] = "720p",
    model: ModelChoice = "bench",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a clip of a demonstration: MP4 or GIF.

    MP4 is H.264 with a captions track. Ctrl + C stops it, and no file is left then.
    """
    from glowtrace.report.clips.clip import ClipForm
    from glowtrace.report.clips.file import CLIP_ENDINGS, save_clip

    form = ClipForm(seconds, int(rate), size, model)
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.require("--out", out, CLIP_ENDINGS)
        found = find_bench(bench)
        settings, ends = _settings(shows, found, options, turn, sweep_range)
        with getting_ready(found) as (prepared, show):
            show(None, "looking at what there is to show")
            if ends is not None and turn is not None:
                from glowtrace.report.clips.sweep import sweep_clip

                made = sweep_clip(
                    prepared, settings, turn.setting, *ends, form=form,
                    is_there_and_back=there_and_back, with_textbook=textbook,
                )  # fmt: skip
            else:
                made = _flown(shows, prepared, settings, form)
            save_clip(out, made, progress=show)
            outputs.note(out)
        present(
            outputs,
            "clip",
            lambda: {"title": made.title, "frames": made.count, "duration_s": made.seconds,
                     "size": made.size},
            lambda: typer.echo(f"{made.title}: {made.count} frames, {made.seconds:g} s"),
            as_json=as_json,
            bench=found,
        )  # fmt: skip


def _settings(
    shows: Shows,
    bench: Bench,
    options: SettingsOptions,
    turn: KnobName | None,
    sweep_range: str | None,
) -> tuple[Settings, tuple[float, float] | None]:
    """Give the settings, and of a sweep the two ends of the turned knob."""
    if shows is not Shows.SWEEP:
        wanted = "--turn and --range belong to a sweep: leave them out"
        for option, told in (("--turn", turn), ("--range", sweep_range)):
            if told is not None:
                raise BenchError("clip", [Problem(option, f'"{told}"', wanted)])
        return options.choose(bench), None
    if turn is None:
        wanted = "a sweep turns a knob: give accelerating, plate or coil"
        raise BenchError("clip", [Problem("--turn", "nothing", wanted)])
    settings = options.choose_beside(bench, (turn,))
    from glowtrace.bench.ratings import KNOBS, knob_ranges

    if sweep_range is not None:
        return settings, read_range("clip", "--range", sweep_range, KNOBS[turn.setting])

    low, high, _ = knob_ranges(bench)[turn.setting]
    return settings, (low, high)


def _flown(shows: Shows, prepared: PreparedBench, settings: Settings, form: ClipForm) -> Clip:
    if shows is Shows.FLIGHT:
        from glowtrace.report.clips.flight import flight_clip

        return flight_clip(prepared, settings, form=form)
    from glowtrace.report.clips.drift import drift_clip

    return drift_clip(prepared, settings, form=form)
