"""What each number of a bench means and how one finds it: for forms, files and measuring sheets.

Every field of every part but its kind has its meaning here; what may be written in it stands with the field
itself, in `glowtrace.bench.parts`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from operator import attrgetter
from typing import Any, Final, Literal, NamedTuple, get_args, get_origin

from pydantic import BaseModel

from glowtrace.bench.doubts import Slack
from glowtrace.bench.model import Bench
from glowtrace.bench.parts import (
    CoilPair,
    Cylinder,
    EndFace,
    GasGlow,
    Gun,
    LongCoil,
    Place,
    Plates,
    Sheet,
    Sphere,
    Supply,
)
from glowtrace.bench.ranges import Count, Day, quantity_of
from glowtrace.bench.wrong_fields import part_classes


class Meaning(NamedTuple):
    """What a number means.

    Attributes
    ----------
    name
        In two or three words.
    what
        From where to where it goes, or what it is of.
    how
        How to find it, with what; empty where `what` says it.
    is_first
        Whether the picture hangs on it; the others may stay as they begin.
    """

    name: str
    what: str
    how: str = ""
    is_first: bool = False


RULER: Final = "with a ruler, from the outside, sighting past the glass at right angles"
CALLIPER: Final = "with a calliper or a ruler"
PLATE: Final = "on the rating plate or in the data sheet"
CLASS: Final = "the accuracy in the meter’s data sheet"
METER: Final = "with a multimeter, everything switched off and discharged"

MEANINGS: Final[Mapping[type[BaseModel], Mapping[str, Meaning]]] = {
    Bench: {
        "name": Meaning("Name", "what you call this bench", is_first=True),
        "invented": Meaning("Invented", "true when no real apparatus has these numbers"),
        "notes": Meaning("Notes", "whatever the next person should know"),
    },
    Gun: {
        "aperture_shape": Meaning("Opening", "shape of the opening that the beam leaves by", is_first=True),
        "aperture_height": Meaning("Opening, height", "full height of the opening; its diameter where it is round", f"{RULER}; most are 0.5 to 2 mm", is_first=True),
        "aperture_width": Meaning("Opening, width", "full width, towards the audience; as the height where it is round", RULER, is_first=True),
        "anode_radius": Meaning("Anode, radius", "half the width of the disc or cap that the beam comes out of", RULER),
        "divergence_vertical": Meaning("Spread, up and down", "half the angle by which the beam widens in height", "half the growth of the undeflected line's width over its length, as an angle"),
        "divergence_sideways": Meaning("Spread, sideways", "half the angle by which the beam widens in depth"),
        "cathode_temperature": Meaning("Cathode, temperature", "oxide cathodes run near 1100 K, bare tungsten near 2500 K (common practice, no source)"),
        "heater_voltage": Meaning("Heater, voltage", "rated voltage of the heater", PLATE),
        "heater_current": Meaning("Heater, current", "current at the rated voltage", PLATE),
        "beam_current": Meaning("Beam current", "typical current that the cathode gives", "with a microammeter in the lead to the cathode, or from the data sheet"),
        "max_accelerating_voltage": Meaning("Highest voltage", "highest accelerating voltage that the gun is rated for", PLATE, is_first=True),
        "min_accelerating_voltage": Meaning("Lowest voltage", "below it there is no useful beam", PLATE),
    },
    Plates: {
        "length": Meaning("Plates, length", "along the beam, edge to edge", RULER, is_first=True),
        "width": Meaning("Plates, width", "towards the audience, edge to edge", RULER),
        "gap": Meaning("Plates, gap", "between the plates where the beam runs", RULER, is_first=True),
        "start": Meaning("Plates, begin at", "from the opening of the gun to the nearer edge of the plates", RULER, is_first=True),
        "height_offset": Meaning("Plates, middle", "height of the middle of the gap above the beam"),
        "tilt_upper": Meaning("Upper plate, tilt", "a positive tilt lifts the edge away from the gun"),
        "tilt_lower": Meaning("Lower plate, tilt", "a positive tilt lifts the edge away from the gun"),
        "max_voltage": Meaning("Plates, highest voltage", "rated voltage between the plates", PLATE, is_first=True),
        "terminal_upper": Meaning("Upper plate, terminal", "as it is marked on the tube"),
        "terminal_lower": Meaning("Lower plate, terminal", "as it is marked on the tube"),
    },
    Sheet: {
        "x_from": Meaning("Sheet, begins at", "from the opening of the gun to the sheet's nearer edge", RULER, is_first=True),
        "x_to": Meaning("Sheet, ends at", "from the opening of the gun to the sheet's far edge", RULER, is_first=True),
        "height": Meaning("Sheet, height", "full height of the sheet", RULER, is_first=True),
        "z_from": Meaning("Sheet, depth at its begin", "how far the nearer edge stands towards the audience (negative: away)", "looking down on the tube; the beam must cross the sheet"),
        "z_to": Meaning("Sheet, depth at its end", "how far the far edge stands towards the audience"),
        "grid_pitch": Meaning("Printed grid", "distance of neighbouring lines printed on the screen", "over ten lines, a tenth of it", is_first=True),
    },
    EndFace: {
        "x": Meaning("Face, distance", "from the opening of the gun to the phosphor", RULER, is_first=True),
        "width": Meaning("Face, width", "full width that can light up", RULER, is_first=True),
        "height": Meaning("Face, height", "full height that can light up", RULER, is_first=True),
        "grid_pitch": Meaning("Printed grid", "distance of neighbouring lines on the face, or of the scale held before it", "over ten lines, a tenth of it"),
    },
    GasGlow: {
        "x_from": Meaning("View, from the left", "left end of the part that is seen, from the opening"),
        "x_to": Meaning("View, to the right", "right end of the part that is seen"),
        "y_from": Meaning("View, from below", "lower end of the part that is seen"),
        "y_to": Meaning("View, to above", "upper end of the part that is seen"),
        "grid_pitch": Meaning("Grid", "distance of neighbouring lines, or of the rungs of a ladder scale"),
    },
    Sphere: {
        "centre": Meaning("Bulb, centre", "x, y, z of the bulb's centre from the opening of the gun", RULER, is_first=True),
        "radius": Meaning("Bulb, radius", "half the bulb's diameter", "a string round the bulb: its length over 6.28", is_first=True),
    },
    Cylinder: {
        "x_from": Meaning("Glass, begins at", "its end behind the gun; negative, as it lies behind the opening", RULER),
        "x_to": Meaning("Glass, ends at", "from the opening of the gun to the far end", RULER, is_first=True),
        "radius": Meaning("Glass, radius", "half the diameter of the tube", "a string round the tube: its length over 6.28", is_first=True),
    },
    CoilPair: {
        "mean_radius": Meaning("Coils, mean radius", "from the axis to the middle of the winding", f"{CALLIPER}: a quarter of outer and inner diameter together", is_first=True),
        "turns": Meaning("Coils, turns", "of each coil, not of both together", PLATE, is_first=True),
        "winding_width": Meaning("Winding, width", "of the winding along the coil's axis", CALLIPER),
        "winding_depth": Meaning("Winding, depth", "of the winding, from its inner to its outer side", CALLIPER),
        "spacing": Meaning("Coils, spacing", "from the middle of one winding to the middle of the other", CALLIPER, is_first=True),
        "centre": Meaning("Coils, centre", "place of the middle between the coils, counted from the opening of the gun", RULER, is_first=True),
        "tilt_x": Meaning("Coils, turned about x", "a turn of the pair about the beam's direction"),
        "tilt_y": Meaning("Coils, turned about y", "a turn of the pair about the vertical"),
        "sense": Meaning("Coils, sense", "aiding when the fields of both coils add"),
        "resistance": Meaning("Coils, resistance", "of both coils in series, cold", METER, is_first=True),
        "max_current": Meaning("Coils, highest current", "that the coils are rated for", PLATE, is_first=True),
    },
    LongCoil: {
        "mean_radius": Meaning("Coil, mean radius", "from the axis to the middle of the winding", f"{CALLIPER}: a quarter of outer and inner diameter together", is_first=True),
        "turns": Meaning("Coil, turns", "all turns of the coil", PLATE, is_first=True),
        "x_from": Meaning("Coil, begins at", "its end behind the gun; negative, as it lies behind the opening", RULER, is_first=True),
        "x_to": Meaning("Coil, ends at", "from the opening of the gun to its far end", RULER, is_first=True),
        "winding_depth": Meaning("Winding, depth", "of the winding, from its inner to its outer side", CALLIPER),
        "shift_y": Meaning("Coil, raised by", "how far its axis lies above the beam"),
        "shift_z": Meaning("Coil, moved by", "how far its axis lies towards the audience"),
        "resistance": Meaning("Coil, resistance", "cold", METER, is_first=True),
        "max_current": Meaning("Coil, highest current", "that the coil is rated for", PLATE, is_first=True),
    },
    Supply: {
        "max_voltage": Meaning("Highest voltage", "that it gives", PLATE, is_first=True),
        "min_voltage": Meaning("Lowest voltage", "that it can be set to, other than off", PLATE),
        "max_current": Meaning("Highest current", "that it gives", PLATE, is_first=True),
        "ripple": Meaning("Ripple", "from trough to crest, as a part of the voltage: 0.01 is one per cent", "in the data sheet, or as low as 0.001 for regulated supplies"),
        "ripple_frequency": Meaning("Ripple, frequency", "twice the mains frequency for most"),
        "output_capacitance": Meaning("Output capacitance", "across the output, leads included; left out where nobody knows", "in the data sheet or the circuit diagram; never by opening the supply"),
        "bleeder_resistance": Meaning("Bleeder resistor", "fixed across the output, discharges it; left out where nobody knows", "in the data sheet or the circuit diagram; never by opening the supply"),
    },
    Place: {
        "ignore_earth": Meaning("Leave out Earth’s field", "true where it is shielded, compensated or not wanted"),
        "latitude": Meaning("Latitude", "of the room, north positive"),
        "longitude": Meaning("Longitude", "of the room, east positive"),
        "date": Meaning("Date", "of the demonstration; Earth’s field drifts"),
        "heading": Meaning("Heading", "compass bearing of the beam: 0 is north, 90 deg is east", "with a compass, coils off, no iron near"),
        "altitude": Meaning("Altitude", "of the room above the sea"),
    },
    Slack: {
        "accelerating_meter": Meaning("Meter of the accelerating voltage", "its standard uncertainty as a part of what it shows: 0.01 is one per cent", f"{CLASS}, divided by 1.7"),
        "plate_meter": Meaning("Meter of the plate voltage", "its standard uncertainty as a part of what it shows", f"{CLASS}, divided by 1.7"),
        "coil_meter": Meaning("Meter of the coil current", "its standard uncertainty as a part of what it shows", f"{CLASS}, divided by 1.7"),
        "beam_height": Meaning("Beam, up or down", "how far off the axis it may leave the opening, up or down"),
        "beam_aside": Meaning("Beam, to a side", "how far off the axis it may leave the opening, to a side"),
        "beam_rise": Meaning("Beam, slope", "angle to the axis at which it may leave, up or down", "without fields, from how far the far end of the line lies off the axis"),
        "beam_turn": Meaning("Beam, slope to a side", "angle to the axis at which it may leave, to a side"),
        "grid_height": Meaning("Grid, up or down", "how far off the axis the printed grid may stand"),
        "stray_field": Meaning("Stray field", "flux density of iron and currents nearby, in each direction; 30 to 50 µT where Earth’s field is left out", "with a field meter, coils off"),
    },
}  # fmt: skip
"""By part and field; a table, one number a line."""

PARTS: Final[Mapping[str, str]] = {
    "gun": "Gun",
    "plates": "Plates",
    "screen": "Screen",
    "envelope": "Glass",
    "coils": "Coils",
    "supplies.accelerating": "Accelerating supply",
    "supplies.plates": "Plate supply",
    "supplies.coils": "Coil supply",
    "supplies.heater": "Heater supply",
    "place": "Place",
    "slack": "What may be a little off",
}
"""The parts in the order of a form: their path in a bench file, and their name."""


class Number(NamedTuple):
    """A field of a bench with its meaning."""

    path: str
    meaning: Meaning
    declared: Any
    """The field's declaration, a `pydantic.fields.FieldInfo`."""


