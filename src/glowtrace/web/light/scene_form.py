"""The form: room, audience, beam and camera."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.light.camera_advice import SPEEDS
from glowtrace.light.scene import PHOSPHORS, Gas, Scene, beam_current, is_gas
from glowtrace.light.ways import BLACK_CLOTH, HOOD
from glowtrace.units import format_quantity
from glowtrace.web.controls import Choice, Picker, Switch, box, words
from glowtrace.web.light.log_slider import LogSlider
from glowtrace.words.light import illuminance, room_choices, shutter_text

Changed = Callable[[dict[str, object]], None]
"""Takes new values by dotted path of the scene, in SI."""
Update = Callable[[Scene], None]

_LUX: Final = (0.05, 10_000.0)
_AWAY: Final = (0.5, 25.0)
_LEAST_CURRENT: Final = 1e-3
"""Of the bench's typical beam current, at the slider's lower end."""
_CAMERA_AWAY: Final = (0.2, 10.0)
_SHUTTERS: Final = (1 / 2000, 1 / 1000, 1 / 500, 1 / 250, 1 / 120, 1 / 100, 1 / 60, 1 / 50, 1 / 40,
                    1 / 30, 1 / 25, 0.1, 0.2, 0.5, 1.0)  # fmt: skip
_NUMBERS: Final = (1.4, 1.8, 2.0, 2.4, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0)
_RATES: Final = {0.0: "single photographs", 24.0: "24 a second", 25.0: "25 a second",
                 30.0: "30 a second", 50.0: "50 a second", 60.0: "60 a second"}  # fmt: skip


class SceneForm:
    """The form. Building it puts it on the page.

    Parameters
    ----------
    bench, scene
        That is looked at, and in what light.
    on_change
        Called with what the visitor changed.
    """

    def __init__(self, bench: Bench, scene: Scene, on_change: Changed) -> None:
        self._bench, self._scene, self._on_change = bench, scene, on_change
        self._updates: list[Update] = []
        with box("scene-form", "section").props('aria-label="Room, audience and camera"'):
            for title, put in (
                ("Room", self._put_room),
                ("Beam", self._put_beam),
                ("Camera", self._put_camera),
            ):
                with box("part"):
                    words(title, "h2")
                    put()

    def show(self, scene: Scene) -> None:
        """Show a scene."""
        for update in self._updates:
            update(scene)

    def _put_room(self) -> None:
        self._menu(
            "Kind of room",
            {f"{usual:g}": name for usual, name in room_choices().items()},
            lambda scene: f"{scene.room.illuminance:g}",
            lambda scene: illuminance(scene.room.illuminance),
            lambda text: {"room.illuminance": float(text)},
        )
        self._slider("Light on the screen", "room.illuminance", _LUX, illuminance,
                     lambda scene: scene.room.illuminance)  # fmt: skip
        self._slider("Last row", "away", _AWAY, _metres, lambda scene: scene.away)
        with box("stack"):
            self._switch("Measured with a light meter", "room.is_measured", True, False,
                         lambda scene: scene.room.is_measured)  # fmt: skip
            self._switch("Hood over the tube", "room.hood", HOOD, 1.0,
                         lambda scene: scene.room.hood < 1.0)  # fmt: skip
            if is_gas(self._bench):
                self._switch("Black cloth behind it", "gas.backdrop", BLACK_CLOTH, Gas().backdrop,
                             lambda scene: scene.gas.backdrop <= BLACK_CLOTH)  # fmt: skip

    def _put_beam(self) -> None:
        bench = self._bench
        typical = bench.gun.beam_current
        reach = _LEAST_CURRENT * typical, max(bench.supplies.accelerating.max_current, typical)
        self._slider("Beam current", "beam_current", reach, _amperes,
                     lambda scene: beam_current(bench, scene))  # fmt: skip
        if not is_gas(bench):
            self._menu(
                "Phosphor",
                {name: name for name in PHOSPHORS},
                lambda scene: scene.phosphor.name,
                lambda scene: scene.phosphor.name,
                lambda name: {f"phosphor.{field}": value for field, value in PHOSPHORS[name]},
            )

    def _put_camera(self) -> None:
        with box("halves"):
            self._number("ISO", "iso", {speed: f"{speed:.0f}" for speed in SPEEDS})
            self._number("Shutter", "shutter", {time: shutter_text(time) for time in _SHUTTERS})
            self._number("Aperture", "aperture", {number: f"f/{number:g}" for number in _NUMBERS})
            self._number("Frames", "frame_rate", _RATES)
        self._slider("Camera to screen", "camera.away", _CAMERA_AWAY, _metres,
                     lambda scene: scene.camera.away)  # fmt: skip
        lamps = Choice(
            "Lamps on",
            {"50": "50 Hz", "60": "60 Hz"},
            lambda text: self._on_change({"room.mains_frequency": float(text)}),
        )
        self._keep(lambda scene: lamps.put(f"{scene.room.mains_frequency:g}"))

    def _keep(self, update: Update) -> None:
        update(self._scene)
        self._updates.append(update)

    def _slider(
        self,
        label: str,
        path: str,
        reach: tuple[float, float],
        write: Callable[[float], str],
        read: Callable[[Scene], float],
    ) -> None:
        slider = LogSlider(label, *reach, read(self._scene), write,
                           lambda value: self._on_change({path: value}))  # fmt: skip
        self._updates.append(lambda scene: slider.put(read(scene)))

    def _number(self, label: str, field: str, options: dict[float, str]) -> None:
        def read(scene: Scene) -> float:
            return float(getattr(scene.camera, field))

        def otherwise(scene: Scene) -> str:
            return shutter_text(read(scene)) if field == "shutter" else f"{read(scene):g}"

        self._menu(
            label,
            {f"{value:.6g}": text for value, text in options.items()},
            lambda scene: f"{read(scene):.6g}",
            otherwise,
            lambda text: {f"camera.{field}": float(text)},
        )

    def _menu(
        self,
        label: str,
        options: dict[str, str],
        read: Callable[[Scene], str],
        otherwise: Callable[[Scene], str],
        told: Callable[[str], dict[str, object]],
    ) -> None:
        """Put a menu; a value that is none of the options stands there as one more."""
        with box("labelled scene-menu", "label"):
            words(label)
            picker = Picker(label, lambda text: self._on_change(told(text)))
        shown: list[str] = []

        def update(scene: Scene) -> None:
            chosen = read(scene)
            if shown == [chosen, otherwise(scene)]:
                return
            shown[:] = [chosen, otherwise(scene)]
            more = {} if chosen in options else {chosen: otherwise(scene)}
            picker.offer({"": {**more, **options}}, chosen)

        self._keep(update)

    def _switch(
        self, label: str, path: str, on: object, off: object, read: Callable[[Scene], bool]
    ) -> None:
        switch = Switch(label, lambda is_on: self._on_change({path: on if is_on else off}))
        self._keep(lambda scene: switch.put(read(scene)))


def _metres(value: float) -> str:
    return format_quantity(value, "m", 2)


def _amperes(value: float) -> str:
    return format_quantity(value, "A", 2)
