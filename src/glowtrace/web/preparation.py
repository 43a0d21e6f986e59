"""What is being prepared, and how it is written in the address of every page."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Final, get_args

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, check_settings
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Goal, goal_kind
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.light.scene import Scene, scene_elsewhere
from glowtrace.plan.leads import Earthed
from glowtrace.report.sheet_print import Paper, require_paper
from glowtrace.shots.lens import LENSES
from glowtrace.shots.speech import LONGEST_SCRIPT
from glowtrace.web.address import (
    SUBJECT,
    fragment,
    from_query,
    read_model,
    to_query,
    told_model,
)

AIM: Final = "aim."
HOLD: Final = "hold."
BESIDE: Final = "beside."
LIGHT: Final = "light."
SAY: Final = "say."
LONGEST_RUN: Final = 24 * 60.0
IN_ROOM: Final = "room"
RUN_MINUTES: Final = 15.0
ROOM: Final = 293.15
LAST_ROW: Final = "last row"
"""Under which its distance is remembered."""
NEAREST, FARTHEST = 0.1, 100.0
"""How far the last row may be, as for `Scene.away`, m."""


@dataclass(frozen=True)
class Preparation:
    """What one visitor prepares.

    Attributes
    ----------
    place, settings
        Where the bench is on the rack, and how it is set.
    goal
        What is to be shown; None while nothing is chosen.
    held
        Knobs that the planner must not turn, with their SI values.
    earthed
        The point joined to the protective earth.
    run_minutes, room_temperature
        For the safety check, in minutes and K.
    paper
        Of the sheet.
    scene
        Light of the room, audience and camera.
    in_room
        Whether the live trace is shown as in this room.
    beside
        Settings whose line is kept to compare with; None for none.
    film, scripts
        The camera of the shot list, by its name, empty where nothing is filmed; and what is said
        in a shot instead of what is proposed, by the shot's place.
    """

    place: str
    settings: Settings
    goal: Goal | None = None
    held: Mapping[str, float] = field(default_factory=dict)
    earthed: Earthed = "anode"
    run_minutes: float = RUN_MINUTES
    room_temperature: float = ROOM
    paper: Paper = "a4"
    scene: Scene = field(default_factory=Scene)
    in_room: bool = False
    beside: Settings | None = None
    film: str = ""
    scripts: Mapping[int, str] = field(default_factory=dict)

    @property
    def query(self) -> str:
        """The query of an address."""
        return to_query(self.place, self.settings) + self.carried

    @property
    def carried(self) -> str:
        """What a query has besides bench and settings, with a leading "&" if there is any."""
        told: dict[str, str] = {}
        if self.goal is not None:
            told["goal"] = self.goal.name
            aims = {each.name: getattr(self.goal, each.name) for each in fields(self.goal)}
            told |= {AIM + name: repr(float(aim)) for name, aim in aims.items()}
        told |= {HOLD + name: repr(value) for name, value in self.held.items()}
        if self.earthed != "anode":
            told["earthed"] = self.earthed
        if self.run_minutes != RUN_MINUTES:
            told["minutes"] = repr(self.run_minutes)
        if self.room_temperature != ROOM:
            told["room"] = repr(self.room_temperature)
        if self.paper != "a4":
            told["paper"] = self.paper
        told |= told_model(self.scene, LIGHT)
        if self.in_room:
            told["shown"] = IN_ROOM
        if self.beside is not None:
            told |= told_model(self.beside, BESIDE)
        if self.film:
            told["film"] = self.film
        told |= {f"{SAY}{place}": text for place, text in self.scripts.items()}
        return fragment(told)

    def at(self, path: str) -> str:
        """Give the address of a page with this preparation."""
        return f"{path}?{self.query}"

    def with_settings(self, settings: Settings) -> Preparation:
        """Give the preparation at other settings."""
        return replace(self, settings=settings)

    def with_scene(self, scene: Scene) -> Preparation:
        """Give the preparation in another light."""
        return replace(self, scene=scene)

    def moved_to(self, place: str, settings: Settings) -> Preparation:
        """Give the preparation of a bench at its settings.

        Another bench starts a new one, in the same room; what stands at the bench is its own.
        """
        if place == self.place:
            return self.with_settings(settings)
        scene = scene_elsewhere(self.scene)
        return Preparation(place, settings, scene=scene, in_room=self.in_room, film=self.film)

    def with_changed(self, place: str, bench: Bench) -> Preparation:
        """Give the preparation after its bench was changed, or moved to another place.

        The knobs stay where they are unless a rating of the bench forbids it now.
        """
        stands_it = not check_settings(bench, self.settings)
        settings = self.settings if stands_it else opening_settings(bench)
        return replace(
            self.moved_to(self.place, settings), place=place, goal=None, held={}, beside=None
        )


def receive_preparation(
    query: Mapping[str, str], first: str, bench_at: Callable[[str], Bench]
) -> tuple[Preparation, Bench, tuple[str, ...]]:
    """Read as `read_preparation` does; what the query has wrong is told, and all starts anew."""
    try:
        return *read_preparation(query, first, bench_at), ()
    except GlowtraceError as error:
        bench = bench_at(first)
        return Preparation(first, opening_settings(bench)), bench, (str(error),)


def read_preparation(
    query: Mapping[str, str], first: str, bench_at: Callable[[str], Bench]
) -> tuple[Preparation, Bench]:
    """Read what is prepared, and the bench, from the query of an address.

    Parameters
    ----------
    query
        The query; what it does not tell is at its default.
    first
        Place of the bench that is taken where none is told.
    bench_at
        Gives the bench at a place.

    Raises
    ------
    GlowtraceError
        There is no such bench or goal, or a value makes no sense.
    """
    place, settings = from_query(query)
    place = place or first
    bench = bench_at(place)
    earthed = query.get("earthed", "anode")
    if earthed not in get_args(Earthed):
        raise GlowtraceError(Problem("earthed", f'"{earthed}"', "choose anode or cathode"))
    preparation = Preparation(
        place,
        settings or opening_settings(bench),
        _goal(query, bench),
        {
            name: _number(query, HOLD + name, 0.0, math.inf)
            for name in KNOBS
            if HOLD + name in query
        },
        "cathode" if earthed == "cathode" else "anode",
        _number(query, "minutes", 0.0, LONGEST_RUN, RUN_MINUTES),
        _number(query, "room", 0.0, 1000.0, ROOM),
        require_paper(query.get("paper", "a4")),
        read_model(Scene, query, LIGHT),
        query.get("shown") == IN_ROOM,
        read_model(Settings, query, BESIDE) if any(map(_is_beside, query)) else None,
        _film(query),
        _scripts(query),
    )
    return preparation, bench


def _is_beside(name: str) -> bool:
    return name.startswith(BESIDE)


def _goal(query: Mapping[str, str], bench: Bench) -> Goal | None:
    if "goal" not in query:
        return None
    goal = goal_kind(query["goal"]).for_bench(bench)
    aims = {
        each.name: _number(query, AIM + each.name, 0.0, math.inf)
        for each in fields(goal)
        if AIM + each.name in query
    }
    return replace(goal, **aims)


def _film(query: Mapping[str, str]) -> str:
    film = query.get("film", "")
    if film and film not in LENSES:
        choice = f"choose {', '.join(LENSES)}, or leave it out"
        raise GlowtraceError(Problem("film", f'"{film}"', choice)).within(SUBJECT)
    return film


def _scripts(query: Mapping[str, str]) -> dict[int, str]:
    """Read what is said in the shots; longer than anybody says in one, it is cut."""
    places = (name.removeprefix(SAY) for name in query if name.startswith(SAY))
    return {
        int(place): query[f"{SAY}{place}"][:LONGEST_SCRIPT]
        for place in places
        if place.isascii() and place.isdecimal() and len(place) < 3
    }


def _number(
    query: Mapping[str, str], name: str, low: float, high: float, missing: float = math.nan
) -> float:
    if name not in query:
        return missing
    try:
        number = float(query[name])
    except ValueError:
        number = math.nan
    if not (low <= number <= high and math.isfinite(number)):
        reach = f"{low:g} or more" if high == math.inf else f"from {low:g} to {high:g}"
        problem = Problem(name, f'"{query[name]}"', f"give a number, {reach}")
        raise GlowtraceError(problem).within(SUBJECT)
    return number
