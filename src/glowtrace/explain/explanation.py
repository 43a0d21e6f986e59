"""All about the one electron that is followed: its path, account, drift frame, and named places."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.electron import Launch
from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.explain.account import Account, account_of
from glowtrace.explain.drift_frame import DriftFrame, NoFrame, drift_frame
from glowtrace.explain.followed import followed_ray, usual_launch

Array = NDArray[np.float64]
_SAMPLES = 400
_LEVEL = 1e-3
"""A path whose steepness stays below this has no lowest or highest point to speak of."""
ENDS = {
    "screen": "on the screen",
    "upper plate": "on the upper plate",
    "lower plate": "on the lower plate",
    "anode": "on the anode",
    "glass": "on the glass",
}


@dataclass(frozen=True)
class Mark:
    """A place on the path that has a name."""

    name: str
    at: float
    """Place among the points of the path: 2.5 lies half way from point 2 to point 3."""


@dataclass(frozen=True, eq=False)
class Instant:
    """The electron at one instant; vectors (3,) in SI units, energies in J."""

    time: float
    position: Array
    velocity: Array
    electric_force: Array
    magnetic_force: Array
    kinetic_energy: float
    potential_energy: float

    @property
    def force(self) -> Array:
        """Both forces together (3,) in N."""
        return self.electric_force + self.magnetic_force

    @property
    def speed(self) -> float:
        """m/s."""
        return float(np.linalg.norm(self.velocity))


@dataclass(frozen=True, eq=False)
class Explanation:
    """One trace explained; everything belongs to the same electron."""

    bench: Bench
    settings: Settings
    model: Model
    launch: Launch
    ray: Ray
    account: Account
    frame: DriftFrame | NoFrame
    marks: tuple[Mark, ...]
    """In the order in which the electron passes them; none where none flies."""

    @property
    def flies(self) -> bool:
        """Whether an electron leaves the gun at all."""
        return len(self.ray.time) > 1

    def instant(self, at: float) -> Instant:
        """Give the electron at a place among the points of its path.

        Between two points its place is a cubic in time, the rest runs along straight lines.
        """
        account, last = self.account, len(self.ray.time) - 1
        at = min(max(at, 0.0), float(last))
        before = min(int(at), max(last - 1, 0))
        part = at - before

        def between(values: Array) -> Array:
            return np.asarray(values[before] + part * (values[before + 1] - values[before]))

        values = {each.name: between(getattr(account, each.name)) for each in fields(Instant)}
        values["position"] = self.ray.point(at)
        scalars = ("time", "kinetic_energy", "potential_energy")
        return Instant(**{
            name: float(value) if name in scalars else value for name, value in values.items()
        })  # type: ignore[arg-type]  # fmt: skip

    def mark(self, name: str) -> Mark | None:
        """Give the first mark of a name."""
        return next((mark for mark in self.marks if mark.name == name), None)


def explain(
    prepared: PreparedBench,
    settings: Settings,
    *,
    model: Model = "bench",
    samples: int = _SAMPLES,
) -> Explanation:
    """Explain the trace of a bench at some settings by the one electron that stands for it.

    Parameters
    ----------
    prepared, settings, model
        What is looked at, and in which fields.
    samples
        Points on its path.

    Examples
    --------
    >>> from glowtrace import Settings, prepare, ready_made
    >>> bulb = prepare(ready_made("fine-beam bulb"))
    >>> trace = explain(bulb, Settings(accelerating_voltage=200.0, coil_current=1.5))
    >>> bool(abs(trace.account.magnetic_work).max() < 1e-30)
    True
    """
    require_kind(prepared, PreparedBench)
    require_kind(settings, Settings)
    bench = prepared.bench
    launch = usual_launch(bench)
    ray = followed_ray(prepared, settings, model=model, launch=launch, samples=samples)
    account = account_of(ray)
    return Explanation(
        bench=bench,
        settings=settings,
        model=model,
        launch=launch,
        ray=ray,
        account=account,
        frame=drift_frame(ray),
        marks=find_marks(bench, account),
    )


def find_marks(bench: Bench, account: Account) -> tuple[Mark, ...]:
    """Name the places on a path: aperture, edges of the plates, where it turns, where it ends."""
    if len(account.time) < 2:
        return ()
    marks = [Mark("Aperture", 0.0)]
    x, velocity = account.position[:, 0], account.velocity
    plates = bench.plates
    if plates is not None and bool(account.electric_force.any()):
        for name, edge in (
            ("Plates begin", plates.start),
            ("Plates end", plates.start + plates.length),
        ):
            marks += [Mark(name, at) for at in _crossings(x - edge)[:1]]
    steep = np.abs(velocity[:, 1]) > _LEVEL * account.speed
    if isinstance(bench.coils, LongCoil):
        marks += _about_the_axis(account)
    elif steep.any():
        for at in _crossings(velocity[:, 1]):
            before = int(at)
            falls = velocity[before, 1] < 0.0
            marks.append(Mark("Lowest point" if falls else "Highest point", at))
        marks += [Mark("Turns back", at) for at in _crossings(velocity[:, 0])[:1]]
    last = float(len(x) - 1)
    marks.append(Mark(f"Ends {ENDS.get(account.end, 'here')}", last))
    return _numbered(sorted(marks, key=lambda mark: mark.at))


def _numbered(marks: list[Mark]) -> tuple[Mark, ...]:
    """Number a name from its second time on."""
    seen: dict[str, int] = {}
    numbered = []
    for mark in marks:
        times = seen[mark.name] = seen.get(mark.name, 0) + 1
        numbered.append(mark if times == 1 else Mark(f"{mark.name} ({times})", mark.at))
    return tuple(numbered)


def _about_the_axis(account: Account) -> list[Mark]:
    """Where an electron on its helix is farthest from the axis, and nearest to it again."""
    outwards = (account.position[:, 1:] * account.velocity[:, 1:]).sum(axis=1)
    names = ("Farthest from the axis", "Nearest to the axis")
    is_leaving = [bool(outwards[int(at)] > 0.0) for at in _crossings(outwards)]
    return [
        Mark(names[0] if leaves else names[1], at)
        for at, leaves in zip(_crossings(outwards), is_leaving, strict=True)
    ]


def _crossings(values: Array) -> list[float]:
    """Places among the points where values (m,) change their sign, by straight lines.

    A start at zero is none, as the electron leaves level; nor is an end there.
    """
    (told,) = np.nonzero(values)
    changes = np.flatnonzero(np.sign(values[told[1:]]) != np.sign(values[told[:-1]]))
    places = []
    for n in changes:
        before, after = int(told[n]), int(told[n + 1])
        part = float(values[before] / (values[before] - values[after]))
        places.append(before + part * (after - before))
    return [at for at in places if at < len(values) - 2]
