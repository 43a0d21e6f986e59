"""Benches and settings, saved by name and found again.

with open_store() as store:
    store.benches.save("my tube", bench)
    store.settings.save("null at 3 kV", settings, bench)
    store.settings.open("null at 3 kV").settings
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from glowtrace.store.database import Database
from glowtrace.store.location import database_location
from glowtrace.store.saved import SavedBench, SavedSettings
from glowtrace.store.shelf import BenchShelf, SettingsShelf

__all__ = ["BenchShelf", "SavedBench", "SavedSettings", "SettingsShelf", "Store", "open_store"]


class Store:
    """The open database. Close it when done, or use it in a ``with`` statement.

    Attributes
    ----------
    benches, settings
        What is saved, by name.
    where
        The place of the database, fit to be shown (a password is left out).
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.where = database.where
        self.benches = BenchShelf(database)
        self.settings = SettingsShelf(database)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()


def open_store(location: str | Path | None = None) -> Store:
    """Open the database of saved benches and settings, making it where there is none yet.

    Parameters
    ----------
    location
        Path of an SQLite file or a database URL; None for the default: the environment variable
        ``GLOWTRACE_DATA`` (a folder or a URL) where it is set, else the user's data folder.

    Raises
    ------
    StoreError
        It cannot be opened; the text says what stands in the way and what to do.
    """
    return Store(Database(database_location(location)))
