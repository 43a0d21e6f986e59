"""How accurate a solution for electrodes is, from two meshes of different fineness.

The error of a solution falls as the number of panels to the power -1 to -1.5 (seen on plates, discs
with and without holes, a cube, and pairs of plates and discs, from 100 to 2,000 panels). The power
-1 is used: the correction is then never too small, and it is itself the uncertainty that is stated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.errors import FieldMapError
from glowtrace.fields.electrodes import UnitSolutions

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Estimate:
    """A result extrapolated to endlessly many panels, and how far off it may be."""

    value: Array
    uncertainty: Array
    """Same shape and unit; meant to cover the true error, not one standard deviation."""


@dataclass(frozen=True)
class FieldErrors:
    """Errors of the finer of two solutions, for each of k electrodes at each of g points."""

    potential: Array
    """(k, g) in V for each volt on the electrode."""
    field: Array
    """(k, g) as a fraction of the electrode's largest field at these points."""


def extrapolate(coarse: ArrayLike, fine: ArrayLike, panel_ratio: float) -> Estimate:
    """Extrapolate a quantity that was computed with two meshes of the same shape.

    Parameters
    ----------
    coarse, fine
        The quantity from either mesh, any shape.
    panel_ratio
        How many times as many panels the fine mesh has.

    Returns
    -------
    Estimate
        The extrapolated quantity; its uncertainty is the whole step from the fine one to it.

    Raises
    ------
    FieldMapError
        A ratio below 1.2: the meshes are too alike to tell anything.

    References
    ----------
    L. F. Richardson, "The approximate arithmetical solution by finite differences", Phil. Trans. R.
    Soc. A 210 (1911) 307-357.
    """
    if not panel_ratio >= 1.2:
        raise FieldMapError(
            f"The finer mesh has {panel_ratio:.3g} times as many panels as the coarser one; "
            "give it at least 1.2 times as many."
        )
    finer = np.asarray(fine, dtype=np.float64)
    step = (finer - np.asarray(coarse, dtype=np.float64)) / (panel_ratio - 1.0)
    return Estimate(finer + step, np.abs(step))


def refine_capacitance(coarse: UnitSolutions, fine: UnitSolutions) -> Estimate:
    """Extrapolate the capacitance matrix (k, k) in F from two solutions for the same electrodes.

    Raises
    ------
    FieldMapError
        Different electrodes, or a finer solution without more panels.
    """
    return extrapolate(coarse.capacitance, fine.capacitance, _panel_ratio(coarse, fine))


def estimate_error(coarse: UnitSolutions, fine: UnitSolutions, points: ArrayLike) -> FieldErrors:
    """Estimate how far the finer of two solutions is from the truth at points (g, 3) in m.

    The uniform charge of a panel shows close to it: the estimate holds for points that are farther
    from every electrode than the panels there are large.

    Raises
    ------
    FieldMapError
        Different electrodes, or a finer solution without more panels.
    """
    ratio = _panel_ratio(coarse, fine)
    potential = extrapolate(coarse.potential(points), fine.potential(points), ratio)
    field = fine.electric_field(points)
    change = extrapolate(coarse.electric_field(points), field, ratio).uncertainty
    largest = np.linalg.norm(field, axis=2).max(axis=1, keepdims=True)
    return FieldErrors(potential.uncertainty, np.linalg.norm(change, axis=2) / largest)


def _panel_ratio(coarse: UnitSolutions, fine: UnitSolutions) -> float:
    if coarse.names != fine.names:
        raise FieldMapError(
            f"The two solutions are for different electrodes: {coarse.names} and {fine.names}."
        )
    return len(fine.panels) / len(coarse.panels)