def numbers_of(part: str, kind: type[BaseModel]) -> Iterator[Number]:
    """Give the fields of a part of this class but its kind, in the order of its bench file."""
    for name, declared in kind.model_fields.items():
        if name != "kind":
            yield Number(f"{part}.{name}", MEANINGS[kind][name], declared)


def standing_numbers(bench: Bench) -> Iterator[Number]:
    """Give the fields of the parts that a bench has, in the order of its file."""
    for part in PARTS:
        standing = attrgetter(part)(bench)
        if standing is not None:
            yield from numbers_of(part, type(standing))


def explained(number: Number, *, with_range: bool = True) -> str:
    """Say what a number is, how to find it, and, if wanted, what may be written."""
    said = [number.meaning.what, number.meaning.how]
    quantity = quantity_of(number.declared) if with_range else None
    if quantity is not None:
        said.append(f"{quantity.low} to {quantity.high}" if quantity.high else quantity.allowed)
    if get_origin(number.declared.annotation) is Literal:
        said.append(" or ".join(map(str, get_args(number.declared.annotation))))
    for mark in number.declared.metadata if with_range else ():
        if isinstance(mark, Count | Day):
            said.append(mark.wanted.partition(", for example")[0].removeprefix("give "))
    return " ".join(f"{each[:1].upper()}{each[1:]}." for each in said if each)


def kinds_of(part: str) -> tuple[type[BaseModel], ...]:
    """Give the classes that may stand for a part of `PARTS`."""
    owner: type[BaseModel] = Bench
    *parents, name = part.split(".")
    for parent in parents:
        owner = part_classes(owner.model_fields[parent].annotation)[0]
    return part_classes(owner.model_fields[name].annotation)


def kind_word(kind: type[BaseModel]) -> str:
    """Give the word of such a class in a bench file; empty where a part has one kind only."""
    return str(kind.model_fields["kind"].default) if "kind" in kind.model_fields else ""


def is_optional(part: str) -> bool:
    """Say whether a bench may lack a part of `PARTS`."""
    owner: type[BaseModel] = Bench
    *parents, name = part.split(".")
    for parent in parents:
        owner = part_classes(owner.model_fields[parent].annotation)[0]
    return not owner.model_fields[name].is_required()
