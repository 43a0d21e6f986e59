"""What a browser keeps by itself, so that a reloaded page loses nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping

from nicegui import Client

_READINGS = "glowtrace readings"
_CALIBRATION = "glowtrace calibration"
_CHOICES = "glowtrace fit"


class Keeping:
    """The browser's own memory, by bench; nothing of it leaves the visitor's computer.

    Parameters
    ----------
    client
        The visitor's page.
    bench_key
        Tells the bench that is measured on.
    """

    def __init__(self, client: Client, bench_key: str) -> None:
        self._client, self._bench_key = client, bench_key

    async def readings(self, method: str, entry: str = "") -> str:
        """Give the readings that were written last, as `write_table` has them; empty for none.

        What was made of an entry of the logbook is kept apart, so that opening it takes nothing
        away.
        """
        return await self._get(self._key(method, entry))

    def keep_readings(self, method: str, entry: str, text: str) -> None:
        """Keep readings."""
        self._put(self._key(method, entry), text)

    async def calibration(self) -> str:
        """Give the id of the calibration that was chosen last; empty for none."""
        return await self._get(f"{_CALIBRATION} {self._bench_key}")

    def keep_calibration(self, id: str) -> None:
        """Keep which calibration was chosen; an empty id forgets it."""
        self._put(f"{_CALIBRATION} {self._bench_key}", id)

    async def choices(self) -> dict[str, str]:
        """Give how fits were made last, and what was written of the constants, by name."""
        try:
            found = json.loads(await self._get(f"{_CHOICES} {self._bench_key}") or "{}")
        except ValueError:
            return {}
        if not isinstance(found, dict):
            return {}
        return {name: text for name, text in found.items() if isinstance(text, str)}

    def keep_choices(self, choices: Mapping[str, str]) -> None:
        """Keep how fits are made."""
        text = json.dumps(dict(choices)) if choices else ""
        self._put(f"{_CHOICES} {self._bench_key}", text)

    def _key(self, method: str, entry: str) -> str:
        return f"{_READINGS} {self._bench_key} {method} {entry}".rstrip()

    async def _get(self, key: str) -> str:
        script = f"return localStorage.getItem({json.dumps(key)}) ?? ''"
        try:
            return str(await self._client.run_javascript(script, timeout=5.0))
        except TimeoutError:
            return ""

    def _put(self, key: str, text: str) -> None:
        script = f"localStorage.setItem({json.dumps(key)}, {json.dumps(text)})"
        if not text:
            script = f"localStorage.removeItem({json.dumps(key)})"
        self._client.run_javascript(script)
