"""The readings beside the screen, in words and numbers for people."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.picture import Model
from glowtrace.bench.settings import Settings
from glowtrace.demos.readouts import Readouts
from glowtrace.units import NONE, format_quantity, scientific, shortest
from glowtrace.web.controls import VALUE, Choice, box, words
from glowtrace.words.bench import model_choices


class ReadingList:
    """The list of readings, with the choice of the model that the glow is computed with.

    Parameters
    ----------
    on_place
        Called with what the visitor typed as the place x where the trace is read.
    on_model
        Called with "bench" or "ideal".
    """

    def __init__(
        self, on_place: Callable[[str], object], on_model: Callable[[Model], None]
    ) -> None:
        with box("rows readings", "dl").props('aria-label="Readings"'):
            self._speed = _Row("Speed")
            self._share = _Row("Share of light’s speed")
            self._electric = _Row("E")
            self._magnetic = _Row("B")
            self._ratio = _Row("Forces, eE : evB")
            self._circle = _Row("Circle")
            self._deflection = _Row("Deflection")
            with self._deflection.term:
                self._place = _PlaceInput(on_place)
            self._beside = _Row("From the textbook’s")
            self._width = _Row("Trace width there")
            self._kind = _Row("Shows", css="is-words")
            self._ends = _Row("Electrons end", css="is-words")
        self._model = Choice(
            "Fields",
            model_choices(),
            lambda chosen: on_model("ideal" if chosen == "ideal" else "bench"),
        )
        self._doubt = words("", "p", "note")
        self._note = words("", "p", "note").props('role="status"')

    def set_up(self, bench: Bench, model: str) -> None:
        """Show the rows that this bench has."""
        has_plates, has_coils = bench.plates is not None, bench.coils is not None
        is_face, in_gas = bench.plane.is_spot, bench.plane.glows
        where = "in the plates" if has_plates else "in the middle of the coils"
        self._electric.set_up(f"E {where}", has_plates)
        self._magnetic.set_up(f"B {where}", has_coils)
        is_across = has_plates and has_coils and not isinstance(bench.coils, LongCoil)
        self._ratio.set_up("Forces, eE : evB", is_across)
        self._circle.set_up("Circle", in_gas)
        self._deflection.set_up("Spot off the centre" if is_face else "Deflection at x =", True)
        self._place.set_visibility(not is_face)
        self._width.set_up("Spot width" if is_face else "Trace width there", True)
        self._model.put(model)

    def put_place(self, x: float) -> None:
        """Show where the trace is read."""
        self._place.put(x)

    def show(
        self,
        readouts: Readouts,
        settings: Settings,
        bench: Bench,
        doubt: str = "",
        off_textbook: float | None = None,
    ) -> None:
        """Show the readings of a picture, and how well the line's place is known."""
        share = readouts.speed_share
        self._speed.show(speed_text(readouts.speed))
        self._share.show(NONE if share is None else f"{100 * share:.1f} %")
        self._electric.show(electric_text(readouts.electric_field))
        self._magnetic.show(magnetic_text(readouts.flux_density, bench))
        ratio = readouts.force_ratio
        self._ratio.show(NONE if ratio is None else f"{ratio:.2f}")
        self._circle.show(circle_text(readouts.circle))
        is_face = bench.plane.is_spot
        self._deflection.show(deflection_text(readouts.deflection, is_signed=not is_face))
        self._beside.show(beside_text(off_textbook, is_signed=not is_face))
        self._width.show(length_text(readouts.width))
        self._kind.show(readouts.kind)
        self._ends.show(ends_text(readouts, settings, in_gas=bench.plane.glows))
        self._doubt.text = doubt
        self._note.text = f"{entry_text(readouts, settings)} {null_text(readouts)}".strip()


def speed_text(speed: float | None) -> str:
    """Write a speed (m/s) as a power of ten, in HTML.

    Examples
    --------
    >>> speed_text(3.2447e7)
    '3.24 × 10<sup>7</sup> m/s'
    """
    return NONE if speed is None else scientific(speed, "m/s", 3, style="html")


def _speed(speed: float) -> str:
    return f"{speed / 1e6:.3g} million m/s"


def electric_text(field: tuple[float, float, float] | None) -> str:
    """Write the electric field between the plates: its size and whether it points up or down."""
    if field is None:
        return NONE
    upward = field[1]
    if abs(upward) < 1.0:
        return "0 V/m"
    return f"{format_quantity(abs(upward), 'V/m')} {'up' if upward > 0 else 'down'}"


def magnetic_text(flux_density: tuple[float, float, float] | None, bench: Bench) -> str:
    """Write the flux density along the coils' axis, with its direction as the audience sees it."""
    if flux_density is None:
        return NONE
    is_long = isinstance(bench.coils, LongCoil)
    along = flux_density[0] if is_long else flux_density[2]
    if abs(along) < 1e-7:
        return "0 mT"
    ways = ("along the beam", "against the beam") if is_long else ("towards you", "away from you")
    return f"{format_quantity(abs(along), 'mT')} {ways[0] if along > 0 else ways[1]}"


