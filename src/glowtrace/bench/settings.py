"""What is set on the bench: knobs, ties and reversing switches."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, Self

from pydantic import ConfigDict

from glowtrace.bench.parts import Part
from glowtrace.bench.ranges import Quantity

Voltage = Annotated[float, Quantity("V", "0 V", "60 kV")]
Current = Annotated[float, Quantity("A", "0 A", "100 A")]
Tie = Literal["symmetric", "lower at anode", "upper at anode"]
"""What of the plates has the anode's potential; symmetric: their middle."""


_SWITCHES: Final = {"plate_voltage": "plate_reversed", "coil_current": "coil_reversed"}


class Settings(Part):
    """The knobs and switches; whether a bench stands them is judged in `glowtrace.bench.ratings`.

    Voltages and currents are the magnitudes that the knobs show; the reversing switches give the
    sign. Fed from the accelerating supply, the plates share its voltage (through a divider where
    less is wanted), and so its ripple.
    """

    model_config = ConfigDict(use_attribute_docstrings=True)

    accelerating_voltage: Voltage
    """Accelerating voltage."""
    plate_voltage: Voltage = 0.0
    """Voltage between the plates."""
    plate_tie: Tie = "symmetric"
    """What of the plates has the anode's potential: "symmetric" (their middle), "lower at anode"
    or "upper at anode"."""
    plate_source: Literal["own supply", "accelerating supply"] = "own supply"
    """What feeds the plates: "own supply" or "accelerating supply"."""
    plate_reversed: bool = False
    """The reversing switch of the plates: the lower plate is positive."""
    coil_current: Current = 0.0
    """Current in the coils."""
    coil_reversed: bool = False
    """The reversing switch of the coils: the field points along -z (pair) or -x (long coil)."""
    heater_on: bool = True
    """Whether the cathode is hot and gives electrons."""
    thermal_spread: bool = True
    """Count the spread of energies and directions with which electrons leave the cathode."""
    ripple: bool = True
    """Count the ripple of the supplies."""
    divergence: bool = True
    """Count the divergence of the beam behind the aperture."""

    def __repr__(self) -> str:
        """Tell the accelerating voltage, and what else is not as it would be."""
        told = ", ".join(
            f"{name}={getattr(self, name)!r}"
            for name, declared in type(self).model_fields.items()
            if declared.is_required() or getattr(self, name) != declared.default
        )
        return f"Settings({told})"

    def changed(self, **settings: Any) -> Self:
        """Give a copy with some settings changed: SI numbers, or text such as "3 kV".

        Raises
        ------
        BenchError
            A name is no setting, or a value is not allowed.
        """
        return type(self)(**(dict(self) | settings))

    def turned(self, **knobs: float) -> Self:
        """Give a copy with some knobs turned; a value below 0 is set with the other polarity.

        Raises
        ------
        BenchError
            A knob does not exist, has no other polarity, or cannot be turned so far.
        """
        update: dict[str, Any] = {}
        for knob, value in knobs.items():
            switch = _SWITCHES.get(knob)
            update[knob] = value if switch is None else abs(value)
            if switch is not None and value < 0:
                update[switch] = not getattr(self, switch)
        return self.changed(**update)

    @classmethod
    def highest(cls, knob: str) -> float:
        """Give what a knob can be set to at most on any bench, in V or A."""
        (quantity,) = (m for m in cls.model_fields[knob].metadata if isinstance(m, Quantity))
        return quantity.limits[1]

    @property
    def signed_plate_voltage(self) -> float:
        """V(upper) - V(lower), V."""
        return -self.plate_voltage if self.plate_reversed else self.plate_voltage

    @property
    def signed_coil_current(self) -> float:
        """Current in the coils, A; positive gives B along +z (pair) or +x (long coil)."""
        return -self.coil_current if self.coil_reversed else self.coil_current

    @property
    def voltage_on_beam(self) -> float:
        """Voltage that electrons pass in the gun, V; 0 where the cathode is cold."""
        return self.accelerating_voltage if self.heater_on else 0.0
