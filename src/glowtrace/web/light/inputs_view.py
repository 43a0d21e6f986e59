"""Every input of the model with its value, its factor and where it is from; all can be changed."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from glowtrace.bench.model import Bench
from glowtrace.light.scene import Scene, beam_current, beam_share, is_gas
from glowtrace.light.trust import TRUSTS
from glowtrace.units import exact_text, format_quantity
from glowtrace.web.controls import box, field, words
from glowtrace.words.light import factor_words, trust_why


class Input(NamedTuple):
    """One input: where it is in the scene, its name, SI unit, and key of its trust."""

    path: str
    name: str
    unit: str
    trust: str


COMMON: Final = (
    Input("room.illuminance", "room light at the screen", "lx", "room"),
    Input("room.hood", "share of it under a hood", "1", ""),
    Input("room.walls", "reflectance of the walls", "1", "mirror"),
    Input("room.lamp_flicker", "depth of the lamps' flicker", "1", ""),
    Input("away", "last row to screen", "m", ""),
    Input("beam_current", "beam current", "A", "current"),
    Input("beam_share", "share of it that leaves the gun", "1", "beam_share"),
)
PHOSPHOR: Final = (
    Input("phosphor.efficiency", "efficiency of the phosphor", "1", "efficiency"),
    Input("phosphor.dead_voltage", "lost in the dead layer", "V", "dead_voltage"),
    Input("phosphor.saturation", "load that halves the efficiency", "W/m²", "saturation"),
    Input("phosphor.peak", "peak of the spectrum", "m", "spectrum"),
    Input("phosphor.breadth", "breadth of the spectrum", "m", "spectrum"),
    Input("phosphor.decay", "time constant of the afterglow", "s", ""),
    Input("phosphor.reflectance", "reflectance of the layer", "1", "reflectance"),
)
GAS: Final = (
    Input("gas.pressure", "pressure of the gas", "Pa", "gas"),
    Input("gas.cross_section", "cross-section for light", "m²", "gas"),
    Input("gas.peak", "middle of the spectrum", "m", "spectrum"),
    Input("gas.backdrop", "reflectance of the backdrop", "1", "reflectance"),
)
CAMERA: Final = (
    Input("camera.pixels", "pixels across the picture", "1", ""),
    Input("camera.field_of_view", "field of view across", "rad", ""),
    Input("camera.full_well", "electrons of a full pixel at ISO 100", "1", "sensor"),
    Input("camera.read_noise", "read noise in electrons", "1", ""),
)


class InputsView:
    """Every input, to be typed. Building it puts it on the page.

    Parameters
    ----------
    bench, scene
        Whose inputs.
    on_type
        Called with path, SI unit and what was typed.
    """

    def __init__(
        self, bench: Bench, scene: Scene, on_type: Callable[[str, str, str], object]
    ) -> None:
        self._bench, self._on_type = bench, on_type
        self._entries: dict[Input, ui.element] = {}
        self._trusts: dict[Input, TextElement] = {}
        self._shown: dict[Input, str] = {}
        with box("light-inputs", "ul").props('aria-label="Every input"'):
            for each in (*COMMON, *(GAS if is_gas(bench) else PHOSPHOR), *CAMERA):
                with box("light-input", "li"):
                    with box("asked spread", "label"):
                        words(each.name, css="capital")
                        self._put_field(each, scene)
                    self._trusts[each] = words(_trust(scene, each), "p", "hint")

    def show(self, scene: Scene) -> None:
        """Show the inputs of a scene; a field changes only where its value does."""
        for each, entry in self._entries.items():
            text = _written(self._bench, scene, each)
            self._trusts[each].text = _trust(scene, each)
            if text != self._shown[each]:
                self._shown[each] = text
                script = f"getHtmlElement({entry.id}).value = {json.dumps(text)}"
                entry.client.run_javascript(script)

    def _put_field(self, each: Input, scene: Scene) -> None:
        self._shown[each] = _written(self._bench, scene, each)

        def typed(text: str) -> None:
            self._shown[each] = text
            self._on_type(each.path, each.unit, text)

        self._entries[each] = field(self._shown[each], typed)


def input_value(bench: Bench, scene: Scene, path: str) -> float:
    """Give the value of an input, that of the bench where the scene leaves it open."""
    value: Any = scene
    for name in path.split("."):
        value = getattr(value, name)
    if value is None:
        value = (beam_current if path == "beam_current" else beam_share)(bench, scene)
    return float(value)


def _written(bench: Bench, scene: Scene, each: Input) -> str:
    value = input_value(bench, scene, each.path)
    if each.unit == "rad":
        return format_quantity(value, each.unit, 4)
    return exact_text(float(f"{value:.6g}"), each.unit)


def _trust(scene: Scene, each: Input) -> str:
    if not each.trust:
        return "taken as told"
    is_measured = each.path == "room.illuminance" and scene.room.is_measured
    trust = TRUSTS["room_measured" if is_measured else each.trust]
    return f"{factor_words(trust.factor)}; {trust_why(trust)}"
