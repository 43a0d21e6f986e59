"""Constants of nature, from scipy's CODATA tables; nothing is typed in here."""

from scipy import constants as _codata

ELEMENTARY_CHARGE = _codata.elementary_charge
"""e in C (exact)."""
ELECTRON_MASS = _codata.electron_mass
"""m_e in kg."""
SPEED_OF_LIGHT = _codata.speed_of_light
"""c in m/s (exact)."""
VACUUM_PERMITTIVITY = _codata.epsilon_0
"""epsilon_0 in F/m."""
VACUUM_PERMEABILITY = _codata.mu_0
"""mu_0 in N/A^2."""
BOLTZMANN = _codata.Boltzmann
"""k in J/K (exact)."""
SPECIFIC_CHARGE = ELEMENTARY_CHARGE / ELECTRON_MASS
"""e/m_e in C/kg, positive."""
REST_ENERGY_VOLTS = ELECTRON_MASS * SPEED_OF_LIGHT**2 / ELEMENTARY_CHARGE
"""m_e c^2 / e in V: the accelerating voltage that doubles the electron's energy."""
PLANCK = _codata.Planck
"""h in J s (exact)."""
