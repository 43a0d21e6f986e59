"""The command that tells whether the trace can be seen, in the room and on camera."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.frame import getting_ready, heading, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph
from glowtrace.cli.scene_options import SceneOptions

if TYPE_CHECKING:
    from glowtrace.light.answer import LightAnswer
    from glowtrace.light.assessment import Stretch
    from glowtrace.light.changes import Change
    from glowtrace.light.verdict import Verdict

NOT_SEEN = 1
"""Exit code where the trace is not, or probably not, seen from the last row."""
_MOST_DOUBTS = 5

EXAMPLES = """Examples:

\b
glowtrace light "deflection tube" --beam-current "2 µA" --room "lights on"
glowtrace light "fine-beam bulb" --lux "3 lx" --measured --distance "4 m" --picture seen.png
glowtrace light my-tube.toml --iso 800 --shutter "1/25 s" --input "phosphor.efficiency=0.05"
"""


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
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Tell whether the trace can be seen, and why not.

    For eyes in the last row and for a camera, with what to change in the room, at the supply and
    on the camera. A model of orders of magnitude: every answer says within what factor it
    stands. Where the last row probably does not see the trace, the exit code is 1.
    """
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, (".png",))
        found = find_bench(bench)
        settings = options.choose(found)
        scene = scene_options.choose()
        with getting_ready(found) as (prepared, show):
            from glowtrace.light.answer import answer_light
            from glowtrace.light.glow import make_glow

            show(None, "electrons on their way")
            glow = make_glow(prepared, settings)
        answer = answer_light(found, settings, scene, glow)
        if picture is not None:
            _draw(picture, answer, seen)
            outputs.note(picture)
        present(
            outputs,
            "light",
            lambda: _record(answer),
            lambda: _tell(answer),
            as_json=as_json,
            bench=found,
            settings=settings,
        )
    if answer.found.eye.chance < 0.5:
        raise typer.Exit(NOT_SEEN)


def _draw(path: Path, answer: LightAnswer, seen: Any) -> None:
    from glowtrace.light.rendering import light_of
    from glowtrace.report.light_caption import seen_caption, with_caption
    from glowtrace.report.light_picture import light_picture
    from glowtrace.report.output import write_output

    bench, scene, glow = answer.bench, answer.scene, answer.found.glow
    light = light_of(bench, answer.settings, scene, glow)
    picture = light_picture(bench, glow, light, scene.camera, seen)
    write_output(path, with_caption(picture, seen_caption(answer, seen)))


def _tell(answer: LightAnswer) -> None:
    from glowtrace.words.light import beam_words, illuminance, model_words
    from glowtrace.words.light_changes import change_advice, change_note

    bench, scene = answer.bench, answer.scene
    print_paragraph(f"beam: {beam_words(bench, scene)}")
    print_paragraph(f"room: {illuminance(scene.room.illuminance)} on the screen")
    print_paragraph(model_words())
    _tell_room(answer)
    _tell_camera(answer)
    if answer.changes:
        heading("What to change")
    for change in answer.changes:
        print_paragraph(f"{change_advice(change)} {_effect(change)}", lead="  - ")
        print_paragraph(change_note(change), lead="    ")
    _tell_doubts(answer)


def _tell_room(answer: LightAnswer) -> None:
    from glowtrace.words.light import (
        limit_words,
        margin_words,
        reason_words,
        verdict_within,
        why_words,
    )

    found = answer.found
    heading(f"In the room: {verdict_within(found.eye)}")
    print_paragraph(f"{margin_words(found.eye)}.", lead="  ")
    for words in (reason_words(answer), *why_words(found, answer.bench, answer.scene)):
        print_paragraph(words, lead="  ")
    if not found.is_dark:
        print_paragraph(limit_words(answer), lead="  ")


def _tell_camera(answer: LightAnswer) -> None:
    from glowtrace.words.light import (
        camera_words,
        exposure_advice,
        flicker_words,
        margin_words,
        ripple_words,
        verdict_within,
    )

    found, scene = answer.found, answer.scene
    heading(f"On camera: {verdict_within(found.camera)}")
    print_paragraph(f"{margin_words(found.camera)}.", lead="  ")
    for words in (*camera_words(found, scene.camera), flicker_words(scene)):
        print_paragraph(words, lead="  ")
    if not found.is_dark:
        print_paragraph(ripple_words(answer.flicker), lead="  ")
        print_paragraph(exposure_advice(answer.exposure, answer.exposed), lead="  ")


def _tell_doubts(answer: LightAnswer) -> None:
    from glowtrace.words.light import adaptation_words, factor_words, trust_name, trust_why

    if not answer.doubts:
        return
    heading("What makes the answer uncertain")
    for doubt in answer.doubts[:_MOST_DOUBTS]:
        name, why = trust_name(doubt.trust), trust_why(doubt.trust)
        words = f"{name}: {factor_words(doubt.factor)} ({why})"
        print_paragraph(words, lead="  - ")
    print_paragraph(adaptation_words())


def _effect(change: Change) -> str:
    from glowtrace.words.light import after_words

    return after_words(change.after)


def _record(answer: LightAnswer) -> dict[str, Any]:
    from glowtrace.words.light import model_words, reason_words, trust_why, why_words

    bench, scene, found, exposure = answer.bench, answer.scene, answer.found, answer.exposure
    return {
        "model": model_words(),
        "scene": scene.model_dump(mode="json"),
        "luminance_cd_per_m2": _stretch(found.luminance),
        "background_cd_per_m2": _stretch(found.background),
        "needed_cd_per_m2": _stretch(found.needed),
        "width_m": found.glow.width,
        "angle_rad": found.angle,
        "seen_share": found.seen_share,
        "eye": _verdict(found.eye),
        "camera": {**_verdict(found.camera), "limited_by": found.in_camera.reason},
        "surely_seen_up_to_lx": answer.brightest_room,
        "flicker": answer.flicker,
        "reason": reason_words(answer),
        "why": why_words(found, bench, scene),
        "exposure": {
            "iso": exposure.iso,
            "shutter_s": exposure.shutter,
            "aperture": exposure.aperture,
            **_verdict(answer.exposed.camera),
        },
        "changes": [_change(change) for change in answer.changes],
        "doubts": [
            {"input": doubt.trust.key, "factor": doubt.factor, "why": trust_why(doubt.trust)}
            for doubt in answer.doubts
        ],
    }


def _change(change: Change) -> dict[str, Any]:
    from glowtrace.bench.ratings import settings_record
    from glowtrace.words.light_changes import change_advice, change_note

    return {
        "what": change.key,
        "advice": change_advice(change),
        "note": change_note(change),
        "after": _verdict(change.after),
        "settings": settings_record(change.settings),
        "scene": change.scene.model_dump(mode="json"),
    }


def _stretch(stretch: Stretch) -> dict[str, float]:
    return {"value": stretch.value, "factor": stretch.factor}


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "word": verdict.word,
        "margin": verdict.margin,
        "factor": verdict.factor,
        "chance": verdict.chance,
    }
