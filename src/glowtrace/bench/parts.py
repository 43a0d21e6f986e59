"""The parts of a bench, frozen, in SI floats: gun, plates, screen, envelope, coils, supplies.

Axes: x along the undeflected beam, y up, z towards the audience; the origin is on the beam axis
where it leaves the anode aperture. Every part checks its own ranges; what must agree between
parts is checked in `glowtrace.bench.geometry`.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from glowtrace.bench.ranges import Count, Day, Quantity, show
from glowtrace.bench.wrong_fields import problems_of
from glowtrace.errors import BenchError, Problem
from glowtrace.units import QuantityError, parse_quantity


class Part(BaseModel):
    """What all parts share: frozen, no unknown fields, no silent conversions."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    def __init__(self, **fields: Any) -> None:
        """Build the part; BenchError with one Problem for each wrong field."""
        try:
            super().__init__(**fields)
        except ValidationError as error:
            kind = type(self)
            raise BenchError(kind.__name__, problems_of(kind, fields, error)) from None

    # Pydantic takes this constructor for its own: reading files goes past it, and stays as fast.
    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]


Size = Annotated[float, Quantity("mm", "0.01 mm", "2000 mm")]
"""A length above zero, m."""
Coordinate = Annotated[float, Quantity("mm", "-2000 mm", "2000 mm")]
"""A coordinate, m."""
Point = Annotated[tuple[Coordinate, Coordinate, Coordinate], Field(strict=False)]
"""A point (x, y, z), m."""
Tilt = Annotated[float, Quantity("rad", "-30 deg", "30 deg")]
"""A misalignment, rad."""
HalfAngle = Annotated[float, Quantity("rad", "0 deg", "30 deg")]
"""A half-angle of divergence, rad."""
HighVoltage = Annotated[float, Quantity("V", "50 V", "30 kV")]
"""An accelerating voltage, V."""
Resistance = Annotated[float, Quantity("ohm", "1 mohm", "100 kohm")]
"""A resistance, ohm."""
CoilCurrent = Annotated[float, Quantity("A", "1 mA", "100 A")]
"""The rated current of a coil, A."""
Turns = Annotated[int, Count(100_000)]
"""A number of turns."""
Line = Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^\x00-\x1f\x7f]*$")]
"""A name on one line."""


class Gun(Part):
    """The electron gun, ending in an anode disc with an aperture, at x = 0 and 0 V.

    The beam leaves the aperture with half-angles that are spread uniformly. The typical
    `beam_current` does not change the picture's shape: space charge is left out.
    """

    aperture_shape: Literal["slit", "round"]
    aperture_height: Annotated[float, Quantity("mm", "0.01 mm", "50 mm")]
    """Full height along y, m; the diameter of a round aperture."""
    aperture_width: Annotated[float, Quantity("mm", "0.01 mm", "50 mm")]
    """Full width along z, m; equal to the height of a round aperture."""
    anode_radius: Annotated[float, Quantity("mm", "0.5 mm", "200 mm")]
    divergence_vertical: HalfAngle
    divergence_sideways: HalfAngle
    cathode_temperature: Annotated[float, Quantity("K", "300 K", "3500 K")]
    heater_voltage: Annotated[float, Quantity("V", "0.1 V", "50 V")]
    """Rated voltage of the heater, V."""
    heater_current: Annotated[float, Quantity("A", "10 mA", "20 A")]
    beam_current: Annotated[float, Quantity("A", "1 nA", "50 mA")]
    max_accelerating_voltage: HighVoltage
    min_accelerating_voltage: HighVoltage
    """Below this the gun gives no useful beam, V."""

    @property
    def usual_beam_share(self) -> float:
        """Part of `beam_current` that usually leaves the aperture, the rest ends on the anode.

        A slit stops more than a round opening; guesses, no source.
        """
        return 0.1 if self.aperture_shape == "slit" else 0.4

    @model_validator(mode="before")
    @classmethod
    def _anode_at_zero(cls, data: object) -> object:
        """Read files that still tell where the anode is: at x = 0, where the beam starts."""
        if not isinstance(data, Mapping) or "anode_position" not in data:
            return data
        given = data["anode_position"]
        if not _is_zero(given):
            problem = Problem(
                "gun.anode_position",
                show(given, "mm"),
                "the anode disc is at x = 0, where the beam starts: leave this field out and "
                "measure every x on this bench from the anode",
            )
            text = {"text": str(problem), "problems": (problem,)}
            raise PydanticCustomError("bench_conflicts", "{text}", text)
        return {name: value for name, value in data.items() if name != "anode_position"}


def _is_zero(given: object) -> bool:
    """Tell whether a length, as text or as a number in m, is nothing."""
    try:
        return (parse_quantity(given, "m") if isinstance(given, str) else given) == 0.0
    except QuantityError:
        return False


class Plates(Part):
    """Two flat deflection plates above and below the beam, thin, centred on z = 0.

    A plate's tilt turns it about the z direction through its own centre; a positive tilt lifts
    the edge away from the gun.
    """

    length: Size
    width: Size
    """Along z, m."""
    gap: Annotated[float, Quantity("mm", "0.5 mm", "500 mm")]
    """Between the centres of the plates, m."""
    start: Coordinate
    """x of the edge that faces the gun, m."""
    height_offset: Annotated[float, Quantity("mm", "-250 mm", "250 mm")] = 0.0
    """y of the middle of the gap, m."""
    tilt_upper: Tilt = 0.0
    tilt_lower: Tilt = 0.0
    max_voltage: Annotated[float, Quantity("V", "1 V", "30 kV")]
    """Rated voltage between the plates, V."""
    terminal_upper: Line = "upper plate"
    terminal_lower: Line = "lower plate"


