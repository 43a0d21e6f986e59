"""A run sheet as Markdown: the same content as the PDF, without drawings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from glowtrace.report.run_sheets.content import KnobSetting, RunSheet
from glowtrace.report.run_sheets.steps import Step
from glowtrace.words.bench import invented_words

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~])")
_NUMBERED = re.compile(r"^(\s*\d+)([.)])")


def markdown(sheet: RunSheet) -> str:
    """Give the text of a run sheet; a verdict "stop" comes first."""
    blocks = [
        *_stop(sheet),
        *_head(sheet),
        *_wiring(sheet),
        *_safety(sheet),
        *_steps(sheet.steps),
        "## Switch off and discharge",
        _numbered(sheet.switch_off),
        "Local rules and the person responsible decide.",
    ]
    return "\n\n".join(blocks) + "\n"


def escaped(text: str) -> str:
    """Give text so that Markdown shows it as it is, on one line."""
    one_line = _SPECIAL.sub(r"\\\1", " ".join(text.split()))
    return _NUMBERED.sub(r"\1\\\2", one_line)


def _stop(sheet: RunSheet) -> Iterator[str]:
    if not sheet.stops:
        return
    yield "# STOP. Do not switch on."
    yield _bullets(
        f"{line.topic}: {line.value}. Limit: {line.limit}. {line.advice}" for line in sheet.stops
    )
    if not sheet.steps:
        yield "Wiring and steps are left out: these settings are beyond a rating."


def _head(sheet: RunSheet) -> Iterator[str]:
    invented = f" ({invented_words()})" if sheet.is_invented else ""
    yield f"# {escaped(sheet.title)}"
    yield f"Run sheet for the bench **{escaped(sheet.bench)}**{invented}"
    yield escaped(sheet.purpose)
    yield f"Time needed: about {sheet.minutes} min. Date, class, by: \\_\\_\\_\\_"
    if sheet.figures:
        yield "Predicted:"
        yield _bullets(sheet.figures)
    yield "## Bench"
    yield _bullets(f"{name}: {data}" for name, data in sheet.facts)
    yield "## Final settings"
    yield _table(
        ("knob", "setting", "works from", "rated"), (_knob_row(knob) for knob in sheet.knobs)
    )
    if sheet.switches:
        yield _bullets(sheet.switches)


def _knob_row(knob: KnobSetting) -> tuple[str, ...]:
    return knob.name, knob.value, knob.window or "–", knob.ratings


def _wiring(sheet: RunSheet) -> Iterator[str]:
    if not sheet.leads:
        return
    yield "## Wiring"
    yield _table(
        ("lead", "from", "to", "kind"),
        (
            (str(lead.number), lead.from_terminal, lead.to_terminal, lead.lead)
            for lead in sheet.leads
        ),
    )
    yield _bullets((*sheet.notes, *sheet.reversals))


def _safety(sheet: RunSheet) -> Iterator[str]:
    yield "## Safety"
    yield _bullets(sheet.cautions)
    yield _table(
        ("verdict", "what", "value", "limit", "margin", "source", "what to do"),
        (
            (
                line.verdict if line.verdict == "ok" else line.verdict.upper(),
                line.topic,
                line.value,
                line.limit,
                line.margin,
                line.source,
                "" if line.verdict == "ok" else line.advice,
            )
            for line in sheet.lines
        ),
    )
    yield "Sources:"
    yield _bullets(f"{letter}: {source}" for letter, source in sheet.sources)
    yield escaped(sheet.model)


def _steps(steps: tuple[Step, ...]) -> Iterator[str]:
    if steps:
        yield "## Steps"
    for step in steps:
        yield f"### {step.number}. {escaped(step.do)}"
        knobs = ", ".join(
            f"**{knob.name} {knob.value}**" if knob.is_turned else f"{knob.name} {knob.value}"
            for knob in step.knobs
        )
        told = (("See", step.see), ("Say", step.say), ("If not", step.otherwise))
        yield "\n".join(
            [f"- Knobs: {knobs}", *(f"- {name}: {escaped(text)}" for name, text in told if text)]
        )


def _bullets(items: Iterable[str]) -> str:
    return "\n".join(f"- {escaped(item)}" for item in items)


def _numbered(items: Iterable[str]) -> str:
    return "\n".join(f"{number}. {escaped(item)}" for number, item in enumerate(items, start=1))


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *(tuple(map(escaped, row)) for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
