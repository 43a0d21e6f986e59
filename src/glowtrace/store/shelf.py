"""Names on a shelf: save under a name, list, open, rename, delete; no version lost on the way."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Generic, TypeVar

from sqlalchemy import Connection, Row, Select, func, select

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store.database import Database
from glowtrace.store.naming import clean_name
from glowtrace.store.saved import Saved, SavedBench, SavedSettings
from glowtrace.store.schema import entry, version

S = TypeVar("S", bound=Saved)


class Shelf(Generic[S]):
    """All names of one kind. Use `BenchShelf` or `SettingsShelf`.

    Every function raises StoreError where a name is wrong, unknown or taken, or the database
    fails; nothing is changed then.
    """

    kind: str
    kind_in_words: str
    saved: type[S]

    def __init__(self, database: Database) -> None:
        self._database = database

    def list(self) -> tuple[S, ...]:
        """Give the newest version of every name, sorted by name."""
        query = _versions(newest_only=True).where(entry.c.kind == self.kind)
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return tuple(sorted(map(self._as_saved, rows), key=lambda one: one.name.casefold()))

    def open(self, name: str) -> S:
        """Give the newest version saved under a name."""
        return self.versions(name)[0]

    def versions(self, name: str) -> tuple[S, ...]:
        """Give every version saved under a name, newest first."""
        name = clean_name(name)
        query = (
            _versions()
            .where(entry.c.kind == self.kind, entry.c.name == name)
            .order_by(version.c.id.desc())
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        if not rows:
            raise self._unknown(name)
        return tuple(map(self._as_saved, rows))

    def rename(self, name: str, new_name: str) -> None:
        """Give what was saved another name; a name that is taken is refused."""
        name, new_name = clean_name(name), clean_name(new_name)
        with self._database.writing() as connection:
            found = self._require(connection, name)
            if new_name != name and self._find(connection, new_name) is not None:
                raise self._taken(new_name, "choose another name")
            connection.execute(entry.update().where(entry.c.id == found).values(name=new_name))

    def delete(self, name: str) -> None:
        """Delete a name with all its versions."""
        with self._database.writing() as connection:
            found = self._require(connection, clean_name(name))
            # Versions first: a database without enforced foreign keys must not keep orphans.
            connection.execute(version.delete().where(version.c.entry_id == found))
            connection.execute(entry.delete().where(entry.c.id == found))

    def _save(self, name: str, text: str, bench_text: str, overwrite: bool) -> S:
        name = clean_name(name)
        now = datetime.now(UTC)
        with self._database.writing() as connection:
            found = self._find(connection, name)
            if found is not None and not overwrite:
                raise self._taken(
                    name, "choose another name, or overwrite it (its earlier version is kept)"
                )
            if found is None:
                added = entry.insert().values(kind=self.kind, name=name, created=now)
                found = connection.execute(added.returning(entry.c.id)).scalar_one()
            connection.execute(
                version.insert().values(entry_id=found, saved=now, text=text, bench_text=bench_text)
            )
        return self.open(name)

    def _find(self, connection: Connection, name: str) -> int | None:
        query = select(entry.c.id).where(entry.c.kind == self.kind, entry.c.name == name)
        return connection.scalar(query)

    def _require(self, connection: Connection, name: str) -> int:
        found = self._find(connection, name)
        if found is None:
            raise self._unknown(name)
        return found

    def _as_saved(self, row: Row[Any]) -> S:
        return self.saved(row.name, row.text, row.bench_text, row.created, row.saved, row.versions)

    def _unknown(self, name: str) -> StoreError:
        known = [one.name for one in self.list()]
        saved = f"saved are: {', '.join(known)}" if known else "nothing is saved yet"
        return StoreError(f'No {self.kind_in_words} saved as "{name}"; {saved}.')

    def _taken(self, name: str, advice: str) -> StoreError:
        return StoreError(f'The name "{name}" is taken by saved {self.kind_in_words}; {advice}.')


class BenchShelf(Shelf[SavedBench]):
    """The saved benches."""

    kind = "bench"
    kind_in_words = "bench"
    saved = SavedBench

    def save(self, name: str, bench: Bench, *, overwrite: bool = False) -> SavedBench:
        """Save a bench; a taken name needs `overwrite`, which keeps the earlier version."""
        text = bench_to_toml(bench)
        return self._save(name, text, text, overwrite)


class SettingsShelf(Shelf[SavedSettings]):
    """The saved settings, each with the bench that it was made for."""

    kind = "settings"
    kind_in_words = "settings"
    saved = SavedSettings

    def save(
        self, name: str, settings: Settings, bench: Bench, *, overwrite: bool = False
    ) -> SavedSettings:
        """Save settings; a taken name needs `overwrite`, which keeps the earlier version."""
        return self._save(name, settings_to_toml(settings), bench_to_toml(bench), overwrite)


def _versions(*, newest_only: bool = False) -> Select[Any]:
    counts = (
        select(
            version.c.entry_id,
            func.max(version.c.id).label("newest"),
            func.count().label("versions"),
        )
        .group_by(version.c.entry_id)
        .subquery()
    )
    query = (
        select(
            entry.c.name,
            entry.c.created,
            version.c.saved,
            version.c.text,
            version.c.bench_text,
            counts.c.versions,
        )
        .join_from(entry, version)
        .join(counts, counts.c.entry_id == entry.c.id)
    )
    return query.where(version.c.id == counts.c.newest) if newest_only else query
