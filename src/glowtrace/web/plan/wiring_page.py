"""Wiring: the drawing, the leads, which point is earthed, and what to see while switching on."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nicegui import background_tasks, ui

from glowtrace.plan.diagram import wiring_diagram
from glowtrace.plan.leads import Earthed
from glowtrace.plan.wiring import SwitchOnCheck, Wiring, wire
from glowtrace.web.controls import Choice, box, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.naming import knob_facts

EARTHED: Final = {"anode": "anode", "cathode": "cathode"}


class WiringPage:
    """The page."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        with frame.body:
            choice = Choice("Joined to the protective earth", EARTHED, self._earth)
            choice.put(frame.preparation.earthed)
            self._shown = box("columns wired")

    async def run(self) -> None:
        """Compute and show the wiring."""
        frame = self._frame
        prepared = await frame.prepared()
        if prepared is None:
            return
        preparation = frame.preparation

        def work() -> tuple[Wiring, str]:
            wiring = wire(
                frame.bench, preparation.settings, earthed=preparation.earthed, prepared=prepared
            )
            return wiring, wiring_diagram(frame.bench, preparation.settings, wiring)

        found = await frame.compute("Computing the checks while switching on", work)
        self._shown.clear()
        if found is None or preparation != frame.preparation:
            return
        with self._shown:
            self._put(*found)

    def _earth(self, chosen: str) -> None:
        earthed: Earthed = "cathode" if chosen == "cathode" else "anode"
        self._frame.say("")
        self._frame.keep(replace(self._frame.preparation, earthed=earthed))
        background_tasks.create(self.run(), name="wiring")

    def _put(self, wiring: Wiring, drawing: str) -> None:
        with box("drawing").props('tabindex="0" role="region" aria-label="Wiring diagram"'):
            ui.html(drawing, sanitize=False)
        with box("stack wiring-notes"):
            words("Leads, in the order of connecting", "h2")
            _put_leads(wiring)
            for reversal in wiring.reversals:
                hint(reversal.text)
            for note in wiring.notes:
                hint(note)
        with box("stack"):
            words("While switching on: what must be seen", "h2")
            with box("counted", "ol"):
                for check in wiring.checks:
                    self._put_check(check)

    def _put_check(self, check: SwitchOnCheck) -> None:
        with ui.element("li"):
            words(check.do, "p", "large")
            words(check.expect, "p")
            hint(check.if_wrong)
            facts = knob_facts(self._frame.bench, check.settings)
            hint("  ·  ".join(f"{fact.name} {fact.value}" for fact in facts))


def _put_leads(wiring: Wiring) -> None:
    with box("rows leads", "ol").props('aria-label="Leads"'):
        for lead in wiring.leads:
            with ui.element("li"):
                words(str(lead.number), css="lead-number")
                with box("lines"):
                    words(f"{lead.from_terminal} → {lead.to_terminal}", css="large")
                    words(f"{lead.why}; {lead.lead}", css="fine")