GridPitch = Annotated[float, Quantity("mm", "0.5 mm", "200 mm")]
"""Distance between the lines printed on a screen, m."""


class Sheet(Part):
    """A flat phosphor sheet that the beam grazes along its length, upright and centred on y = 0."""

    kind: Literal["sheet"] = "sheet"
    x_from: Coordinate
    x_to: Coordinate
    height: Size
    z_from: Coordinate
    """z of the sheet at x_from, m."""
    z_to: Coordinate
    """z of the sheet at x_to, m."""
    grid_pitch: GridPitch

    @property
    def angle(self) -> float:
        """Angle between the sheet and the x-y plane, rad."""
        return math.atan2(self.z_to - self.z_from, self.x_to - self.x_from)


class EndFace(Part):
    """A flat phosphor face across the end of the tube, centred on the axis."""

    kind: Literal["end face"] = "end face"
    x: Coordinate
    width: Size
    """Along z, m."""
    height: Size
    """Along y, m."""
    grid_pitch: GridPitch


class GasGlow(Part):
    """The gas itself lights up along the path; the picture is the x-y plane, seen along -z."""

    kind: Literal["gas glow"] = "gas glow"
    x_from: Coordinate
    x_to: Coordinate
    y_from: Coordinate
    y_to: Coordinate
    grid_pitch: GridPitch


Screen = Annotated[Sheet | EndFace | GasGlow, Field(discriminator="kind")]


class Sphere(Part):
    """A spherical bulb."""

    kind: Literal["sphere"] = "sphere"
    centre: Point
    radius: Size


class Cylinder(Part):
    """A cylindrical tube about the x axis."""

    kind: Literal["cylinder"] = "cylinder"
    x_from: Coordinate
    x_to: Coordinate
    radius: Size


Envelope = Annotated[Sphere | Cylinder, Field(discriminator="kind")]


class CoilPair(Part):
    """Two equal coils in series on one axis, along z unless tilted; I > 0 gives B along +z."""

    kind: Literal["pair"] = "pair"
    mean_radius: Size
    turns: Turns
    """Turns of each coil."""
    winding_width: Size
    """Axial size of the winding, m."""
    winding_depth: Size
    """Radial size of the winding, m."""
    spacing: Size
    """Centre to centre, m."""
    centre: Point
    tilt_x: Annotated[float, Quantity("rad", "-90 deg", "90 deg")] = 0.0
    """Turn of the axis about x, rad, made first."""
    tilt_y: Annotated[float, Quantity("rad", "-90 deg", "90 deg")] = 0.0
    """Turn of the axis about y, rad, made second."""
    sense: Literal["aiding", "opposing"] = "aiding"
    resistance: Resistance
    """Both coils in series, ohm."""
    max_current: CoilCurrent


class LongCoil(Part):
    """A long coil along x around the tube; I > 0 gives B along +x."""

    kind: Literal["long coil"] = "long coil"
    mean_radius: Size
    turns: Turns
    x_from: Coordinate
    x_to: Coordinate
    winding_depth: Size
    """Radial size of the winding, m."""
    shift_y: Annotated[float, Quantity("mm", "-500 mm", "500 mm")] = 0.0
    shift_z: Annotated[float, Quantity("mm", "-500 mm", "500 mm")] = 0.0
    resistance: Resistance
    max_current: CoilCurrent


Coils = Annotated[CoilPair | LongCoil, Field(discriminator="kind")]


class Supply(Part):
    """A direct-voltage supply with its ratings and its ripple."""

    max_voltage: Annotated[float, Quantity("V", "0.1 V", "60 kV")]
    min_voltage: Annotated[float, Quantity("V", "0 V", "60 kV")] = 0.0
    max_current: Annotated[float, Quantity("A", "1 µA", "100 A")]
    ripple: Annotated[float, Quantity("1", "0", "1")] = 0.0
    """Peak-to-peak ripple as a fraction of the voltage."""
    ripple_frequency: Annotated[float, Quantity("Hz", "0 Hz", "1 MHz")] = 100.0
    output_capacitance: Annotated[float, Quantity("F", "1 pF", "10000 µF")] | None = None
    """Across the output, leads included, F; None where nobody has told or measured it."""
    bleeder_resistance: Annotated[float, Quantity("ohm", "1 ohm", "10000 Mohm")] | None = None
    """Resistor fixed across the output that discharges it, ohm; None where unknown or absent."""


class Supplies(Part):
    """The supplies on the bench."""

    accelerating: Supply
    plates: Supply | None = None
    coils: Supply | None = None
    heater: Supply | None = None


class Place(Part):
    """Where and when the bench stands, for Earth's magnetic field."""

    ignore_earth: bool = True
    latitude: Annotated[float, Quantity("rad", "-90 deg", "90 deg")]
    longitude: Annotated[float, Quantity("rad", "-180 deg", "180 deg")]
    date: Annotated[datetime.date, Day(datetime.date(1900, 1, 1), datetime.date(2029, 12, 31))]
    """Within the years of the field model (IGRF-14: 1900 to 2030)."""
    heading: Annotated[float, Quantity("rad", "0 deg", "360 deg")]
    """Compass bearing of +x, rad: 0 is north, pi/2 is east."""
    altitude: Annotated[float, Quantity("m", "-500 m", "10 km")] = 0.0
