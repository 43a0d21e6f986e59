"""A shot list as Markdown: the same as the PDF, the pictures in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from glowtrace.report.run_sheets.markdown import escaped
from glowtrace.report.shot_lists.content import Shot, ShotList
from glowtrace.words.bench import invented_words


def markdown(shots: ShotList) -> str:
    """Give the text of a shot list; what forbids to switch on comes first."""
    return "\n\n".join(_blocks(shots)) + "\n"


def _blocks(shots: ShotList) -> Iterator[str]:
    if shots.stops:
        yield "# STOP. Do not switch on."
        yield _bullets(f"{line.topic}: {line.value}. {line.advice}" for line in shots.stops)
    invented = f" ({invented_words()})" if shots.is_invented else ""
    yield f"# {escaped(shots.title)}"
    yield f"Shot list for the bench **{escaped(shots.bench)}**{invented}"
    yield escaped(shots.lens)
    yield _bullets(shots.order)
    yield "## While it is light"
    yield _bullets(shots.light)
    yield _bullets(
        f"{lead.number}: {lead.from_terminal} → {lead.to_terminal}" for lead in shots.leads
    )
    yield "## Cautions"
    yield _bullets(shots.cautions)
    for shot in shots.shots:
        yield from _shot(shot)
    yield "## Switch off and discharge"
    yield "\n".join(f"{n}. {escaped(step)}" for n, step in enumerate(shots.switch_off, start=1))
    yield escaped(shots.model)
    yield "Local rules and the person responsible decide."


def _shot(shot: Shot) -> Iterator[str]:
    place = f" (shown as {shot.place})" if shot.place != shot.number else ""
    yield f"## Shot {shot.number}{place}"
    yield f"**{escaped(shot.do)}**"
    yield ", ".join(f"{knob.name} {knob.value}" for knob in shot.knobs)
    told = (
        ("Frame", shot.frame),
        ("Camera", " ".join(shot.camera)),
        ("Exposure", shot.exposure),
        ("Room", shot.room),
        ("See", shot.see),
        ("Say", shot.script),
        ("Hold", shot.told_hold),
        ("Mind", " ".join(shot.dangers)),
    )
    yield "\n".join(f"- {name}: {escaped(words)}" for name, words in told if words)
    yield "\n".join(f"{n}. {escaped(step)}" for n, step in enumerate(shot.after, start=1))


def _bullets(lines: Iterable[str]) -> str:
    return "\n".join(f"- {escaped(line)}" for line in lines)
