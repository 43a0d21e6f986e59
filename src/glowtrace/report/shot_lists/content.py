"""The shot list of a demonstration: for each step of its run sheet a shot, with all to be known."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import require_within_ratings
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.findings import Quantity
from glowtrace.light.glow import read_glow
from glowtrace.light.scene import Camera, Scene
from glowtrace.plan.leads import Earthed, lead_table
from glowtrace.plan.leads import Lead as TableLead
from glowtrace.report.caption import settings_words
from glowtrace.report.run_sheets.content import RunSheet
from glowtrace.report.run_sheets.safety import PrintedLine, printed_lines
from glowtrace.report.run_sheets.steps import KnobState, knob_states
from glowtrace.report.run_sheets.words import see_words
from glowtrace.report.sheet_picture import SheetPicture, draw_sheet_picture
from glowtrace.report.shot_lists.picture import framed
from glowtrace.safety.lines import SafetyLine
from glowtrace.safety.review import check_safety
from glowtrace.shots.exposing import Exposing, expose
from glowtrace.shots.framing import (
    Box,
    Framing,
    frame_box,
    joined,
    shown_effect,
    whole_screen,
)
from glowtrace.shots.lens import Lens
from glowtrace.shots.order import Leads, changed, fewest_changes, lead
from glowtrace.shots.speech import LONGEST_SCRIPT, hold_for, seconds_of
from glowtrace.words.language import say
from glowtrace.words.shots import (
    change_words,
    clear_words,
    danger_words,
    exposing_words,
    focus_words,
    frame_words,
    hold_words,
    leads_words,
    lens_words,
    room_words,
    stand_words,
    to_read_words,
    zoom_words,
)
from glowtrace.words.telling import tell

ELECTRONS: Final = 10_000
"""That stand for the beam of a shot."""
_RATING: Final = "safety.topic.rating"
BETWEEN: Final = 60.0
"""s between two shots that need no change of leads: common practice, no source."""


@dataclass(frozen=True)
class Shot:
    """One shot, in the order of filming.

    Attributes
    ----------
    number, place
        In the order of filming and in that of the film, from 1.
    do, see, script
        What is set, what must be seen, what is said.
    speech, hold
        How long the words take, and how long the picture is held, in whole s.
    told_hold
        The same in words.
    knobs
        How every knob stands.
    frame, camera, exposure, room
        What is in the picture; where the camera stands, its zoom and its focus; how it is
        exposed; how dark the room has to be.
    dangers
        What is dangerous in this shot.
    after
        What is touched before the next one, in order.
    needs_discharge
        Whether that needs all off and discharged.
    picture
        The predicted picture with the film's frame; None where nothing is predicted.
    settings, framing, set_camera
        The same as numbers, for whoever goes on from here; None where there is nothing to compute.
    """

    number: int
    place: int
    do: str
    see: str
    script: str
    speech: int
    hold: int
    told_hold: str
    knobs: tuple[KnobState, ...]
    frame: str
    camera: tuple[str, ...]
    exposure: str
    room: str
    dangers: tuple[str, ...]
    after: tuple[str, ...]
    needs_discharge: bool
    picture: SheetPicture | None
    settings: Settings
    framing: Framing | None
    set_camera: Camera | None


@dataclass(frozen=True)
class ShotList:
    """All shots of a demonstration, and what belongs to all of them.

    Attributes
    ----------
    title, bench, is_invented
        What is filmed, and on what.
    lens
        The camera.
    stops
        What forbids to switch on.
    cautions
        What holds always.
    light
        What is made ready while it is light, in order.
    leads
        The wiring of the first shot.
    order
        About order, changes of leads and time.
    changes
        Leads taken off and put on between the shots.
    shots
        In the order of filming.
    switch_off
        The end, with the discharge.
    model
        How the pictures were made.
    """

    title: str
    bench: str
    is_invented: bool
    lens: str
    stops: tuple[PrintedLine, ...]
    cautions: tuple[str, ...]
    light: tuple[str, ...]
    leads: tuple[TableLead, ...]
    order: tuple[str, ...]
    changes: int
    shots: tuple[Shot, ...]
    switch_off: tuple[str, ...]
    model: str

    @property
    def story(self) -> tuple[Shot, ...]:
        """The shots in the order of the film."""
        return tuple(sorted(self.shots, key=lambda shot: shot.place))


@dataclass(frozen=True)
class _Take:
    """What is filmed in one shot, before it is known how."""

    place: int
    do: str
    see: str
    script: str
    settings: Settings
    leads: Leads | None


def build_shot_list(
    prepared: PreparedBench,
    sheet: RunSheet,
    lens: Lens,
    *,
    scene: Scene | None = None,
    also: Sequence[tuple[str, Settings]] = (),
    scripts: Mapping[int, str] | None = None,
    earthed: Earthed = "anode",
    run_minutes: float = 15.0,
    room_temperature: float = 293.15,
) -> ShotList:
    """Give a shot for each step of a run sheet.

    Parameters
    ----------
    prepared, sheet
        The bench, and the run sheet of what is shown on it.
    lens
        The camera, such as one of `glowtrace.shots.lens.LENSES`.
    scene
        Light of the room; that of `Scene()` where none is told.
    also
        Further settings to film, each with a name, such as with a polarity reversed.
    scripts
        What is said instead of what is proposed, by the shot's place in the film.
    earthed, run_minutes, room_temperature
        As for the run sheet.

    Raises
    ------
    GlowtraceError
        The run sheet has no steps, further settings are beyond a rating, or a script belongs to
        no shot.
    """
    if not sheet.steps:
        raise GlowtraceError(say("shot.no_steps"))
    bench, scene = prepared.bench, scene or Scene()
    takes = list(_takes(prepared, sheet, also, scripts or {}, earthed))
    order = fewest_changes([take.leads for take in takes])
    filmed = _Filming(prepared, lens, scene, run_minutes, room_temperature)
    ordered = [takes[place] for place in order]
    shots = tuple(filmed.shots(ordered, sheet.switch_off))
    wirings = [take.leads for take in ordered if take.leads is not None]
    changes = sum(len(one ^ other) for one, other in pairwise(wirings))
    stops, _ = printed_lines(line for line in filmed.lines if line.verdict == "stop")
    return ShotList(
        sheet.title,
        sheet.bench,
        sheet.is_invented,
        lens_words(lens),
        stops,
        sheet.cautions,
        tuple(_in_the_light(prepared.plane, lens, wirings)),
        lead_table(bench, next(t.settings for t in ordered if t.leads is not None), earthed),
        tuple(_order_words(shots, changes, run_minutes)),
        changes,
        shots,
        sheet.switch_off,
        sheet.model,
    )


def _takes(
    prepared: PreparedBench,
    sheet: RunSheet,
    also: Sequence[tuple[str, Settings]],
    scripts: Mapping[int, str],
    earthed: Earthed,
) -> Iterator[_Take]:
    bench = prepared.bench
    told = [(step.do, step.see, step.say, step.settings) for step in sheet.steps]
    for name, settings in also:
        require_within_ratings(bench, settings)
        picture = prepared.picture(settings, electrons=ELECTRONS)
        do = say("shot.also", name=name, knobs=", ".join(settings_words(settings, bench)))
        told.append((do, see_words(prepared, picture, prepared.plane.first_read_x), "", settings))
    _require_scripts(scripts, len(told))
    for place, (do, see, says, settings) in enumerate(told, start=1):
        is_live = settings.heater_on and settings.accelerating_voltage > 0.0
        leads = _leads(bench, settings, earthed) if is_live else None
        script = " ".join(scripts.get(place, _spoken(f"{see} {says}")).split())
        yield _Take(place, do, see, script, settings, leads)


def _spoken(text: str) -> str:
    """Leave out what stands in brackets, for the eye only."""
    return re.sub(r" \([^()]*\)", "", text)


def _require_scripts(scripts: Mapping[int, str], shots: int) -> None:
    problems = [
        Problem("script", f"for shot {place}", f"there are shots 1 to {shots}")
        for place in scripts
        if not 1 <= place <= shots
    ]
    problems += [
        Problem(f"script of shot {place}", f"{len(text)} characters",
                f"give up to {LONGEST_SCRIPT}")
        for place, text in scripts.items()
        if len(text) > LONGEST_SCRIPT
    ]  # fmt: skip
    if problems:
        raise GlowtraceError(*problems)


def _leads(bench: Bench, settings: Settings, earthed: Earthed) -> Leads:
    table = lead_table(bench, settings, earthed)
    return frozenset(lead(each.from_terminal, each.to_terminal) for each in table)


class _Filming:
    """Goes through the shots in their order and remembers how all stood in the one before."""

    def __init__(
        self,
        prepared: PreparedBench,
        lens: Lens,
        scene: Scene,
        run_minutes: float,
        room_temperature: float,
    ) -> None:
        self._prepared, self._lens, self._scene = prepared, lens, scene
        self._run_minutes, self._room_temperature = run_minutes, room_temperature
        self._earlier: Picture | None = None
        self._framing: Framing | None = None
        self._camera: Camera | None = None
        self._known: tuple[SafetyLine, ...] = ()
        self.lines: list[SafetyLine] = []

    def shots(self, takes: Sequence[_Take], switch_off: tuple[str, ...]) -> Iterator[Shot]:
        """Give the shots in the order of filming."""
        before = takes[0].settings
        pictures = [self._prepared.picture(take.settings, electrons=ELECTRONS) for take in takes]
        boxes = joined([self._box(takes, pictures, n) for n in range(len(takes))])
        for number, take in enumerate(takes, start=1):
            following = takes[number] if number < len(takes) else None
            after, needs_discharge = _after(take, following, switch_off)
            picture, box = pictures[number - 1], boxes[number - 1]
            yield self._shot(number, take, picture, box, before, after, needs_discharge)
            before = take.settings

    def _box(self, takes: Sequence[_Take], pictures: Sequence[Picture], n: int) -> Box | None:
        """Give what the shot would show by itself; None where nothing is computed."""
        if not takes[n].settings.heater_on:
            return None
        before = pictures[n - 1] if n and pictures[n - 1].ends else None
        return shown_effect(pictures[n], before) or whole_screen(self._prepared.plane)

    def _shot(
        self,
        number: int,
        take: _Take,
        picture: Picture,
        box: Box | None,
        before: Settings,
        after: tuple[str, ...],
        needs_discharge: bool,
    ) -> Shot:
        bench, plane = self._prepared.bench, self._prepared.plane
        whole = whole_screen(plane)
        framing = None if box is None else frame_box(self._lens, box)
        exposing = self._exposing(take.settings, picture, framing)
        drawn = self._drawn(picture, framing, take.see)
        frame, camera = self._camera_words(framing, whole, picture)
        exposure, room = self._light_words(take.settings, exposing)
        dangers = self._dangers(take.settings)
        self._earlier = picture if picture.ends else None
        self._framing = framing or self._framing
        if exposing is not None:
            self._camera = exposing.camera
        return Shot(
            number, take.place, take.do, take.see, take.script, seconds_of(take.script),
            hold_for(take.script), hold_words(take.script),
            knob_states(bench, before, take.settings), frame, camera, exposure, room, dangers,
            after, needs_discharge, drawn, take.settings, framing,
            None if exposing is None else exposing.camera,
        )  # fmt: skip

    def _exposing(
        self, settings: Settings, picture: Picture, framing: Framing | None
    ) -> Exposing | None:
        if framing is None or not picture.ends:
            return None
        bench = self._prepared.bench
        glow = read_glow(bench, picture)
        return expose(bench, settings, self._scene, glow, self._lens, framing, self._camera)

    def _drawn(self, picture: Picture, framing: Framing | None, words: str) -> SheetPicture | None:
        if framing is None:
            return None
        drawn = draw_sheet_picture(picture, self._prepared.bench, self._earlier, words)
        return framed(drawn, picture.plane, framing.box, words)

    def _camera_words(
        self, framing: Framing | None, whole: Box, picture: Picture
    ) -> tuple[str, tuple[str, ...]]:
        if framing is None:
            return say("shot.frame.table"), ()
        plane = picture.plane
        is_whole = framing.box.holds(whole)
        frame = frame_words(framing, is_whole) if picture.ends else say("shot.frame.gun")
        if framing == self._framing:
            return frame, (say("shot.stand.as_before"),)
        focus = focus_words(framing, self._framing, plane)
        return frame, (stand_words(plane, framing), zoom_words(framing), focus)

    def _light_words(self, settings: Settings, exposing: Exposing | None) -> tuple[str, str]:
        if exposing is not None:
            return exposing_words(exposing, self._scene), room_words(exposing, self._scene)
        if settings.heater_on:
            return say("shot.exposure.glow"), say("shot.room.heater")
        return say("shot.exposure.room"), say("shot.room.table")

    def _dangers(self, settings: Settings) -> tuple[str, ...]:
        report = check_safety(
            self._prepared.bench, settings, run_minutes=self._run_minutes,
            room_temperature=self._room_temperature,
        )  # fmt: skip
        # A knob that is too low to work is no danger.
        lines = tuple(
            line
            for line in report.lines
            if line.verdict == "stop"
            or (line.verdict == "attention" and not line.topic.key.startswith(_RATING))
        )
        told = danger_words(lines, self._known)
        self._known = lines
        self.lines += lines
        return told


def _after(
    take: _Take, following: _Take | None, switch_off: tuple[str, ...]
) -> tuple[tuple[str, ...], bool]:
    """Say what is touched before the next shot, and whether all is discharged for it."""
    if following is None:
        return (say("shot.next.end"),), True
    if take.leads is None or take.leads == following.leads:
        return (say("shot.next.knobs"),), False
    change = changed(take.leads, following.leads or take.leads)
    steps = (say("shot.next.leads"), *switch_off, *change_words(change), say("shot.next.again"))
    return steps, True


def _in_the_light(plane: ScreenPlane, lens: Lens, wirings: Sequence[Leads]) -> Iterator[str]:
    first = wirings[0]
    yield say("shot.light.connect", n=len(first))
    later = tuple(sorted(frozenset().union(*wirings) - first))
    if later:
        yield say("shot.light.ready", leads=leads_words(later))
    if plane.is_line:
        yield to_read_words(plane, frame_box(lens, whole_screen(plane)))
    yield clear_words()
    yield say("shot.automatics")
    yield say("shot.light.camera")


def _order_words(shots: Sequence[Shot], changes: int, run_minutes: float) -> Iterator[str]:
    as_shown = all(shot.number == shot.place for shot in shots)
    yield say("shot.order.story" if as_shown else "shot.order.other")
    yield say("shot.leads.told", n=changes) if changes else say("shot.leads.none")
    film = sum(float(shot.hold) for shot in shots)
    lit = [shot for shot in shots if shot.settings.accelerating_voltage > 0.0]
    beam = sum(float(shot.hold) for shot in lit) + BETWEEN * max(0, len(lit) - 1)
    film_time, beam_time, turn = (tell(Quantity(each, "s")) for each in (film, beam, BETWEEN))
    yield say("shot.time", film=film_time, beam=beam_time, turn=turn)
    if beam > 60.0 * run_minutes:
        yield say("shot.time.long", run=tell(Quantity(60.0 * run_minutes, "s")))
