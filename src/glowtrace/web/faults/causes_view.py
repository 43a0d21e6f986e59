"""What it may be: the causes with their shares, one of them in full."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from nicegui import ui

from glowtrace.bench.model import Bench
from glowtrace.faults import Appearance, Check, Fault, Ranking, Standing, look_alikes
from glowtrace.faults.variations import AS_SET
from glowtrace.web.controls import box, put_rows, words
from glowtrace.web.faults.cause_picture import cause_picture, looks
from glowtrace.web.faults.knob_states import likeliest_look
from glowtrace.web.faults.links import put_wiring_link
from glowtrace.web.faults.shares import about, capital, with_uncertainty
from glowtrace.web.faults.told import Told
from glowtrace.web.preparation import Preparation

MOST: Final = 6
WORTH_NAMING: Final = 0.02
NOTHING_FITS: Final = (
    "Nothing in the list explains what you see. Two things may be wrong at once, or one that "
    "nobody thought of. Switch everything off and ask the person responsible."
)
HOW: Final = (
    "Every fault is drawn in many sizes, flown through the fields of this bench, and compared with "
    "what you tell (Bayes’ rule); ± comes from the limited number of sizes. How common faults are "
    "beforehand is common practice, without a published source. Faults that are not in the list "
    "have a share of their own, “something that is not in this list”."
)


class CausesView:
    """The causes.

    Parameters
    ----------
    bench, preparation
        Whose faults they are, and what the page carries.
    on_open
        Called with the name of the cause that is shown in full and what it would look like, with
        None where nothing is to be seen of it.
    """

    def __init__(
        self,
        bench: Bench,
        preparation: Preparation,
        on_open: Callable[[str, Appearance | None], object],
    ) -> None:
        self._bench, self._preparation, self._on_open = bench, preparation, on_open
        self._chosen: str | None = None
        self._is_folded = False
        self._summary = words("", "p", "visually-hidden").props('role="status"')
        with box("most-likely", "a").props('href="#causes"'):
            self._likeliest = words("", css="most-likely-cause")
            self._share = words("")
        self._box = box("causes")
        self._ranking: Ranking | None = None
        self._told, self._state = Told(), AS_SET
        self._hidden: tuple[Fault, ...] = ()

    def show(self, ranking: Ranking, told: Told, state: str, hidden: Sequence[Fault] = ()) -> None:
        """Show a ranking.

        Parameters
        ----------
        ranking
            The causes.
        told
            What is seen; shown beside what each cause looks like.
        state
            Of the knobs, in which that is shown.
        hidden
            Faults that can hardly be seen at these settings.
        """
        self._hidden = tuple(hidden)
        self._is_folded = self._is_folded and told == self._told
        self._ranking, self._told, self._state = ranking, told, state
        first = ranking.first
        is_told = not told.is_empty
        self._likeliest.text = f"Most likely: {first.fault.title}" if is_told else ""
        said = f"{self._likeliest.text}, {about(first.probability)}"
        self._summary.text = said if is_told else ""
        self._share.text = about(first.probability) if is_told else ""
        self._put()

    def _put(self) -> None:
        ranking = self._ranking
        if ranking is None:
            return
        named = [row for row in ranking.standings if row.probability >= WORTH_NAMING][:MOST]
        opened = None if self._is_folded else self._opened(named)
        self._box.clear()
        with self._box:
            if self._told.is_empty:
                words("Nothing is told yet: this is how common each fault is.", "p", "hint")
            elif ranking.nothing_fits:
                words(NOTHING_FITS, "p", "large attention")
            with ui.element("ol"):
                for row in named:
                    self._put_cause(row, row is opened)
            self._put_rest([row for row in ranking.standings if row not in named])
        if opened is None:
            self._on_open("", None)
        else:
            self._on_open(opened.fault.title, self._look(opened))

    def _look(self, row: Standing) -> Appearance | None:
        if self._ranking is None:
            return None
        return likeliest_look(self._ranking, row.fault.key, self._state)

    def _opened(self, named: list[Standing]) -> Standing | None:
        """Give the cause that the visitor opened, or the first where something is told."""
        chosen = next((row for row in named if row.fault.key == self._chosen), None)
        return chosen or (None if self._told.is_empty else named[0])

    def _put_cause(self, row: Standing, is_open: bool) -> None:
        with box("cause", "li"):
            with box("cause-head", "button").props('type="button"') as head:
                head.props["aria-expanded"] = "true" if is_open else "false"
                with box("row spread large", "span"):
                    words(capital(row.fault.title))
                    words(about(row.probability), css="cause-share")
                low = max(0.0, row.probability - row.uncertainty)
                high = min(1.0, row.probability + row.uncertainty)
                box("share-bar", "span").style(
                    f"--to: {row.probability:.3f}; --low: {low:.3f}; --high: {high:.3f}"
                )
            head.props["data-cause"] = row.fault.key
            head.on("click", partial(self._flip, row.fault.key, is_open), args=[])
            if is_open:
                self._put_detail(row)

    def _put_rest(self, rest: list[Standing]) -> None:
        with box("fold small causes-rest", "details"):
            share = sum(row.probability for row in rest)
            words(f"{len(rest)} others together: {about(share)}", "summary")
            put_rows((capital(row.fault.title), about(row.probability)) for row in rest)
        if self._hidden:
            names = "; ".join(fault.title for fault in self._hidden)
            words(f"Hardly to be seen at these settings: {names}.", "p", "hint")
        with box("fold", "details"):
            words("How these shares come about", "summary")
            words(HOW, "p", "hint")

    def _put_detail(self, row: Standing) -> None:
        with box("cause-detail"):
            words(row.fault.why, "p")
            appearance = self._look(row)
            if appearance is not None:
                seen = self._told.sketch(self._state)
                with box("pair"):
                    ui.html(cause_picture(self._bench, appearance, seen), sanitize=False)
                    with box("cause-words"):
                        words(looks(self._bench, appearance), "p")
                        if seen:
                            words("Pale: what you see.", "p", "hint")
            words("What to do", "h3")
            words(row.fault.remedy, "p", "large")
            put_wiring_link(self._preparation, row.fault.remedy)
            self._put_look_alikes(row)
            if row.appearance is not None:
                share = with_uncertainty(row.probability, row.uncertainty)
                words(f"Share {share}, from a limited number of computed sizes.", "p", "hint")

    def _put_look_alikes(self, row: Standing) -> None:
        """Name what makes the same picture at every knob, with the check that tells them apart."""
        if self._ranking is None or self._told.is_empty:
            return
        alike = look_alikes(self._ranking, row.fault.key)
        if not alike:
            return
        words("Looks the same at every knob", "h3")
        with box("rows", "ul"):
            for other in alike:
                with ui.element("li"):
                    words(capital(other.fault.title))
                    words(_told_by(other.check), css="hint")

    def _flip(self, key: str, is_open: bool) -> None:
        self._is_folded = is_open
        self._chosen = None if is_open else key
        self._put()
        head = json.dumps(f'[data-cause="{key}"]')
        self._box.client.run_javascript(f"document.querySelector({head})?.focus()")


def _told_by(check: Check | None) -> str:
    return f"tell by: {check.key}" if check else "no check here tells the two apart"