def deflection_text(deflection: float | None, *, is_signed: bool) -> str:
    """Write a deflection (m) in mm; signed ones say up or down."""
    if deflection is None:
        return NONE
    size = f"{abs(1e3 * deflection):.1f} mm"
    if not is_signed or size == "0.0 mm":
        return size
    return f"{size} {'up' if deflection > 0 else 'down'}"


def beside_text(off: float | None, *, is_signed: bool) -> str:
    """Write how far the glow is from the textbook's trace, in m; signed ones say above or below.

    Examples
    --------
    >>> beside_text(-0.0004, is_signed=True)
    '0.4 mm below'
    """
    text = deflection_text(off, is_signed=is_signed)
    return text.replace("up", "above").replace("down", "below")


def length_text(length: float | None) -> str:
    """Write a length (m) in mm."""
    return NONE if length is None else f"{1e3 * length:.2f} mm"


def circle_text(diameter: float | None) -> str:
    """Write the size of a circle from its diameter in m.

    Examples
    --------
    >>> circle_text(0.0798)
    'radius 39.9 mm, diameter 79.8 mm'
    """
    if diameter is None:
        return "not round"
    return f"radius {500 * diameter:.1f} mm, diameter {1e3 * diameter:.1f} mm"


_IN_GAS = {"anode": "back at the gun", "still flying": "past the gun, round again"}


def ends_text(readouts: Readouts, settings: Settings, *, in_gas: bool = False) -> str:
    """Say where the electrons end, the largest shares first."""
    if not settings.heater_on:
        return "none: the heater is off"
    shares = [
        f"{_IN_GAS.get(name, name) if in_gas else name} {max(1, round(100 * share))} %"
        for name, share in readouts.shares[:3]
    ]
    return ", ".join(shares) or NONE


def entry_text(readouts: Readouts, settings: Settings) -> str:
    """Say how a plate tied to the anode changes the beam's energy; empty where it hardly does."""
    change = readouts.energy_change
    if change is None:
        return ""
    tied = "lower" if settings.plate_tie == "lower at anode" else "upper"
    verb, side = ("gains", "above") if change > 0 else ("loses", "below")
    energy = format_quantity(abs(change), "V", 2)[:-1] + "eV"
    speed = "" if readouts.speed_there is None else f", and flies at {_speed(readouts.speed_there)}"
    share = 100 * abs(change) / settings.accelerating_voltage
    return (
        f"Entering the plates, the beam {verb} {energy} ({share:.1f} %){speed}: the {tied} plate "
        f"is at the anode, so the middle of the gap stands {side} the anode’s potential. "
        "Textbooks leave this out."
    )


def null_text(readouts: Readouts) -> str:
    """Say why a straight beam's forces are not equal in the plates; empty where they are."""
    ratio = readouts.force_ratio
    if readouts.kind != "null" or ratio is None or abs(ratio - 1) < 0.02:
        return ""
    return (
        f"Straight, with eE {ratio:.2f} times evB in the plates: the coils also act before and "
        "behind them, and only the deflections cancel."
    )


def summary(readouts: Readouts, settings: Settings, bench: Bench) -> str:
    """Say in one sentence what the screen shows, for those who do not see it."""
    if not settings.heater_on:
        return "The screen is dark: the heater is off."
    ends = ends_text(readouts, settings, in_gas=bench.plane.glows)
    is_face = bench.plane.is_spot
    deflection = deflection_text(readouts.deflection, is_signed=not is_face)
    width = length_text(readouts.width)
    what = "spot off the centre by" if is_face else "trace deflected by"
    kind = "" if readouts.kind == "no beam" else f" It shows: {readouts.kind}."
    return f"The screen: {what} {deflection}, {width} wide.{kind} Electrons end: {ends}."


class _Row:
    """A term and its reading."""

    def __init__(self, label: str, css: str = "") -> None:
        with box("", "div") as self._row:
            with ui.element("dt") as self.term:
                self._label = words(label)
            self._reading = ui.html("", sanitize=False, tag="dd").classes(css)

    def set_up(self, label: str, is_there: bool) -> None:
        self._label.text = label
        self._row.set_visibility(is_there)

    def show(self, html: str) -> None:
        self._reading.content = html


class _PlaceInput(ui.element):
    """The place along the beam, in mm."""

    def __init__(self, on_place: Callable[[str], object]) -> None:
        super().__init__("span")
        with self:
            words(" ")
            self._input = ui.element("input").props(
                'type="text" inputmode="decimal" aria-label="x in mm" autocomplete="off"'
            )
            words(" mm")
        self._input.on("change", self._typed, js_handler=VALUE)
        self._on_place = on_place

    def put(self, x: float) -> None:
        """Show a place (m)."""
        self._input.props["value"] = shortest(1e3 * x, 3)

    def _typed(self, event: GenericEventArguments) -> None:
        self._on_place(str(event.args))
