"""A clip of one electron on its way, slowed down, with the two forces as arrows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPEED_OF_LIGHT
from glowtrace.errors import GlowtraceError
from glowtrace.explain.account import Account, account_of
from glowtrace.explain.followed import followed_ray
from glowtrace.report.caption import SEPARATOR, force_words, settings_words
from glowtrace.report.clips.board import Board, Fact
from glowtrace.report.clips.clip import USUAL_FORM, Clip, ClipForm, Pixels, captions_of
from glowtrace.report.clips.light import grained_picture, shown_extent
from glowtrace.report.clips.screen import Extent
from glowtrace.report.clips.slate import Slate
from glowtrace.report.shade import full_light
from glowtrace.units import format_quantity, shortest

Array = NDArray[np.float64]

_SAMPLES: Final = 800
_REST_BEFORE, _REST_AFTER = 0.06, 0.12  # shares of the clip in which nothing moves
_LONGEST_ARROW: Final = 150  # of a frame of 720 lines
_FAINT: Final = 0.45  # of the trace behind the electron
_TOLD: Final = 0.25  # of a force: a part of it along an axis that is told


class Moment(NamedTuple):
    """An electron at one time."""

    time: float
    """s since it left the aperture."""
    position: Array
    """(3,) m."""
    velocity: Array
    """(3,) m/s."""
    electric: Array
    """(3,) N."""
    magnetic: Array
    """(3,) N."""


def flight_clip(
    prepared: PreparedBench,
    settings: Settings,
    *,
    form: ClipForm = USUAL_FORM,
) -> Clip:
    """Show one electron on its way along the trace, with the electric and the magnetic force.

    Both arrows have the same scale; what points along the line of sight is not seen.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs.
    form
        How long, how large, which model.

    Raises
    ------
    GlowtraceError
        No electron leaves the gun.
    """
    count, look = form.count, form.look
    bench = prepared.bench
    account = followed_account(prepared, settings, form.model)
    told = SEPARATOR.join(settings_words(settings, bench))
    board = Board(
        bench, form.pixels, (shown_extent(prepared),), form.model_words, look, subtitle=told
    )
    picture, light = grained_picture(prepared, settings, form.model)
    full, scale = full_light(light), arrow_scale(board, account)
    u, v = bench.plane.coordinates(account.position)
    places = board.screens[0].places(u, v)
    shown = Shown.of(account.time, u, v, board.screens[0].extent, count)

    def frame(number: int) -> Pixels:
        now = moment(account, shown.time(number))
        slate = board.slate()
        board.put_glow(slate, 0, light, full, picture.plane, _FAINT)
        slate.clip_to(board.screens[0].rectangle)
        slate.line(places[account.time <= now.time], look.ink, 2.5 * board.unit)
        slate.clip_to(None)
        at = board.screens[0].places(*bench.plane.coordinates(now.position[None]))[0]
        put_electron(board, slate, 0, at, now.electric, now.magnetic, scale)
        board.put_facts(slate, _facts(now, shown.slowed(form.seconds)))
        return slate.pixels()

    def spoken(number: int) -> str:
        return _words(moment(account, shown.time(number)))

    return Clip(
        title=f"{bench.name}: one electron on its way",
        size=form.pixels, rate=form.rate, count=count, frame=frame,
        captions=captions_of(count, form.rate, spoken),
    )  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """The part of a flight that is in the picture, spread over the frames of a clip.

    The clip begins and ends with a moment of rest.
    """

    begin: float
    """s since the aperture."""
    end: float
    count: int
    """Frames."""

    @classmethod
    def of(cls, time: Array, u: Array, v: Array, extent: Extent, count: int) -> Shown:
        """Take the time (m,) from the first to the last point in the picture plane."""
        inside = (u >= extent[0]) & (u <= extent[1]) & (v >= extent[2]) & (v <= extent[3])
        seen = np.flatnonzero(inside) if inside.any() else np.array([0, len(time) - 1])
        return cls(float(time[seen[0]]), float(time[seen[-1]]), count)

    def time(self, number: int) -> float:
        """Give the time of the flight at a frame, s."""
        moving = 1 - _REST_BEFORE - _REST_AFTER
        share = min(1.0, max(0.0, (number / (self.count - 1) - _REST_BEFORE) / moving))
        return self.begin + share * (self.end - self.begin)

    def slowed(self, seconds: float) -> float:
        """Give how many times slower than it happens a clip of so many seconds shows it."""
        return seconds * (1 - _REST_BEFORE - _REST_AFTER) / (self.end - self.begin)


def followed_account(prepared: PreparedBench, settings: Settings, model: Model) -> Account:
    """Give the path of the electron that stands for the trace; GlowtraceError without one."""
    account = account_of(followed_ray(prepared, settings, model=model, samples=_SAMPLES))
    if len(account.time) < 2:
        raise GlowtraceError(
            "No electron leaves the gun, so there is no flight to show: "
            "switch the heater on and turn the accelerating voltage up."
        )
    return account


def moment(account: Account, time: float) -> Moment:
    """Give the electron at a time (s) by straight lines between the points of its path."""

    def at(values: Array) -> Array:
        return np.array([np.interp(time, account.time, values[:, axis]) for axis in range(3)])

    return Moment(
        time,
        at(account.position),
        at(account.velocity),
        at(account.electric_force),
        at(account.magnetic_force),
    )


def arrow_scale(board: Board, account: Account) -> float:
    """Pixels for one N: the largest force of the flight has the longest arrow; 0 without any."""
    largest = max(
        float(np.linalg.norm(force, axis=1).max())
        for force in (account.electric_force, account.magnetic_force)
    )
    return _LONGEST_ARROW * board.unit / largest if largest > 0.0 else 0.0


def put_electron(
    board: Board, slate: Slate, number: int, at: Array,
    electric: Array, magnetic: Array, scale: float,
) -> None:  # fmt: skip
    """Draw an electron at a place (2,) on the frame, with its two forces (3,) in N."""
    end_face = board.screens[number].is_mirrored
    across = 2 if end_face else 0
    put = board.put_force
    put(slate, number, at, np.array([electric[across], electric[1]]), scale, "electric")
    put(slate, number, at, np.array([magnetic[across], magnetic[1]]), scale, "magnetic")
    slate.dot(float(at[0]), float(at[1]), 8 * board.unit, "#ffffff",
              outline=board.look.halo, width=2 * board.unit)  # fmt: skip


def _facts(now: Moment, slowed: float) -> tuple[Fact, ...]:
    speed = float(np.linalg.norm(now.velocity))
    share = f"{100 * speed / SPEED_OF_LIGHT:.2f} % of light’s"
    return (
        time_fact(now.time, slowed),
        Fact("speed", f"{speed / 1e6:.2f}·10⁶ m/s", share),
        Fact("electric force", force_words(float(np.linalg.norm(now.electric))),
             pointing(now.electric), arrow="electric"),
        Fact("magnetic force", force_words(float(np.linalg.norm(now.magnetic))),
             pointing(now.magnetic), arrow="magnetic"),
    )  # fmt: skip


def time_fact(time: float, slowed: float) -> Fact:
    """Tell the time of a flight (s), and how many times slower it is shown."""
    return Fact("time in flight", f"{1e9 * time:.2f} ns", f"slowed {shortest(slowed, 2)} times")


def _words(now: Moment) -> str:
    forces = (
        f"{name} force {force_and_way(force)}"
        for name, force in (("electric", now.electric), ("magnetic", now.magnetic))
    )
    x, y = (format_quantity(float(each), "mm", 3, style="typeset") for each in now.position[:2])
    return f"After {1e9 * now.time:.2f} ns, at x = {x}, y = {y}: {', '.join(forces)}."


def force_and_way(force: Array) -> str:
    """Say how large a force (3,) in N is and where it points; one that is nothing points nowhere.

    Examples
    --------
    >>> force_and_way(np.array([0.0, 2e-15, 0.0])), force_and_way(np.array([0.0, 1e-28, 0.0]))
    ('2.00 fN up', '0 N')
    """
    return f"{force_words(float(np.linalg.norm(force)))} {pointing(force)}".strip()


def pointing(force: Array) -> str:
    """Say in words where a force (3,) points: the sides of the bench that have a good part of it.

    Examples
    --------
    >>> pointing(np.array([0.0, 2e-15, 0.0])), pointing(np.array([-1e-15, -1e-15, 0.0]))
    ('up', 'down and backwards')
    """
    size = float(np.linalg.norm(force))
    if force_words(size) == force_words(0.0):
        return ""
    sides = (
        (1, "up", "down"),
        (0, "forwards", "backwards"),
        (2, "towards the audience", "away from the audience"),
    )
    told = [
        positive if force[axis] > 0 else negative
        for axis, positive, negative in sides
        if abs(force[axis]) > _TOLD * size
    ]
    return " and ".join(told)
