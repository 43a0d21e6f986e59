"""The command that writes a shot list: a demonstration to be filmed, shot by shot."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.frame import present
from glowtrace.cli.goals import GoalTargets
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import (
    AsJson,
    BenchChoice,
    EarthChoice,
    Overwrite,
    RoomTemperature,
    RunTime,
    find_bench,
    find_settings,
)
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.plan import Fixed, TakeAnswer
from glowtrace.cli.printing import print_paragraph, progress_bar
from glowtrace.cli.safety import read_room_temperature, read_run_minutes
from glowtrace.cli.scene_options import SceneOptions
from glowtrace.cli.sheet import NO, made_ready, planned_for, require_one_start
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.report.shot_lists.content import Shot, ShotList
    from glowtrace.shots.lens import Lens

EXAMPLES = """Examples:

\b
glowtrace shots "deflection tube" --goal null --out null-film.pdf
glowtrace shots "deflection tube" --goal null --lens webcam --room "dark room"
glowtrace shots my-tube.toml --settings up.toml --also down.toml --size "longest=85 mm" \\
  --lens "interchangeable lens" --say "3=Now the coils alone." --out film.md
"""


@with_groups
def shots(
    bench: BenchChoice,
    options: SettingsOptions,
    targets: GoalTargets,
    scene_options: SceneOptions,
    goal: Annotated[
        str | None,
        typer.Option(metavar="GOAL", help="Plan this goal first, in place of settings."),
    ] = None,
    fix: Fixed = None,
    take: TakeAnswer = 1,
    also: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SETTINGS", help="Film these settings too (file or saved); may be repeated."
        ),
    ] = None,
    lens: Annotated[
        Literal["telephone", "interchangeable lens", "webcam"],
        typer.Option(help="The camera, by usual sizes."),
    ] = "telephone",
    size: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SIZE=VALUE",
            help='A size of your own camera: "sensor_width=36 mm", "shortest=24 mm", '
            '"longest=70 mm" (focal lengths), "nearest=0.4 m", "aperture=2.8", "stops_to=22", '
            '"pixels=6000", "recorded=1920"; may be repeated.',
        ),
    ] = None,
    say: Annotated[
        list[str] | None,
        typer.Option(metavar="SHOT=WORDS", help="What is said in a shot instead; may be repeated."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The file to write: .pdf, or .md for Markdown."),
    ] = None,
    paper: Annotated[Literal["a4", "us-letter"], typer.Option(help="Of the PDF.")] = "a4",
    earth: EarthChoice = "anode",
    run_time: RunTime = "15 min",
    room_temperature: RoomTemperature = "20 degC",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """List the shots of a film: frame, camera, words, leads.

    A shot for each step of the run sheet, in the order in which the fewest leads change. The exit
    code is 1 where the goal cannot be reached, or where the safety check says stop.
    """
    require_one_start(goal, options, targets, fix, "shot list")
    minutes, room = read_run_minutes(run_time), read_room_temperature(room_temperature)
    camera, scene, scripts = _lens(lens, size or ()), scene_options.choose(), _scripts(say or ())
    more = [(_name(choice), find_settings(choice)) for choice in also or ()]
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.want("--out", out, (".pdf", ".md"))
        found = find_bench(bench)
        if goal is None:
            settings = options.choose(found)
            prepared, plan = made_ready(found), None
        else:
            prepared, plan = planned_for("shots", found, goal, targets, fix, take, as_json)
            settings = plan.settings
        from glowtrace.report.run_sheets.content import build_run_sheet
        from glowtrace.report.shot_lists.shot_list import build_shot_list

        with progress_bar() as show:
            show(None, "making the shot list")
            safety: dict[str, Any] = {"run_minutes": minutes, "room_temperature": room}
            sheet = build_run_sheet(prepared, settings, plan=plan, earthed=earth, **safety)
            made = build_shot_list(
                prepared, sheet, camera, scene=scene, also=more, scripts=scripts, earthed=earth,
                **safety,
            )  # fmt: skip
        if out is not None:
            _write(out, made, paper)
            outputs.note(out)
        present(
            outputs, "shots", lambda: _record(made), lambda: _tell(made), as_json=as_json,
            bench=found, settings=settings,
        )  # fmt: skip
    if made.stops:
        raise typer.Exit(NO)


def _lens(name: str, sizes: list[str] | tuple[str, ...]) -> Lens:
    from glowtrace.bench.checking import change
    from glowtrace.shots.lens import LENSES

    told = dict(_pair("--size", text, "sensor_width=36 mm") for text in sizes)
    return change(LENSES[name], told, "the camera", is_written=True) if told else LENSES[name]


def _scripts(says: list[str] | tuple[str, ...]) -> dict[int, str]:
    scripts = {}
    for text in says:
        number, words = _pair("--say", text, "3=Now the coils alone.")
        if not number.isdecimal():
            problem = Problem("--say", f'"{text}"', "give the number of a shot before the =")
            raise BenchError("shot list", [problem])
        scripts[int(number)] = words
    return scripts


def _pair(option: str, text: str, example: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign or not name.strip():
        raise BenchError("shot list", [Problem(option, f'"{text}"', f'give it as "{example}"')])
    return name.strip().replace("-", "_"), value.strip()


def _name(choice: str) -> str:
    return Path(choice).stem if choice.endswith(".toml") else choice


def _write(out: Path, made: ShotList, paper: Any) -> None:
    from glowtrace.report.output import write_output
    from glowtrace.report.shot_lists.shot_list import markdown, print_shot_list

    is_pdf = out.suffix.lower() == ".pdf"
    write_output(out, print_shot_list(made, paper) if is_pdf else markdown(made).encode())


def _tell(made: ShotList) -> None:
    print_paragraph(made.lens)
    for words in (*made.order, *made.light):
        print_paragraph(words, lead="  - ")
    for shot in made.shots:
        typer.echo(f"\n{shot.number}  {shot.do}")
        told = (
            shot.frame, *shot.camera, shot.exposure, shot.room, shot.see, f'"{shot.script}"',
            shot.told_hold, *shot.dangers, *shot.after,
        )  # fmt: skip
        for words in told:
            if words.strip('"'):
                print_paragraph(words, lead="     ")


def _record(made: ShotList) -> dict[str, Any]:
    record = asdict(made)
    record["shots"] = [_shot_record(shot) for shot in made.shots]
    return record


def _shot_record(shot: Shot) -> dict[str, Any]:
    from glowtrace.bench.ratings import settings_record

    record = asdict(shot)
    framing, camera = shot.framing, shot.set_camera
    for name in ("picture", "framing", "set_camera", "speech", "hold"):
        del record[name]
    record |= {
        "settings": settings_record(shot.settings),
        "speech_s": shot.speech,
        "hold_s": shot.hold,
        "framing": None,
        "camera_set": None,
    }
    if framing is not None:
        box = framing.box
        record["framing"] = {
            "box_m": [box.u0, box.u1, box.v0, box.v1],
            "distance_m": framing.away,
            "focal_length_m": framing.focal,
            "zoom": framing.zoom,
            "angle_rad": framing.angle,
            "magnification": framing.magnification,
            "sharp_from_m": framing.sharp[0],
            "sharp_to_m": framing.sharp[1],
            "pixels_per_m": framing.pixels,
        }
    if camera is not None:
        record["camera_set"] = {
            "iso": camera.iso, "shutter_s": camera.shutter, "aperture": camera.aperture,
        }  # fmt: skip
    return record
