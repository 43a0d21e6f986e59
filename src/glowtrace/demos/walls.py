"""What an electron of the ideal model meets in a bench: plates, anode, glass, screen.

As a textbook draws them: plates without thickness that reach all along z, an anode disc without
an aperture on its way back, glass of the nominal shape, and the screen as the frame of the picture.
"""

from __future__ import annotations

import numpy as np

from glowtrace.bench.ideal import IdealFields
from glowtrace.bench.model import Bench, Cylinder, Envelope, Gun
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.demos.flight import Surface
from glowtrace.demos.kinematics import FloatArray


def plate_box(fields: IdealFields) -> Surface:
    """Border of the space between the plates: its top and bottom are the plates themselves."""

    def over_faces(positions: FloatArray) -> FloatArray:
        x, y = positions[..., 0], positions[..., 1]
        faces = [fields.x_from - x, x - fields.x_to, fields.y_from - y, y - fields.y_to]
        return np.asarray(faces)

    def verdict(position: FloatArray, is_upwards: bool) -> str | None:
        return (None, None, "lower plate", "upper plate")[int(over_faces(position).argmax())]

    return Surface(lambda positions: over_faces(positions).max(axis=0), verdict)


def anode(gun: Gun) -> Surface:
    """The plane of the anode: its disc stops electrons that come back."""

    def verdict(position: FloatArray, is_upwards: bool) -> str | None:
        return "anode" if np.hypot(position[1], position[2]) <= gun.anode_radius else None

    return Surface(lambda positions: positions[:, 0], verdict)


def glass(envelope: Envelope) -> Surface:
    """The envelope, met from within."""

    def height(positions: FloatArray) -> FloatArray:
        if isinstance(envelope, Cylinder):
            x, off_axis = positions[:, 0], np.hypot(positions[:, 1], positions[:, 2])
            faces = [envelope.x_from - x, x - envelope.x_to, off_axis - envelope.radius]
            return _outermost(faces)
        from_centre = positions - np.array(envelope.centre)
        return np.asarray(np.linalg.norm(from_centre, axis=1) - envelope.radius)

    return Surface(height, lambda position, is_upwards: "glass" if is_upwards else None)


def screen_frame(plane: ScreenPlane) -> Surface:
    """The frame of the picture.

    The face at the end of a tube is met from the front and ends the flight, "screen". A sheet or a
    gas glow is a window on the x-y plane: under this surface the electron is in the picture, and
    leaving it ends the flight, "end of the screen".
    """
    if plane.is_spot:
        return _end_face(plane)
    y_from, y_to = plane.heights

    def height(positions: FloatArray) -> FloatArray:
        x, y = positions[:, 0], positions[:, 1]
        faces = [plane.x_from - x, x - plane.x_to, y_from - y, y - y_to]
        return _outermost(faces)

    return Surface(height, lambda position, is_upwards: "end of the screen" if is_upwards else None)


def _end_face(plane: ScreenPlane) -> Surface:
    def verdict(position: FloatArray, is_upwards: bool) -> str | None:
        is_on = plane.holds(position[None, [2, 1]])[0]
        return "screen" if is_upwards and is_on else None

    return Surface(lambda positions: positions[:, 0] - plane.x_to, verdict)


def _outermost(faces: list[FloatArray]) -> FloatArray:
    """Height over the border of a region, from the heights over each of its faces."""
    height: FloatArray = np.maximum.reduce(faces)
    return height


def walls(bench: Bench, fields: IdealFields) -> tuple[Surface, ...]:
    """All that an electron can meet: the screen's frame first, the plates' box last, if any."""
    always = (screen_frame(bench.plane), glass(bench.envelope), anode(bench.gun))
    return always if bench.plates is None else (*always, plate_box(fields))
