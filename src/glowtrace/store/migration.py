"""Carrying an older database over to the schema of today: whole or not at all.

Databases of schemas 1 to 3 kept saved benches and settings in tables of their own, ``entry`` and
``version``. Their versions become entries like those of the logbook, whose records stay as they
are. Schema 5 added the tables of lessons, empty at first. All of it happens in one transaction, so
that a failure, or a program that is killed, leaves the database as it was. An SQLite file is copied
beside itself first, by SQLite's own online backup (https://www.sqlite.org/backup.html), which takes
in what still lies in the write-ahead log.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, inspect, text

from glowtrace.store.entry import Entry, Shelved
from glowtrace.store.names import next_version
from glowtrace.store.records import put_entries
from glowtrace.store.schema import KIND_LENGTH, SCHEMA_VERSION, about, metadata, record


def upgrade(connection: Connection, found: int) -> Path | None:
    """Bring the database from schema `found` to SCHEMA_VERSION in the transaction given.

    Parameters
    ----------
    connection
        In a transaction that holds the write lock; the caller commits it.
    found
        The schema that it has, asked for under that lock.

    Returns
    -------
    copy
        Where the older file was kept; None where there is no file (a server, or memory).
    """
    copy = copy_beside(connection, found)
    try:
        carry_over(connection)
        connection.execute(
            about.update().where(about.c.fact == "schema").values(value=str(SCHEMA_VERSION))
        )
    except BaseException:
        if copy is not None:  # the file itself stays as it was
            copy.unlink()
        raise
    return copy


def carry_over(connection: Connection) -> None:
    """Make what is missing, and put what was saved under names among the records.

    The tables that had it are dropped then.
    """
    tables = inspect(connection).get_table_names()
    metadata.create_all(connection)
    if "entry" not in tables:
        return
    if record.name in tables:
        for index in record.indexes:
            index.create(connection, checkfirst=True)
        if connection.dialect.name != "sqlite":  # which does not care for lengths
            connection.exec_driver_sql(
                f"ALTER TABLE record ALTER COLUMN kind TYPE VARCHAR({KIND_LENGTH})"
            )
    for name in connection.execute(text("SELECT id, kind, name, created FROM entry")).all():
        versions = connection.execute(
            text("SELECT saved, text, bench_text FROM version WHERE entry_id = :id ORDER BY id"),
            {"id": name.id},
        ).all()
        entry: Entry | None = None
        for version in versions:
            entry = _carried(name.kind, name.name, entry, version)
            put_entries(connection, [entry])
    connection.exec_driver_sql("DROP TABLE version")
    connection.exec_driver_sql("DROP TABLE entry")


def _carried(kind: Shelved, name: str, before: Entry | None, version: Any) -> Entry:
    """Give a version as an entry; the same database gives the same ids wherever it is carried."""
    texts = {"bench_text": version.bench_text}
    if kind == "settings":
        texts["settings_text"] = version.text
    saved = _time(version.saved)
    id = hashlib.sha256(f"{kind}\n{name}\n{saved.isoformat()}".encode()).hexdigest()[:16]
    return next_version(kind, name, texts, before, moment=saved, id=id)


def _time(value: datetime | str) -> datetime:
    """Give a stored time, which SQLite has as text, its zone."""
    moment = datetime.fromisoformat(value) if isinstance(value, str) else value
    return moment.replace(tzinfo=UTC)


def copy_beside(connection: Connection, schema: int) -> Path | None:
    """Copy an SQLite file as committed to ``NAME.schema-1.sqlite`` or the next free name."""
    file = _file_of(connection)
    if file is None:
        return None
    # One name, so that what a killed program left is cleared away; the lock keeps others out.
    temporary = file.with_name(f".{file.stem}.schema-{schema}.part")
    _remove(temporary)
    try:
        with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(temporary)) as copy:
            source.backup(copy)
        temporary.chmod(file.stat().st_mode)
        _sync(temporary)
        target = _free_name(file, schema)
        temporary.replace(target)
        _sync(target.parent)
    finally:
        _remove(temporary)
    return target


def _file_of(connection: Connection) -> Path | None:
    if connection.dialect.name != "sqlite":
        return None
    names = connection.exec_driver_sql("PRAGMA database_list").all()
    path = next((file for _, name, file in names if name == "main"), "")
    return Path(path) if path else None


def _free_name(file: Path, schema: int) -> Path:
    """Give a name that no copy has yet; others wait for the lock, so it stays free."""
    names = (f"{file.stem}.schema-{schema}{'' if n == 1 else f'-{n}'}.sqlite" for n in count(1))
    return next(path for path in map(file.with_name, names) if not path.exists())


def _remove(database: Path) -> None:
    """Remove an SQLite file with what it may have beside it."""
    for ending in ("", "-journal", "-wal", "-shm"):
        with suppress(OSError):
            Path(f"{database}{ending}").unlink()


def _sync(path: Path) -> None:
    """Make sure that a file, or the names in a folder, are on the disk."""
    if os.name == "nt" and path.is_dir():  # folders cannot be opened there
        return
    opened = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
