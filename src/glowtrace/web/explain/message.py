"""What the stage is sent: arrays of one electron's motion, and the views that it is drawn in.

Units of the message: mm, ns, 10^6 m/s, 10^-15 N, eV. Arrays travel as 32-bit floats.
"""

from __future__ import annotations

import base64
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, LongCoil, Sphere
from glowtrace.bench.picture import Ray
from glowtrace.bench.screen_plane import plate_ends
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.explain.drift_frame import DriftFrame, NoFrame
from glowtrace.explain.explanation import Explanation
from glowtrace.explain.writing import circle_text, speed_text
from glowtrace.web.surface import surface_of

Array = NDArray[np.float64]
Window = tuple[float, float, float, float]
_EVERY = 4
"""Points of the other model's path of which one is sent."""
_OTHER = {"bench": "Dashed: uniform fields.", "ideal": "Dashed: real fields."}
_LEAST = 1e-9
_MARGIN = 0.06
_SIDE_VIEW_ASPECT = 2.6
_BEGIN = ("Lowest point", "Highest point", "Farthest from the axis", "Turns back")


def stage_message(trace: Explanation, other: Ray) -> dict[str, Any] | None:
    """Give the message for an explanation; None where no electron flies.

    `other` is the same electron in the other model's fields, drawn for comparison.
    """
    if not trace.flies:
        return None
    account, frame = trace.account, trace.frame
    kinetic = account.kinetic_energy / ELEMENTARY_CHARGE
    potential = account.potential_energy / ELEMENTARY_CHARGE
    arrays = {
        "time": 1e9 * account.time,
        "way": 1e3 * account.path_length,
        "position": 1e3 * account.position,
        "velocity": 1e-6 * account.velocity,
        "electric": 1e15 * account.electric_force,
        "magnetic": 1e15 * account.magnetic_force,
        "kinetic": kinetic,
        "potential": potential,
        "worked": account.electric_work / ELEMENTARY_CHARGE,
    }
    moving = None
    if isinstance(frame, DriftFrame) and not frame.is_laboratory:
        arrays |= _seen(frame)
        moving = _moving_view(trace, frame)
    return {
        "count": len(account.time),
        "arrays": {name: _packed(values) for name, values in arrays.items()},
        "marks": [{"name": mark.name, "at": round(mark.at, 3)} for mark in trace.marks],
        "begin_at": _begin(trace),
        "views": _views(trace, 1e3 * other.position[::_EVERY]),
        "moving": moving,
        "frame_says": _frame_says(frame),
        "acts": [
            name
            for name, force in (
                ("electric", account.electric_force),
                ("magnetic", account.magnetic_force),
            )
            if float(np.abs(force).max()) > 0.0
        ],
        "energy": {
            "first": float(kinetic[0]),
            "potential_first": float(potential[0]),
            "most": float(max(kinetic.max(), (kinetic + potential - potential[0]).max())) * 1.02,
        },
        "glow": "rgb({}, {}, {})".format(*surface_of(trace.bench).glow),
    }


def _packed(values: Array) -> str:
    return base64.b64encode(np.ascontiguousarray(values, dtype="<f4").tobytes()).decode()


def _begin(trace: Explanation) -> float:
    """Where the electron stands first: a telling point, or half way."""
    for name in _BEGIN:
        mark = trace.mark(name)
        if mark is not None:
            return round(mark.at, 3)
    return len(trace.ray.time) / 2


def _frame_says(frame: DriftFrame | NoFrame) -> str:
    """Say why nobody moves along, where that is worth saying."""
    if isinstance(frame, NoFrame):
        return frame.says if frame.reason == "electric too strong" else ""
    if frame.is_laboratory and frame.circle is not None:
        return (
            "No electric field: across the magnetic field the electron runs round "
            f"{circle_text(frame.circle.radius, frame.circle.roughness)}."
        )
    return ""


# ---- what the moving observer sees -------------------------------------------------------------


