"""A clip of one flight seen twice at once: from the laboratory, and from the frame that drifts.

In the drift frame the bench runs away backwards, the electric field is gone (as far as the fields
are uniform), and what is left is a circle in a magnetic field.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import lorentz_factor
from glowtrace.errors import GlowtraceError
from glowtrace.explain.account import account_of
from glowtrace.explain.drift_frame import DriftFrame, NoFrame, drift_frame
from glowtrace.explain.followed import followed_ray
from glowtrace.report.caption import SEPARATOR, settings_words
from glowtrace.report.clips.board import Board, Fact
from glowtrace.report.clips.clip import USUAL_FORM, Clip, ClipForm, Pixels, captions_of
from glowtrace.report.clips.flight import (
    Shown,
    arrow_scale,
    force_and_way,
    moment,
    put_electron,
    time_fact,
)
from glowtrace.report.clips.light import grained_picture, shown_extent
from glowtrace.report.clips.screen import Extent
from glowtrace.report.clips.slate import Slate
from glowtrace.report.shade import full_light

Array = NDArray[np.float64]

_SAMPLES: Final = 800
_FAINT: Final = 0.45
_ROOM: Final = 1.25  # the circle's plane is this much larger than the circle, at least


def drift_clip(
    prepared: PreparedBench,
    settings: Settings,
    *,
    form: ClipForm = USUAL_FORM,
) -> Clip:
    """Show a flight in crossed fields from the laboratory and from the drift frame, side by side.

    Both are at the same event of the flight in every frame.

    Parameters
    ----------
    prepared, settings
        A bench with plates and coils whose fields cross, and its knobs.
    form
        How long, how large, which model.

    Raises
    ------
    GlowtraceError
        There is no drift frame: no electron, no magnetic or no electric field across the beam, or
        an electric one that is too strong.
    """
    count, look = form.count, form.look
    bench = prepared.bench
    whole = followed_ray(prepared, settings, model=form.model, samples=_SAMPLES)
    ray = _in_picture(whole, shown_extent(prepared))
    drift = _require_frame(drift_frame(ray))
    account = account_of(ray)
    lab = shown_extent(prepared)
    board = Board(
        bench, form.pixels, (lab, _moving_extent(lab, drift)), form.model_words, look,
        names=("the laboratory", f"moving along at {drift.speed / 1e6:.1f}·10⁶ m/s"),
        subtitle=SEPARATOR.join(settings_words(settings, bench)), has_grid=(True, False),
    )  # fmt: skip
    picture, light = grained_picture(prepared, settings, form.model)
    full, scale = full_light(light), arrow_scale(board, account)
    seen_electric = -ELEMENTARY_CHARGE * drift.electric_field_seen
    seen_magnetic = -ELEMENTARY_CHARGE * np.cross(drift.velocity_seen, drift.flux_density_seen)
    x, y = account.position[:, 0], account.position[:, 1]
    shown = Shown.of(account.time, x, y, lab, count)
    left = board.screens[0].places(x, y)
    right = board.screens[1].places(drift.position[:, 0], drift.position[:, 1])

    def at_time(values: Array, time: float) -> Array:
        columns = range(values.shape[1])
        return np.array([np.interp(time, account.time, values[:, each]) for each in columns])

    def frame(number: int) -> Pixels:
        now = moment(account, shown.time(number))
        slate = board.slate()
        board.put_glow(slate, 0, light, full, picture.plane, _FAINT)
        seen = float(np.interp(now.time, account.time, drift.time))
        _put_running_bench(board, slate, drift, seen)
        flown = account.time <= now.time
        for screen, places in zip(board.screens, (left, right), strict=True):
            slate.clip_to(screen.rectangle)
            slate.line(places[flown], look.ink, 2.5 * board.unit)
            slate.clip_to(None)
        put_electron(board, slate, 0, at_time(left, now.time), now.electric, now.magnetic, scale)
        put_electron(
            board, slate, 1, at_time(right, now.time),
            at_time(seen_electric, now.time), at_time(seen_magnetic, now.time), scale,
        )  # fmt: skip
        board.put_facts(slate, _facts(now.time, shown.slowed(form.seconds), now.velocity,
                                      at_time(drift.velocity_seen, now.time)))  # fmt: skip
        return slate.pixels()

    def spoken(number: int) -> str:
        time = shown.time(number)
        now = moment(account, time)
        electric, magnetic = at_time(seen_electric, time), at_time(seen_magnetic, time)
        return (
            f"After {1e9 * time:.2f} ns. Laboratory: electric force {force_and_way(now.electric)}, "
            f"magnetic force {force_and_way(now.magnetic)}. Moving along: electric force "
            f"{force_and_way(electric)}, magnetic force {force_and_way(magnetic)}."
        )

    return Clip(
        title=f"{bench.name}: laboratory and drift frame",
        size=form.pixels, rate=form.rate, count=count, frame=frame,
        captions=captions_of(count, form.rate, spoken),
    )  # fmt: skip


def _in_picture(ray: Ray, lab: Extent) -> Ray:
    """Give a flight up to the last point in the picture: what comes later is another story."""
    x, y, _ = ray.position.T
    inside = (x >= lab[0]) & (x <= lab[1]) & (y >= lab[2]) & (y <= lab[3])
    count = int(np.flatnonzero(inside)[-1]) + 1 if inside.any() else len(x)
    return replace(
        ray,
        time=ray.time[:count],
        position=ray.position[:count],
        velocity=ray.velocity[:count],
        potential=ray.potential[:count],
        electric_field=ray.electric_field[:count],
        flux_density=ray.flux_density[:count],
    )


def _require_frame(found: DriftFrame | NoFrame) -> DriftFrame:
    if isinstance(found, NoFrame):
        raise GlowtraceError(f"No clip of the drift frame: {found.says}")
    if found.is_laboratory:
        raise GlowtraceError(
            "No clip of the drift frame: without a plate voltage the drift frame is the "
            "laboratory. Set plate voltage and coil current so that their forces oppose each other."
        )
    return found


def _moving_extent(lab: Extent, drift: DriftFrame) -> Extent:
    """Give a plane as large as the laboratory's, or larger, about the circle or the path."""
    seen = drift.position[drift.stretch]
    if drift.circle is None:
        middle = seen.mean(axis=0)
        radius = float(np.abs(seen - middle).max())
    else:
        middle, radius = drift.circle.centre, drift.circle.radius
        if drift.circle.turned < np.pi / 2:  # a short arc of a large circle: look at the arc
            middle, radius = seen.mean(axis=0), float(np.abs(seen - seen.mean(axis=0)).max())
    width, height = lab[1] - lab[0], lab[3] - lab[2]
    larger = max(1.0, 2 * _ROOM * radius / height)
    u, v = float(middle[0]), float(middle[1])
    half_u, half_v = larger * width / 2, larger * height / 2
    return u - half_u, u + half_u, v - half_v, v + half_v


