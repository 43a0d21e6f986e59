"""What to check next: what to do, how near it comes to danger, what each outcome would mean."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.faults import WORTH, Advice, Prospect, Ranking, Safety
from glowtrace.web.controls import box, button, words
from glowtrace.web.faults.links import put_rehearse_link, put_wiring_link
from glowtrace.web.faults.shares import about, capital
from glowtrace.web.preparation import Preparation

CLASSES: Final = {
    Safety.SAFE: "From where you stand",
    Safety.OFF: "Off and discharged first",
    Safety.LEAD: "Off and discharged first: a lead is moved",
    Safety.RESPONSIBLE: "For the person responsible only",
}
SURE: Final = 0.9
"""Probability from which a cause counts as found."""
ENOUGH: Final = (
    "No further check would tell much: do what cures it, and see whether the picture is right."
)
NOT_TOLD_APART: Final = (
    "No check here tells these causes apart: draw the line that you see, or ask the person "
    "responsible."
)
ASK: Final = "No check here finds it. Switch everything off and ask the person responsible."
ONCE: Final = "(event) => { if (event.detail < 2) emit(); }"
"""Leaves out the second of two quick clicks, which would answer the check that comes next."""
FOCUS: Final = "document.querySelector('.check-do')?.focus()"
"""Where an answer led to another check, keyboard and reader go on with that one."""
HARDLY: Final = 0.02
"""Chance below which an outcome is not offered in the first row."""


class CheckView:
    """The next check, and the checks that were made.

    Parameters
    ----------
    preparation
        What the page carries; leads to the knobs page.
    on_answer
        Called with the key of a check and what came of it; an empty text takes it back.
    """

    def __init__(self, preparation: Preparation, on_answer: Callable[[str, str], object]) -> None:
        self._preparation, self._on_answer = preparation, on_answer
        self._put_off: tuple[str, ...] = ()
        self._advice: tuple[Advice, ...] = ()
        self._ranking: Ranking | None = None
        self._takes_focus = False
        self._box = box("check")

    def show(self, ranking: Ranking, advice: Sequence[Advice]) -> None:
        """Show the first check of the advice that was not put off."""
        self._ranking, self._advice = ranking, tuple(advice)
        self._put()

    def _put(self) -> None:
        left = [each for each in self._advice if each.check.key not in self._put_off]
        if not left:
            self._put_off, left = (), list(self._advice)
        self._box.clear()
        with self._box:
            if not left:
                words("Every check of this bench is made.", "p", "check-do").props('tabindex="-1"')
            elif left[0].information >= WORTH:
                self._put_check(left[0])
            else:
                words(_no_more(self._ranking), "p", "check-do").props('tabindex="-1"')
                with box("fold", "details") as fold:
                    fold.props["open"] = bool(self._put_off)
                    words("Check something all the same", "summary")
                    self._put_check(left[0])
            self._put_answers()
        if self._takes_focus:
            self._takes_focus = False
            self._box.client.run_javascript(FOCUS)

    def _put_check(self, advice: Advice) -> None:
        check = advice.check
        with box(f"row spread {'attention' if check.safety >= Safety.OFF else 'quiet'}", "p"):
            words(CLASSES[check.safety])
            words(_minutes(check.minutes), css="check-time")
        words(check.do, "p", "check-do").props('tabindex="-1"')
        self._put_link(advice)
        put_wiring_link(self._preparation, check.do)
        words("What came of it?", "h3")
        likely = [each for each in advice.prospects if each.probability >= HARDLY]
        others = [each for each in advice.prospects if each.probability < HARDLY]
        with box("stack", "ul"):
            for each in likely:
                self._put_outcome(check.key, each)
        if others:
            with box("fold", "details"):
                words("Something else came of it", "summary")
                with box("stack", "ul"):
                    for each in others:
                        self._put_outcome(check.key, each)
        if len(self._advice) > 1:
            button("Not now: another check", partial(self._later, check.key), "plain")

    def _put_outcome(self, check: str, prospect: Prospect) -> None:
        with ui.element("li"):
            with box("key outcome lines", "button").props('type="button"') as pressed:
                words(capital(prospect.outcome), css="large")
                fault, share = prospect.after[0]
                words(f"then {about(share)}: {fault.title}", css="hint")
            call = partial(self._answer, check, prospect.outcome)
            pressed.on("click", call, js_handler=ONCE)

    def _put_link(self, advice: Advice) -> None:
        """Lead to the knobs page, set as the check has it, where only a knob is turned."""
        if self._ranking is None or advice.check.safety > Safety.SAFE:
            return
        state = self._ranking.suspects.variations.get(advice.check.key)
        if state is not None:
            put_rehearse_link(self._preparation, state.settings)

    def _put_answers(self) -> None:
        if self._ranking is None or not self._ranking.answers:
            return
        words("Checked so far", "h3")
        with box("rows", "ul"):
            for check, outcome in self._ranking.answers:
                with ui.element("li"):
                    words(f"{capital(check)}: {outcome}")
                    back = button("Take back", partial(self._on_answer, check, ""), "plain")
                    back.props["aria-label"] = f"Take back: {check}"

    def _answer(self, check: str, outcome: str, _: GenericEventArguments) -> None:
        self._takes_focus = True
        self._on_answer(check, outcome)

    def _later(self, check: str) -> None:
        self._put_off = (*self._put_off, check)
        self._takes_focus = True
        self._put()


def _no_more(ranking: Ranking | None) -> str:
    """Say what to do where no check is worth making."""
    if ranking is None or ranking.nothing_fits:
        return ASK
    return ENOUGH if ranking.first.probability > SURE else NOT_TOLD_APART


def _minutes(minutes: float) -> str:
    return "under a minute" if minutes < 1.0 else f"about {minutes:.0f} min"
