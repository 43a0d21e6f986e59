"""What acts on the electron along its path, and what becomes of its energy.

The force is F = -e (E + v x B). Only the electric part works: the magnetic one is across the
velocity at every instant, and turns it without changing the speed. What the electric force has
worked so far is what the electron's kinetic energy (gamma - 1) m c^2 has gained.

Index letters: m points along the path; 3 is x, y, z.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Model, Ray
from glowtrace.constants import ELECTRON_MASS, ELEMENTARY_CHARGE, SPEED_OF_LIGHT

Array = NDArray[np.float64]
_ENOUGH = 3
"""Points that an integral along the path needs."""


@dataclass(frozen=True, eq=False)
class Account:
    """Forces, powers and energies of one electron at the m points of its path."""

    model: Model
    time: Array
    """(m,) s since the electron left the aperture."""
    position: Array
    """(m, 3) m."""
    velocity: Array
    """(m, 3) m/s."""
    electric_force: Array
    """(m, 3) N."""
    magnetic_force: Array
    """(m, 3) N."""
    gamma: Array
    """(m,) Lorentz factor: how much the mass that counts has grown."""
    kinetic_energy: Array
    """(m,) J."""
    potential_energy: Array
    """(m,) J, -e times the potential relative to the anode.

    In the ideal model it is carried over the sharp edges of the plates' field, as the textbook's
    electron crosses them without any change of speed; see `edge_step`.
    """
    electric_work: Array
    """(m,) J done by the electric force since the start, summed along the path."""
    magnetic_work: Array
    """(m,) J, the same of the magnetic force: nothing but rounding."""
    edge_step: float
    """Energy in J that the ideal model is wrong by: it lets an electron into and out of the plates'
    field off the axis for nothing, where a real field's edge would take or give this much. Zero
    in the bench model, whose field has no sharp edges."""
    end: str
    """What the electron ended on."""

    @property
    def force(self) -> Array:
        """Both forces together (m, 3) in N."""
        return self.electric_force + self.magnetic_force

    @property
    def speed(self) -> Array:
        """Speed (m,) in m/s."""
        return np.asarray(np.linalg.norm(self.velocity, axis=1))

    @property
    def momentum(self) -> Array:
        """Momentum gamma m v (m, 3) in kg m/s."""
        return np.asarray(ELECTRON_MASS * self.gamma[:, None] * self.velocity)

    @property
    def electric_power(self) -> Array:
        """Power (m,) in W that the electric force gives the electron; negative where it slows."""
        return np.asarray((self.electric_force * self.velocity).sum(axis=1))

    @property
    def magnetic_power(self) -> Array:
        """Power (m,) in W of the magnetic force: nothing but rounding."""
        return np.asarray((self.magnetic_force * self.velocity).sum(axis=1))

    @property
    def path_length(self) -> Array:
        """Length of path (m,) in m since the start, by straight lines between the points."""
        steps = np.linalg.norm(np.diff(self.position, axis=0), axis=1)
        return np.concatenate([np.zeros(min(1, len(self.position))), np.cumsum(steps)])

    @property
    def energy_residual(self) -> Array:
        """Kinetic and potential energy less their sum at the start (m,) in J: what is not kept."""
        total = self.kinetic_energy + self.potential_energy
        return np.asarray(total - total[:1])

    @property
    def work_residual(self) -> Array:
        """Kinetic energy gained less the work of both forces (m,) in J."""
        gained = self.kinetic_energy - self.kinetic_energy[:1]
        return np.asarray(gained - self.electric_work - self.magnetic_work)


def account_of(ray: Ray) -> Account:
    """Account for the forces on a ray's electron and for its energy.

    Parameters
    ----------
    ray
        From `PreparedBench.central_ray`; one that never left the gun gives an empty account.

    Returns
    -------
    Account
        At the points of the ray. How well the sums close is told by `energy_residual` and
        `work_residual`: to the tracer's tolerance.
    """
    electric = -ELEMENTARY_CHARGE * ray.electric_field
    magnetic = -ELEMENTARY_CHARGE * np.cross(ray.velocity, ray.flux_density)
    beta = ray.velocity / SPEED_OF_LIGHT
    squared = (beta**2).sum(axis=1)
    gamma = 1.0 / np.sqrt(1.0 - squared)
    # (gamma - 1) = (gamma beta)^2 / (gamma + 1), which keeps its digits when slow.
    kinetic = ELECTRON_MASS * SPEED_OF_LIGHT**2 * gamma**2 * squared / (gamma + 1.0)
    potential = -ELEMENTARY_CHARGE * ray.potential
    edge_step = 0.0
    if ray.model == "ideal":
        electric_work = _ideal_work(ray, electric, kinetic)
        carried = potential[:1] - electric_work
        edge_step = float(potential[-1] - carried[-1]) if len(carried) else 0.0
        potential = carried
    else:
        # Exact where the force has a potential, however steep it is between two points.
        electric_work = potential[:1] - potential
    return Account(
        model=ray.model,
        time=ray.time,
        position=ray.position,
        velocity=ray.velocity,
        electric_force=electric,
        magnetic_force=magnetic,
        gamma=gamma,
        kinetic_energy=kinetic,
        potential_energy=potential,
        electric_work=electric_work,
        magnetic_work=_work(ray.time, (magnetic * ray.velocity).sum(axis=1)),
        edge_step=edge_step,
        end=ray.end,
    )


def _work(time: Array, power: Array) -> Array:
    """Sum a power (m,) in W over the time (m,) in s, by Simpson's rule: J."""
    if len(time) < _ENOUGH:
        return np.zeros(len(time))
    from scipy.integrate import cumulative_simpson  # late: it is slow to load

    return np.asarray(cumulative_simpson(power, x=time, initial=0.0))


def _ideal_work(ray: Ray, force: Array, kinetic: Array) -> Array:
    """Work (m,) in J of the ideal electric field, which is uniform between two sharp edges.

    Within the plates it is force times way, exactly. A step of the path that crosses an edge feels
    the field on an unknown part of its way; there the gain of kinetic energy is taken.
    """
    steps = (force[:-1] * np.diff(ray.position, axis=0)).sum(axis=1)
    is_on = (ray.electric_field != 0.0).any(axis=1)
    crosses = is_on[1:] != is_on[:-1]
    steps = np.where(crosses, np.diff(kinetic), steps)
    return np.concatenate([np.zeros(min(1, len(kinetic))), np.cumsum(steps)])