def _put_running_bench(board: Board, slate: Slate, drift: DriftFrame, time: float) -> None:
    """Draw the bench's grid and plates as they run backwards, and the circle, dashed.

    Something at x in the laboratory is at x / gamma - v_d t' for the moving observer.
    """
    bench, look, s, screen = board.bench, board.look, board.unit, board.screens[1]
    along = float(drift.velocity[0])
    gamma = float(lorentz_factor(abs(along)))
    u0, u1, v0, v1 = screen.extent
    pitch = bench.screen.grid_pitch / gamma
    slate.clip_to(screen.rectangle)
    away = along * time
    for n in range(int((u0 + away) / pitch) - 1, int((u1 + away) / pitch) + 2):
        u = n * pitch - away
        slate.line(screen.places(np.full(2, u), np.array([v0, v1])), look.frame, 1.6 * s)
    if bench.plates is not None:
        ends = (bench.plates.start + np.array([0.0, bench.plates.length])) / gamma - away
        for side in (1, -1):
            height = bench.plates.height_offset + side * bench.plates.gap / 2
            slate.line(screen.places(ends, np.full(2, height)), look.quiet, 5 * s)
    if drift.circle is not None:
        turn = np.linspace(0.0, 2 * np.pi, 240)
        round_it = drift.circle.centre + drift.circle.radius * (
            np.cos(turn)[:, None] * drift.circle.across[0]
            + np.sin(turn)[:, None] * drift.circle.across[1]
        )
        slate.line(screen.places(round_it[:, 0], round_it[:, 1]), look.textbook, 1.8 * s,
                   dashes=(6 * s, 8 * s))  # fmt: skip
    slate.clip_to(None)


def _facts(time: float, slowed: float, velocity: Array, seen: Array) -> tuple[Fact, ...]:
    lab, moving = float(np.linalg.norm(velocity)), float(np.linalg.norm(seen))
    return (
        time_fact(time, slowed),
        Fact("speed, laboratory", f"{lab / 1e6:.2f}·10⁶ m/s",
             f"{100 * lab / SPEED_OF_LIGHT:.2f} % of light’s"),
        Fact("speed, moving along", f"{moving / 1e6:.2f}·10⁶ m/s",
             "the grid runs backwards"),
    )  # fmt: skip
