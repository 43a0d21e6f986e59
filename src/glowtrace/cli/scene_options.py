"""The options that tell room, audience, beam and camera."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.light.scene import Scene


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


def _named(option: str, name: str, known: dict[str, Any]) -> Any:
    from glowtrace.bench.wrong_fields import unknown_name

    if name not in known:
        problem = unknown_name(option, name, list(known))
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