def _seen(frame: DriftFrame) -> dict[str, Array]:
    """Arrays of the motion in the drift frame, with the forces there."""
    magnetic = np.cross(frame.velocity_seen, frame.flux_density_seen)
    return {
        "seen_position": 1e3 * frame.position,
        "seen_velocity": 1e-6 * frame.velocity_seen,
        "seen_electric": -1e15 * ELEMENTARY_CHARGE * frame.electric_field_seen,
        "seen_magnetic": -1e15 * ELEMENTARY_CHARGE * magnetic,
    }


def _moving_view(trace: Explanation, frame: DriftFrame) -> dict[str, Any]:
    axes = (2, 1) if isinstance(trace.bench.coils, LongCoil) else (0, 1)
    first, last = frame.stretch.start, frame.stretch.stop - 1
    points = 1e3 * frame.position[:, axes]
    looked_at = points[first : last + 1]
    circle = None
    if frame.circle is not None:
        u, v = (1e3 * frame.circle.centre[list(axes)]).tolist()
        radius = 1e3 * frame.circle.radius
        # A circle of which the path is a small part would shrink the path to a dot.
        if radius < 4.0 * float(np.ptp(looked_at, axis=0).max()):
            circle = (u, v, radius)
            looked_at = np.vstack(
                [
                    looked_at,
                    [[u - radius, v - radius], [u + radius, v + radius]],
                ]
            )
    way = "right" if frame.velocity[0] > 0 else "left"
    along = f" to the {way}" if axes[0] == 0 else ""
    return {
        "key": "moving",
        "title": f"Seen by somebody who moves along, at {speed_text(frame.speed)}{along}",
        "axes": axes,
        "path": "seen_position",
        "window": _window(looked_at),
        "stretch": 1.0,
        "share": 1.0,
        "bold": (float(first), float(last)),
        "other": None,
        "circle": circle,
        "shapes": [],
        "flux": _flux(frame.flux_density, axes),
    }


# ---- the laboratory ----------------------------------------------------------------------------


def _views(trace: Explanation, other: Array) -> list[dict[str, Any]]:
    """The views of the laboratory: one from the front, or one from the side and one end on.

    `other` are the points (k, 3) in mm of the path in the other model's fields.
    """
    bench = trace.bench
    flux = trace.ray.flux_density.mean(axis=0)
    points = 1e3 * trace.account.position
    front = {
        "key": "front",
        "title": (f"From the front (mm). {_OTHER[trace.model]}{_flux_words(_flux(flux, (0, 1)))}"),
        "other": other[:, :2].round(3).tolist(),
        "axes": (0, 1),
        "path": "position",
        "window": _front_window(bench, points),
        "stretch": 1.0,
        "share": 1.0,
        "bold": None,
        "circle": None,
        "shapes": _front_shapes(trace),
        "flux": _flux(flux, (0, 1)),
    }
    if not isinstance(bench.coils, LongCoil):
        return [front]
    reach = 1.15 * max(float(np.abs(points[:, 1:]).max()), 0.5)
    length = float(points[:, 0].max())
    stretch = round(length / (2.0 * reach) / _SIDE_VIEW_ASPECT) or 1
    side = front | {
        "key": "side",
        "title": f"From the side (mm; height {stretch} times larger). {_OTHER[trace.model]}",
        "window": (-0.02 * length, 1.02 * length, -reach, reach),
        "stretch": float(stretch),
        "share": 2.4,
        "shapes": [],
    }
    end_on = front | {
        "key": "end-on",
        "title": "Along the beam, from the gun (mm)",
        "axes": (2, 1),
        "window": (-reach, reach, -reach, reach),
        "other": other[:, [2, 1]].round(3).tolist(),
        "shapes": [
            {"ink": "sheet", "line": [[-reach, 0.0], [reach, 0.0]]},
            {"ink": "sheet", "line": [[0.0, -reach], [0.0, reach]]},
        ],
        "flux": _flux(flux, (2, 1)),
    }
    return [side, end_on]


