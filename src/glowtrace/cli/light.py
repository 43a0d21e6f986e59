"""The command that tells whether the trace can be seen, in the room and on camera."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, find_bench
from glowtrace.cli.printing import print_json, print_paragraph, progress_bar
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.light.assessment import Assessment
    from glowtrace.light.changes import Change
    from glowtrace.light.scene import Camera, Scene
    from glowtrace.light.verdict import Verdict

NOT_SEEN = 1
"""Exit code where the trace is not, or probably not, seen from the last row."""

LIGHT_EXAMPLES = """Examples:

\b
glowtrace light "deflection tube" --beam-current "2 µA" --room "lights on"
glowtrace light "fine-beam bulb" --lux "3 lx" --measured --distance "4 m" --picture seen.png
glowtrace light my-tube.toml --iso 800 --shutter "1/25 s" --input "phosphor.efficiency=0.05"
"""


@dataclass(frozen=True)
class SceneOptions:
    """What is told about room, audience, beam and camera; None where nothing is."""

    room: Annotated[
        str | None,
        typer.Option(
            metavar="ROOM",
            help='A kind of room: "blacked out", "dark room", "blinds down", "dimmed", '
            '"lights on" or "bright day, no blinds".',
        ),
    ] = None
    lux: Annotated[
        str | None,
        typer.Option(metavar="LIGHT", help='Illuminance on the screen instead, as in "20 lx".'),
    ] = None
    measured: Annotated[
        bool, typer.Option("--measured", help="It was measured with a light meter at the screen.")
    ] = False
    distance: Annotated[
        str | None, typer.Option(metavar="LENGTH", help='To the last row, as in "6 m".')
    ] = None
    beam_current: Annotated[
        str | None,
        typer.Option(metavar="CURRENT", help="Beam current; the bench's typical one if not told."),
    ] = None
    phosphor: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help='"green phosphor", "bright green phosphor" or "old or burnt phosphor".',
        ),
    ] = None
    mains: Annotated[
        str | None, typer.Option(metavar="FREQUENCY", help='Of the lamps: "50 Hz" or "60 Hz".')
    ] = None
    iso: Annotated[float | None, typer.Option(metavar="ISO", help="ISO speed of the camera.")] = (
        None
    )
    shutter: Annotated[
        str | None, typer.Option(metavar="TIME", help='Exposure time, as in "1/50 s" or "20 ms".')
    ] = None
    aperture: Annotated[
        float | None, typer.Option(metavar="N", help="The f-number of the camera, as in 1.8.")
    ] = None
    inputs: Annotated[
        list[str] | None,
        typer.Option(
            "--input",
            metavar="INPUT=VALUE",
            help="Any other input, as in "
            '"phosphor.dead_voltage=400 V", "gas.pressure=2 Pa" or "beam_share=0.3"; may be '
            "repeated.",
        ),
    ] = None

    def choose(self) -> Scene:
        """Give the scene that the options tell.

        Raises
        ------
        BenchError
            A value cannot be read or is out of its range; there is no such room or phosphor.
        """
        from glowtrace.bench.checking import change
        from glowtrace.light.scene import PHOSPHORS, ROOMS, Scene

        told: dict[str, Any] = {}
        scene = Scene()
        if self.phosphor is not None:
            layer = _named("--phosphor", self.phosphor, PHOSPHORS)
            scene = scene.model_copy(update={"phosphor": layer})
        if self.room is not None:
            usual, _, _ = _named("--room", self.room, ROOMS)
            told["room.illuminance"] = f"{usual} lx"
        shutter = None if self.shutter is None else _shutter(self.shutter)
        options = {
            "room.illuminance": self.lux,
            "room.is_measured": self.measured or None,
            "room.mains_frequency": self.mains,
            "away": self.distance,
            "beam_current": self.beam_current,
            "camera.iso": self.iso,
            "camera.shutter": shutter,
            "camera.aperture": self.aperture,
        }
        told |= {path: value for path, value in options.items() if value is not None}
        for text in self.inputs or ():
            path, value = _input(text)
            told[path] = value
        return change(scene, told, "the light", is_written=True)


@with_groups
def light(
    bench: BenchChoice,
    options: SettingsOptions,
    scene_options: SceneOptions,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the trace as seen to a .png file.")
    ] = None,
    seen: Annotated[
        Literal["dark", "room", "camera"],
        typer.Option("--as", help="Draw it in the dark, as in this room, or as the camera has it."),
    ] = "room",
    as_json: AsJson = False,
) -> None:
    """Tell whether the trace can be seen, in the room and on camera, why, and what to change.

    A model of orders of magnitude: every answer says within what factor it stands. Where the last
    row probably does not see the trace, the exit code is 1.
    """
    from glowtrace.report.output import require_ending

    if picture is not None:
        require_ending(picture, (".png",))
    found_bench = find_bench(bench)
    settings = options.choose(found_bench)
    scene = scene_options.choose()
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.light.assessment import assess
        from glowtrace.light.camera_advice import suggest_exposure
        from glowtrace.light.changes import suggest_changes

        prepared = prepare(found_bench, progress=show)
        show(None, "electrons on their way")
        found = assess(prepared, settings, scene)
    changes = suggest_changes(found_bench, settings, scene, found.glow)
    exposure = suggest_exposure(scene.room, scene.camera, found.brightest, found.background.value)
    if picture is not None:
        _draw(picture, found_bench, settings, scene, found, seen)
    if as_json:
        print_json(_record(found_bench, settings, scene, found, changes, exposure))
    else:
        _tell(found_bench, settings, scene, found, changes, exposure)
        if picture is not None:
            typer.echo(f"written: {picture}")
    if found.eye.chance < 0.5:
        raise typer.Exit(NOT_SEEN)


def _named(option: str, name: str, known: dict[str, Any]) -> Any:
    from glowtrace.bench.checking import nearest_name

    if name not in known:
        problem = Problem(option, f'"{name}"', nearest_name(name, list(known)))
        raise BenchError("the light", [problem])
    return known[name]


def _input(text: str) -> tuple[str, Any]:
    path, sign, value = text.partition("=")
    if not sign:
        wanted = 'give INPUT=VALUE, for example "phosphor.efficiency=0.05"'
        raise BenchError("the light", [Problem("--input", f'"{text}"', wanted)])
    words = {"true": True, "false": False}
    key = path.strip().replace("-", "_").replace(" ", "_")
    return key, words.get(value.strip(), value.strip())


def _shutter(text: str) -> str:
    """Read "1/50 s" or "1/50" as photographers write a time; all else is left as it is."""
    top, bar, bottom = text.removesuffix("s").strip().partition("/")
    try:
        return f"{float(top) / float(bottom):.9g} s" if bar else text
    except (ValueError, ZeroDivisionError):
        return text


def _draw(
    path: Path, bench: Bench, settings: Settings, scene: Scene, found: Assessment, seen: Any
) -> None:
    from glowtrace.light.rendering import light_of
    from glowtrace.report.light_picture import light_picture
    from glowtrace.report.output import write_output

    light = light_of(bench, settings, scene, found.glow)
    write_output(path, light_picture(bench, found.glow, light, scene.camera, seen))


def _tell(
    bench: Bench,
    settings: Settings,
    scene: Scene,
    found: Assessment,
    changes: tuple[Change, ...],
    exposure: Camera,
) -> None:
    from glowtrace.light.changes import brightest_room
    from glowtrace.light.doubts import doubts
    from glowtrace.light.eye import ADAPTATION
    from glowtrace.light.ripple import trace_flicker
    from glowtrace.light.words import (
        MODEL,
        beam_words,
        camera_words,
        exposure_words,
        factor_words,
        flicker_words,
        illuminance,
        margin_words,
        ripple_words,
        verdict_words,
        why_words,
    )
    from glowtrace.report.caption import settings_words

    typer.echo(f"{bench.name}{' (invented, for demonstration)' if bench.invented else ''}")
    print_paragraph(" · ".join(settings_words(settings, bench)))
    print_paragraph(f"beam: {beam_words(bench, scene)}")
    print_paragraph(f"room: {illuminance(scene.room.illuminance)} on the screen")
    print_paragraph(MODEL)
    _head(f"In the room: {verdict_words(found.eye).lower()}")
    print_paragraph(f"{margin_words(found.eye)}.", lead="  ")
    for words in why_words(found, bench, scene):
        print_paragraph(words, lead="  ")
    room = brightest_room(bench, settings, scene, found.glow)
    if room is not None:
        print_paragraph(f"Surely seen up to {illuminance(room)} on the screen.", lead="  ")
    _head(f"On camera: {verdict_words(found.camera).lower()}")
    print_paragraph(f"{margin_words(found.camera)}.", lead="  ")
    for words in camera_words(found, scene.camera):
        print_paragraph(words, lead="  ")
    print_paragraph(flicker_words(scene), lead="  ")
    if not found.is_dark:
        flicker = trace_flicker(bench, settings, scene, found.glow, scene.camera.shutter)
        print_paragraph(ripple_words(flicker), lead="  ")
        print_paragraph(f"Suits this trace: {exposure_words(exposure)}.", lead="  ")
    if changes:
        _head("What to change")
    for change in changes:
        print_paragraph(f"{change.advice} {_effect(change)}", lead="  - ")
        print_paragraph(change.note, lead="    ")
    if not found.is_dark:
        _head("What makes the answer uncertain")
        for doubt in doubts(bench, settings, scene, found.glow)[:5]:
            words = f"{doubt.trust.name}: {factor_words(doubt.factor)} ({doubt.trust.why})"
            print_paragraph(words, lead="  - ")
        print_paragraph(ADAPTATION)


def _head(text: str) -> None:
    typer.echo(f"\n{text}\n{'=' * len(text)}")


def _effect(change: Change) -> str:
    from glowtrace.light.words import times_words, verdict_words

    then = verdict_words(change.after).lower()
    return f"Then {then}: {times_words(change.after.margin)} what is needed."


def _record(
    bench: Bench,
    settings: Settings,
    scene: Scene,
    found: Assessment,
    changes: tuple[Change, ...],
    exposure: Camera,
) -> dict[str, Any]:
    from glowtrace.bench.ratings import settings_record
    from glowtrace.light.changes import brightest_room
    from glowtrace.light.words import MODEL, why_words

    return {
        "bench": {"name": bench.name, "invented": bench.invented},
        "settings": settings_record(settings),
        "model": MODEL,
        "scene": scene.model_dump(mode="json"),
        "luminance_cd_per_m2": _stretch(found.luminance),
        "background_cd_per_m2": _stretch(found.background),
        "needed_cd_per_m2": _stretch(found.needed),
        "width_mm": 1e3 * found.glow.width,
        "angle_rad": found.angle,
        "seen_share": found.seen_share,
        "eye": _verdict(found.eye),
        "camera": {**_verdict(found.camera), "limited_by": found.in_camera.reason},
        "surely_seen_up_to_lx": brightest_room(bench, settings, scene, found.glow),
        "why": why_words(found, bench, scene),
        "exposure": {
            "iso": exposure.iso,
            "shutter_s": exposure.shutter,
            "aperture": exposure.aperture,
        },
        "changes": [
            {
                "what": change.what,
                "advice": change.advice,
                "note": change.note,
                "after": _verdict(change.after),
                "settings": settings_record(change.settings),
                "scene": change.scene.model_dump(mode="json"),
            }
            for change in changes
        ],
    }


def _stretch(stretch: Any) -> dict[str, float | None]:
    return {"value": stretch.value, "factor": _finite(stretch.factor)}


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "word": verdict.word,
        "margin": verdict.margin,
        "factor": _finite(verdict.factor),
        "chance": verdict.chance,
    }


def _finite(number: float) -> float | None:
    return number if number < float("inf") else None
