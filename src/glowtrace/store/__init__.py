"""Benches and settings, saved by name and found again, and the logbook.

with open_store() as store:
    store.benches.save("my tube", bench)
    store.settings.save("null at 3 kV", settings, bench)
    store.settings.open("null at 3 kV").settings
    entry = store.logbook.add("readings", "Null at 3 kV", bench=bench, payload={"rows": rows})
    store.logbook.open(entry.id).payload
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import true

from glowtrace.store.attaching import Attachment, AttachmentLabel
from glowtrace.store.database import Database
from glowtrace.store.entry import Entry
from glowtrace.store.lessons import KeptAnswer, KeptLesson, LessonCount, Lessons
from glowtrace.store.location import database_location
from glowtrace.store.logbook import Event, Logbook
from glowtrace.store.logbook_export import Exported, export_entries
from glowtrace.store.logbook_import import Imported, import_logbook
from glowtrace.store.remembered import Remembered
from glowtrace.store.saved import SavedBench, SavedSettings
from glowtrace.store.shelf import BenchShelf, SettingsShelf

if TYPE_CHECKING:
    from glowtrace.store.calibrations import Calibrations

__all__ = [
    "Attachment",
    "AttachmentLabel",
    "BenchShelf",
    "Entry",
    "Event",
    "Exported",
    "Imported",
    "KeptAnswer",
    "KeptLesson",
    "LessonCount",
    "Lessons",
    "Logbook",
    "SavedBench",
    "SavedSettings",
    "SettingsShelf",
    "Store",
    "open_store",
]


class Store:
    """The open database. Close it when done, or use it in a ``with`` statement.

    Attributes
    ----------
    benches, settings
        What is saved, by name.
    logbook
        Rehearsals, plans, readings, photographs and results, with all that they rest on.
    lessons
        What was asked in lessons, and what learners answered.
    remembered
        Numbers that the page finds again after a restart; not part of a backup.
    where
        The place of the database, fit to be shown (a password is left out).
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.where = database.where
        self.benches = BenchShelf(database)
        self.settings = SettingsShelf(database)
        self.logbook = Logbook(database)
        self.lessons = Lessons(database)
        self.remembered = Remembered(database)

    @property
    def calibrations(self) -> Calibrations:
        """What was calibrated, by bench; entries of the logbook as well."""
        from glowtrace.store.calibrations import Calibrations  # the fits it brings are slow to load

        return Calibrations(self.logbook)

    def allow_copies(self) -> None:
        """Have a plain copy of the data folder whole at any time, until the store is closed."""
        self._database.allow_copies()

    def backup_to(self, path: str | Path) -> Exported:
        """Write everything that is kept into one file, which `restore_from` reads.

        Raises
        ------
        StoreError
            The file cannot be written, or something that is kept is damaged.
        """
        return export_entries(self._database, path, true(), with_lessons=True)

    def restore_from(self, path: str | Path) -> Imported:
        """Add what such a file, or a file of the logbook, holds and is not here yet.

        What is here stays as it is; a name that is taken here by something else gets a number.

        Raises
        ------
        StoreError
            The file is none of these, damaged, or contradicts what is here; nothing is changed.
        """
        return import_logbook(self._database, path)

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
    """Open the database of benches, settings and the logbook, making it where there is none yet.

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