def _front_window(bench: Bench, points: Array) -> Window:
    """What the front view shows: all of the path, the plates or the bulb, the sheet."""
    corners = [points[:, :2]]
    if bench.plates is not None:
        plates = bench.plates
        low, high = plates.height_offset - plates.gap / 2, plates.height_offset + plates.gap / 2
        corners.append(1e3 * np.array([[plates.start, low], [plates.start + plates.length, high]]))
    bulb = bench.plane.bulb(bench.envelope)
    if bulb is not None:
        x, y, radius = bulb
        corners.append(1e3 * np.array([[x - radius, y - radius], [x + radius, y + radius]]))
    corners.append(np.array([[-4.0, -4.0], [4.0, 4.0]]))
    return _window(np.vstack(corners))


def _window(points: Array) -> Window:
    """A rectangle (u0, u1, v0, v1) around points (k, 2), with a margin, never without size."""
    (u0, v0), (u1, v1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    room = _MARGIN * max(u1 - u0, v1 - v0, 1.0)
    least = 0.25 * (u1 - u0) / 2
    middle, half = (v0 + v1) / 2, max((v1 - v0) / 2, least)
    return u0 - room, u1 + room, middle - half - room, middle + half + room


def _front_shapes(trace: Explanation) -> list[dict[str, Any]]:
    """Glass, anode, plates with their signs, and the sheet, as they stand in the x-y plane: mm."""
    bench = trace.bench
    shapes: list[dict[str, Any]] = []
    glass = bench.envelope
    if isinstance(glass, Sphere):
        x, y, _ = (1e3 * c for c in glass.centre)
        shapes.append({"ink": "glass", "circle": [x, y, 1e3 * glass.radius]})
    gun = bench.gun
    outer, hole = 1e3 * gun.anode_radius, 5e2 * gun.aperture_height
    shapes += [
        {"ink": "metal", "line": [[0.0, side * hole], [0.0, side * outer]]} for side in (1.0, -1.0)
    ]
    if bench.plane.is_line:
        low, high = (1e3 * each for each in bench.plane.heights)
        left, right = 1e3 * bench.plane.x_from, 1e3 * bench.plane.x_to
        outline = [[left, low], [right, low], [right, high], [left, high], [left, low]]
        shapes.append({"ink": "sheet", "line": outline})
    return shapes + _plate_shapes(trace)


def _plate_shapes(trace: Explanation) -> list[dict[str, Any]]:
    plates = trace.bench.plates
    if plates is None:
        return []
    voltage = trace.settings.signed_plate_voltage
    signs = ("+", "−") if voltage > 0 else ("−", "+") if voltage < 0 else ("", "")
    shapes = []
    for metres, sign, is_upper in zip(plate_ends(plates), signs, (True, False), strict=True):
        ends = 1e3 * metres
        shapes.append(
            {
                "ink": "metal",
                "line": ends.tolist(),
                "sign": sign,
                "below": is_upper,
                "sign_at": (ends[0] + 0.92 * (ends[1] - ends[0])).tolist(),
            }
        )
    return shapes


def _flux(flux: Array, axes: tuple[int, int]) -> str | None:
    """Name the way of a mean flux density (3,) as it lies in a view, for its faint signs."""
    if float(np.linalg.norm(flux)) < _LEAST:
        return None
    axis = int(np.abs(flux).argmax())
    positive = bool(flux[axis] > 0.0)
    if axis == axes[0]:
        return "right" if positive else "left"
    if axis == axes[1]:
        return "up" if positive else "down"
    # To the right and up as (x, y) looks towards -z, as (z, y) towards +x.
    comes = positive if axes[0] == 0 else not positive
    return "out" if comes else "in"


def _flux_words(flux: str | None) -> str:
    """Say what the faint signs mean."""
    signs = {"out": "⊙: magnetic field, towards you", "in": "⊗: magnetic field, away from you"}
    return f" {signs[flux]}." if flux in signs else ""
