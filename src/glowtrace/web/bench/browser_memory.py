"""What is typed on the page that describes a bench, kept in the browser until it is saved.

The draft is kept each time that the program has taken a change in. What is typed in between, and
while the program is gone, is kept field by field by the browser itself, and typed again on its
behalf when the page is back.
"""

from __future__ import annotations

import json
from typing import Final

from nicegui import Client, ui

from glowtrace.web.bench.draft import Draft

_NAME: Final = "glowtrace bench"
_SETTLED_MS: Final = 2000
"""What was typed so long ago is in the draft once the program takes a later change in."""
_KEEP_TYPED: Final = """
window.benchTyped = {key};
document.addEventListener("input", (event) => {{
  const {{ target }} = event;
  if (!target.matches(".describing-form input") || target.isPutBack) return;
  const typed = JSON.parse(localStorage.getItem(window.benchTyped) ?? "{{}}");
  typed[target.dataset.number ?? target.ariaLabel] = [target.value, Date.now()];
  localStorage.setItem(window.benchTyped, JSON.stringify(typed));
}});
"""
_SETTLE: Final = """
localStorage.setItem({draft_key}, {draft});
const typed = Object.entries(JSON.parse(localStorage.getItem({key}) ?? "{{}}"));
const open = typed.filter(([, [, when]]) => Date.now() - when < {settled});
localStorage.setItem({key}, JSON.stringify(Object.fromEntries(open)));
"""
_TYPE_AGAIN: Final = """
const typed = Object.entries(JSON.parse(localStorage.getItem({key}) ?? "{{}}"));
for (const field of document.querySelectorAll(".describing-form input")) {{
  const found = typed.find(([name]) => name === (field.dataset.number ?? field.ariaLabel));
  if (!found || field.value === found[1][0]) continue;
  field.value = found[1][0];
  field.isPutBack = true;
  field.dispatchEvent(new Event("input", {{ bubbles: true }}));
  field.isPutBack = false;
}}
"""


class BrowserMemory:
    """The memory of one bench, by its place."""

    def __init__(self, client: Client, place: str) -> None:
        self._client = client
        self._draft, self._typed = (json.dumps(f"{_NAME} {each}{place}") for each in ("", "typed "))
        ui.add_body_html(f"<script>{_KEEP_TYPED.format(key=self._typed)}</script>")

    def keep(self, draft: Draft) -> None:
        """Keep a draft in which what was typed a while ago is taken in."""
        text = json.dumps(json.dumps(dict(draft.texts)))
        self._run(
            _SETTLE.format(draft_key=self._draft, draft=text, key=self._typed, settled=_SETTLED_MS)
        )

    def drop_typed(self) -> None:
        """Forget what was typed since; the draft stays."""
        self._run(f"localStorage.removeItem({self._typed})")

    def forget(self) -> None:
        """Forget all."""
        self._run(f"localStorage.removeItem({self._draft})")
        self.drop_typed()

    async def kept(self) -> Draft | None:
        """Give the draft that was kept, if there is one."""
        script = f"return localStorage.getItem({self._draft}) ?? ''"
        try:
            kept = json.loads(await self._client.run_javascript(script, timeout=5.0))
        except (TimeoutError, ValueError):
            return None
        is_sound = isinstance(kept, dict) and all(isinstance(each, str) for each in kept.values())
        return Draft(kept) if is_sound else None

    def type_again(self) -> None:
        """Type again what the program had not yet taken in."""
        self._run(_TYPE_AGAIN.format(key=self._typed))

    def _run(self, script: str) -> None:
        self._client.run_javascript(script)
