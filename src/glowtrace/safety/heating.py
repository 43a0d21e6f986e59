"""How a coil warms up at constant current: one lump of copper that loses heat to still air.

With T the excess over the room, C the heat capacity, R the resistance at room temperature, alpha
its rise with temperature, h A the loss to the air:

    C dT/dt = I^2 (R + alpha R_20 T) - h A T

which is linear, so its solution is closed: T = (p / g) (exp(g t) - 1) from a cold start, with
p = I^2 R / C and g = (alpha I^2 R_20 - h A) / C. Where g is positive the current outruns the loss
and the coil never settles.

Limits of the model: the copper has one temperature, while the inside of a thick winding is hotter
than its skin; h is one number, while still air takes more away from a hotter coil; insulation and
former store nothing. A thermometer on the coil decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.safety.copper import TEMPERATURE_COEFFICIENT, coil_copper, resistance_at

HEAT_TRANSFER: Final = 8.0
"""W/(m^2 K) to still air and by radiation; common practice, no source, chosen on the low side."""
_LARGEST_EXPONENT: Final = 700.0


@dataclass(frozen=True)
class CoilHeating:
    """A coil at constant current.

    Attributes
    ----------
    current
        A.
    resistance
        At 20 °C, ohm.
    heat_capacity
        J/K.
    loss
        Heat that goes to the air for each kelvin above the room, W/K.
    room_temperature
        K; the coil starts from here.
    """

    current: float
    resistance: float
    heat_capacity: float
    loss: float
    room_temperature: float

    def power_at(self, temperature: float) -> float:
        """Heat made in W at a temperature in K."""
        return self.current**2 * resistance_at(self.resistance, temperature)

    @property
    def initial_rate(self) -> float:
        """Rise of a cold coil in K/s."""
        return self.power_at(self.room_temperature) / self.heat_capacity

    @property
    def growth(self) -> float:
        """Rate in 1/s at which a rise grows (positive: no steady state) or settles (negative)."""
        gain = TEMPERATURE_COEFFICIENT * self.current**2 * self.resistance
        return (gain - self.loss) / self.heat_capacity

    @property
    def steady_temperature(self) -> float:
        """Temperature in K that the coil settles at; infinite where it never does."""
        if self.current == 0.0:
            return self.room_temperature
        if self.growth >= 0.0:
            return math.inf
        return self.room_temperature - self.initial_rate / self.growth

    def temperature_after(self, seconds: float) -> float:
        """Temperature in K after a run of so many seconds from room temperature."""
        exponent = self.growth * seconds
        if exponent > _LARGEST_EXPONENT:
            return math.inf
        # expm1(x) / x is 1 at zero, where the loss just balances the gain
        shape = math.expm1(exponent) / exponent if exponent != 0.0 else 1.0
        return self.room_temperature + self.initial_rate * seconds * shape

    def time_to(self, temperature: float) -> float:
        """Seconds until a temperature in K is reached; infinite where it never is."""
        rise = temperature - self.room_temperature
        if rise <= 0.0:
            return 0.0
        if temperature >= self.steady_temperature or self.initial_rate == 0.0:
            return math.inf
        ratio = self.growth * rise / self.initial_rate
        shape = math.log1p(ratio) / ratio if ratio != 0.0 else 1.0
        return rise / self.initial_rate * shape


def coil_heating(
    bench: Bench, current: float, room_temperature: float, heat_transfer: float = HEAT_TRANSFER
) -> CoilHeating | None:
    """Give the heating of a bench's coils at a current in A; None without coils.

    Parameters
    ----------
    bench
        What stands on the table.
    current
        Through the coils in series, A; its sign is of no account.
    room_temperature
        K.
    heat_transfer
        W/(m^2 K) from the coils' surface to the room.
    """
    copper = coil_copper(bench)
    if copper is None or bench.coils is None:
        return None
    return CoilHeating(
        abs(current),
        bench.coils.resistance,
        copper.heat_capacity,
        heat_transfer * copper.surface,
        room_temperature,
    )
