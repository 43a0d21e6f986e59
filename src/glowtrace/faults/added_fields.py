"""Fields that a magnet or a charged patch adds, as coefficients of the map's spline.

Node values serve as coefficients: the difference is of second order in the cells, and these fields
change over centimetres.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.constants import VACUUM_PERMEABILITY
from glowtrace.faults.condition import Magnet, Patch

Array = NDArray[np.float64]


def dipole_flux(nodes: Array, magnet: Magnet) -> Array:
    """Give a dipole's flux density (i, j, 3, k) in T at nodes (i, j, k, 3) in m.

    The nodes are counted from the middle of the tube, as the magnet's place is.
    """
    away = nodes - np.array(magnet.place)
    distance = np.sqrt((away**2).sum(axis=-1))
    moment = np.array(magnet.moment)
    along = (away @ moment) / distance**2
    flux = (3.0 * along[..., None] * away - moment) / distance[..., None] ** 3
    scaled = VACUUM_PERMEABILITY / (4.0 * math.pi) * flux
    return np.ascontiguousarray(np.moveaxis(scaled, 3, 2))


def patch_potential(nodes: Array, patch: Patch) -> Array:
    """Give the potential (i, j, k) in V of a charged patch and of its image in the anode's plane.

    With its image the patch leaves the anode at 0 V, which it is; plates are not seen by it.
    """
    x, y, z = patch.place
    total = np.zeros(nodes.shape[:3])
    for sign, place in ((1.0, (x, y, z)), (-1.0, (-x, y, z))):
        away = nodes - np.array(place)
        total += sign * patch.size / np.sqrt((away**2).sum(axis=-1) + patch.size**2)
    return patch.potential * total
