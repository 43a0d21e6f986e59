"""Names on a shelf: save under a name, list, open, rename, delete; no version lost on the way.

What is saved is an entry as those of the logbook are; its title is the name, which only one entry
of its kind has.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Generic, TypeVar

from sqlalchemy import Connection

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store.database import Database
from glowtrace.store.entry import Entry, Shelved
from glowtrace.store.names import RENAMED, next_version, renamed, shelved
from glowtrace.store.naming import clean_name
from glowtrace.store.records import put_entries
from glowtrace.store.saved import Saved, SavedBench, SavedSettings
from glowtrace.store.schema import record

S = TypeVar("S", bound=Saved)


class Shelf(Generic[S]):
    """All names of one kind. Use `BenchShelf` or `SettingsShelf`.

    Every function raises StoreError where a name is wrong, unknown or taken, or the database
    fails; nothing is changed then.
    """

    kind: ClassVar[Shelved]
    saved: type[S]

    def __init__(self, database: Database) -> None:
        self._database = database

    def list(self) -> tuple[S, ...]:
        """Give the newest version of every name, sorted by name."""
        with self._database.reading() as connection:
            every = shelved(connection, self.kind)
        newest = [self._as_saved(versions)[0] for versions in every.values()]
        return tuple(sorted(newest, key=lambda one: one.name.casefold()))

    def open(self, name: str) -> S:
        """Give the newest version saved under a name."""
        return self.versions(name)[0]

    def versions(self, name: str) -> tuple[S, ...]:
        """Give every version saved under a name, newest first."""
        with self._database.reading() as connection:
            return self._as_saved(self._require(connection, clean_name(name)))

    def rename(self, name: str, new_name: str) -> None:
        """Give what was saved another name; a name that is taken is refused."""
        name, new_name = clean_name(name), clean_name(new_name)
        with self._database.writing() as connection:
            versions = self._require(connection, name)
            if new_name == name:
                return
            if new_name in shelved(connection, self.kind):
                raise self._taken(new_name, "choose another name")
            put_entries(connection, [renamed(versions[0], new_name)])

    def delete(self, name: str) -> None:
        """Delete a name with all its versions."""
        with self._database.writing() as connection:
            found = self._require(connection, clean_name(name))[0]
            connection.execute(record.delete().where(record.c.entry == found.id))

    def _save(self, name: str, contents: Mapping[str, str], overwrite: bool) -> S:
        name = clean_name(name)
        with self._database.writing() as connection:
            before = shelved(connection, self.kind).get(name)
            if before is not None and not overwrite:
                raise self._taken(
                    name, "choose another name, or overwrite it (its earlier version is kept)"
                )
            entry = next_version(self.kind, name, contents, before[0] if before else None)
            put_entries(connection, [entry])
        return self.open(name)

    def _require(self, connection: Connection, name: str) -> tuple[Entry, ...]:
        every = shelved(connection, self.kind)
        if name not in every:
            known = ", ".join(sorted(every, key=str.casefold))
            saved = f"saved are: {known}" if known else "nothing is saved yet"
            raise StoreError(f'No {self.kind} saved as "{name}"; {saved}.')
        return every[name]

    def _as_saved(self, versions: tuple[Entry, ...]) -> tuple[S, ...]:
        """Give the versions of a name that differ in more than the name."""
        told = [each for each in versions if each.reason != RENAMED]
        return tuple(
            self.saved(
                versions[0].title,
                each.settings_text or each.bench_text or "",
                each.bench_text or "",
                each.created,
                each.saved,
                len(told),
            )
            for each in told
        )

    def _taken(self, name: str, advice: str) -> StoreError:
        return StoreError(f'The name "{name}" is taken by saved {self.kind}; {advice}.')


class BenchShelf(Shelf[SavedBench]):
    """The saved benches."""

    kind = "bench"
    saved = SavedBench

    def save(self, name: str, bench: Bench, *, overwrite: bool = False) -> SavedBench:
        """Save a bench; a taken name needs `overwrite`, which keeps the earlier version."""
        return self._save(name, {"bench_text": bench_to_toml(bench)}, overwrite)


class SettingsShelf(Shelf[SavedSettings]):
    """The saved settings, each with the bench that it was made for."""

    kind = "settings"
    saved = SavedSettings

    def save(
        self, name: str, settings: Settings, bench: Bench, *, overwrite: bool = False
    ) -> SavedSettings:
        """Save settings; a taken name needs `overwrite`, which keeps the earlier version."""
        texts = {"settings_text": settings_to_toml(settings), "bench_text": bench_to_toml(bench)}
        return self._save(name, texts, overwrite)
