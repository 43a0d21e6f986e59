"""The steps of the run sheet one after another: what to do, to say and to expect."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from glowtrace.report.run_sheets.steps import Step
from glowtrace.web.audience.remote import Press
from glowtrace.web.controls import box, button, words

KEYS = """
document.addEventListener("keydown", (event) => {
  if (event.target.matches("input, select, textarea") || event.ctrlKey || event.metaKey) return;
  const id = { PageDown: "next-step", PageUp: "last-step" }[event.key];
  if (!id) return;
  event.preventDefault();
  document.getElementById(id)?.click();
});
"""


class StepsPart:
    """The steps. Building it puts it on the page.

    Parameters
    ----------
    on_step
        Called with the place of the step that the desk has come to, from 0.
    on_show
        Called when its picture is to be shown to the audience.
    """

    def __init__(self, on_step: Callable[[int], None], on_show: Callable[[], None]) -> None:
        self._on_step = on_step
        self._steps: Sequence[Step] = ()
        self._at = 0
        self._began = time.monotonic()
        with box("lesson-step", "section").props('aria-label="Step"'):
            with box("row"):
                self._number = words("", "h2")
                self._timer = words("0 min", css="quiet")
                back = button("Back", lambda: self.go(self._at - 1))
                next_ = button("Next", lambda: self.go(self._at + 1), "key is-main")
                back.props["id"], next_.props["id"] = "last-step", "next-step"
                back.props["aria-keyshortcuts"] = "PageUp"
                next_.props["aria-keyshortcuts"] = "PageDown"
            self._knobs = words("", "p", "quiet")
            self._do = words("", "p", "lesson-do")
            with box("lesson-rows", "dl"):
                self._rows = {name: self._row(name) for name in ("Expect", "Say", "If not")}
            button("Show its picture to the audience", on_show, "plain")
        ui.timer(15.0, self._show_time)
        ui.add_body_html(f"<script>{KEYS}</script>")

    @property
    def step(self) -> Step | None:
        """The step at which the desk stands."""
        return self._steps[self._at] if self._steps else None

    def put(self, steps: Sequence[Step], at: int) -> None:
        """Show the steps of a sheet, and go to one of them."""
        self._steps = steps
        self.go(at)

    def go(self, at: int) -> None:
        """Go to a step; before the first and after the last it stays."""
        if not self._steps:
            return
        self._at = min(max(at, 0), len(self._steps) - 1)
        step = self._steps[self._at]
        self._number.text = f"Step {self._at + 1} of {len(self._steps)}"
        self._do.text = step.do
        self._knobs.text = ", ".join(f"{knob.name} {knob.value}" for knob in step.knobs)
        texts = {"Expect": step.see, "Say": step.say, "If not": step.otherwise}
        for name, (row, text) in self._rows.items():
            row.set_visibility(bool(texts[name]))
            text.text = texts[name]
        self._on_step(self._at)

    def press(self, what: Press) -> None:
        """Go on or back, as a remote wants it."""
        self.go(self._at + (1 if what == "next" else -1))

    def _row(self, name: str) -> tuple[ui.element, TextElement]:
        with box("", "div") as row:
            words(name, "dt")
            text = words("", "dd")
        return row, text

    def _show_time(self) -> None:
        self._timer.text = f"{(time.monotonic() - self._began) / 60:.0f} min"
