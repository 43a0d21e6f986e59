"""What was saved under a name: texts, times, and the bench and settings that they describe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from glowtrace.bench.files import bench_from_toml, settings_from_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings


@dataclass(frozen=True)
class Saved:
    """One version of what was saved under a name.

    Attributes
    ----------
    name
        The name that it was saved under.
    text
        The bench or the settings as TOML.
    bench_text
        The bench as TOML, as it was when this version was saved.
    created, changed
        When the name was first saved and when this version was saved, UTC.
    versions
        How many versions the name has: this one and all others.
    """

    name: str
    text: str
    bench_text: str
    created: datetime
    changed: datetime
    versions: int

    @property
    def bench(self) -> Bench:
        """The bench, as it was then; BenchError where this Glowtrace cannot read its text."""
        return bench_from_toml(self.bench_text)


class SavedBench(Saved):
    """A saved bench; its `text` is its `bench_text`."""


class SavedSettings(Saved):
    """Saved settings, with the bench that they were made for."""

    @property
    def settings(self) -> Settings:
        """The settings; BenchError where this Glowtrace cannot read their text."""
        return settings_from_toml(self.text)
