"""The electron gun: where electrons leave the anode aperture, how fast, and which way.

Electrons are not drawn at random but from a sequence that fills the aperture, the directions and
the energies evenly (a Kronecker sequence: electron i has the fractional parts of i times fixed
irrational numbers), shifted by the seed. Two hundred electrons then make as smooth a trace as
thousands of random ones, electron i is the same whatever runs beside it, and none is stored.

References
----------
H. Niederreiter, "Random Number Generation and Quasi-Monte Carlo Methods", SIAM 1992, chapter 3
(Kronecker sequences; powers of an algebraic number as their steps).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from glowtrace.compiled import compiled
from glowtrace.constants import (
    BOLTZMANN,
    ELECTRON_MASS,
    ELEMENTARY_CHARGE,
    REST_ENERGY_VOLTS,
    SPEED_OF_LIGHT,
)
from glowtrace.fields.interpolation import IDEAL, Field, field_at

Array = NDArray[np.float64]

_ROOT = float(brentq(lambda g: g**10 - g - 1.0, 1.0, 2.0))
_STRIDES = np.array([(math.sqrt(5.0) - 1.0) / 2.0, *(_ROOT**-k for k in range(1, 10))])
"""Steps of the sequence. Sideways position comes first and has the most even one, the golden
section, as it decides where a grazed sheet lights up. The others are powers of one irrational
number: square roots of primes come near to simple relations with each other, which show as stripes
in the trace."""
_VOLTS_PER_KELVIN = BOLTZMANN / ELEMENTARY_CHARGE
_SPEED_SQUARED_PER_KELVIN = BOLTZMANN / ELECTRON_MASS


class Source(NamedTuple):
    """The beam that leaves the anode aperture at x = 0; zero any spread to switch it off."""

    accelerating_voltage: float
    """Anode minus cathode in V."""
    half_height: float
    """Half the aperture along y in m; the radius of a round one."""
    half_width: float
    """Half the aperture along z in m; not used for a round one."""
    is_round: bool
    divergence_vertical: float
    """Half-angle in rad within which directions are spread evenly in the x-y plane."""
    divergence_sideways: float
    """The same in the x-z plane; from a round aperture the two are the axes of an ellipse."""
    temperature: float
    """Cathode temperature in K."""
    ripple: float
    """Peak-to-peak ripple of the accelerating voltage as a fraction of it."""
    plate_ripple: float
    """The same of the plate voltage."""
    coil_ripple: float
    """The same of the coil current."""
    plates_share_supply: bool
    """Whether the plates hang on the accelerating supply, and so ripple in step with it."""
    height: float
    """How far above the axis the middle of the beam leaves in m; its spread is about that."""
    aside: float
    """The same along z."""
    rise: float
    """Angle to the axis in rad at which its middle leaves, upwards."""
    turn: float
    """The same towards z."""


def sequence_shifts(seed: int) -> Array:
    """Give the shifts (10,) that a seed puts on the sequence."""
    return np.random.default_rng(seed).random(len(_STRIDES))


@compiled(inlined=True)
def _swing(ripple: float, phase: float) -> float:
    """Give the factor on a rippling voltage or current at a phase (0 to 1) of the ripple."""
    return 1.0 + 0.5 * ripple * math.sin(2.0 * math.pi * phase)


@compiled()
def emit(
    source: Source, shifts: Array, electron: int, field: Field, inside: bool, state: Array
) -> tuple[bool, float, float]:
    """Write position in m and u = gamma v in m/s of one electron into ``state`` (6,).

    An electron has the energy of the potential at its own starting point: a field that reaches
    through to the aperture has already done its work there. The ripple of the supplies is frozen
    while an electron flies (a few nanoseconds), each supply at a phase of its own.

    Returns
    -------
    tuple[bool, float, float]
        Whether it leaves the gun (else ``state`` is at rest: the field turned it back), and the
        factors that ripple puts on the electric field and on the coil current for this electron.
    """
    draw = (electron * _STRIDES + shifts) % 1.0
    z = (2.0 * draw[0] - 1.0) * source.half_width
    y = (2.0 * draw[1] - 1.0) * source.half_height
    if source.is_round:
        radius, angle = source.half_height * math.sqrt(draw[0]), 2.0 * math.pi * draw[1]
        y, z = radius * math.sin(angle), radius * math.cos(angle)
    y, z = y + source.height, z + source.aside
    state[:] = 0.0
    state[1], state[2] = y, z
    gun_swing = _swing(source.ripple, draw[4])
    strength = gun_swing if source.plates_share_supply else _swing(source.plate_ripple, draw[8])
    current = _swing(source.coil_ripple, draw[9])
    voltage = source.accelerating_voltage * gun_swing
    if field.kind != IDEAL:
        voltage += strength * field_at(field, 0.0, y, z, inside)[6]
    voltage -= _VOLTS_PER_KELVIN * source.temperature * math.log(1.0 - draw[5])
    if voltage <= 0.0:
        return False, strength, current
    k = voltage / REST_ENERGY_VOLTS
    momentum = SPEED_OF_LIGHT * math.sqrt(k * (k + 2.0))
    tilt, swing = 2.0 * draw[2] - 1.0, 2.0 * draw[3] - 1.0
    if source.is_round:
        reach, angle = math.sqrt(draw[2]), 2.0 * math.pi * draw[3]
        tilt, swing = reach * math.sin(angle), reach * math.cos(angle)
    up = math.tan(source.divergence_vertical * tilt + source.rise)
    aside = math.tan(source.divergence_sideways * swing + source.turn)
    forward = momentum / math.sqrt(1.0 + up * up + aside * aside)
    thermal = math.sqrt(
        -2.0 * math.log(1.0 - draw[6]) * _SPEED_SQUARED_PER_KELVIN * source.temperature
    )
    state[3] = forward
    state[4] = forward * up + thermal * math.cos(2.0 * math.pi * draw[7])
    state[5] = forward * aside + thermal * math.sin(2.0 * math.pi * draw[7])
    return True, strength, current
