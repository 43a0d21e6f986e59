"""Bringing an older database up to the schema of today: whole or not at all.

Each step takes a database from one schema to the next. All steps run in one transaction, which
also notes the new schema, so that a step that fails, or a program that is killed, leaves the
database as it was. An SQLite file is copied beside itself first, by SQLite's own online backup
(https://www.sqlite.org/backup.html), which takes in what still lies in the write-ahead log.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from itertools import count
from pathlib import Path
from typing import Final

from sqlalchemy import Connection

from glowtrace.store.schema import (
    KIND_LENGTH,
    SCHEMA_VERSION,
    about,
    attachment,
    metadata,
    record,
)

Step = Callable[[Connection], None]


def add_logbook(connection: Connection) -> None:
    """Schema 1 to 2: the tables of the logbook; nothing else changes."""
    metadata.create_all(connection, tables=[record, attachment], checkfirst=False)


def lengthen_kinds(connection: Connection) -> None:
    """Schema 2 to 3: room for the kind "calibration"; no record changes."""
    if connection.dialect.name != "sqlite":
        connection.exec_driver_sql(
            f"ALTER TABLE record ALTER COLUMN kind TYPE VARCHAR({KIND_LENGTH})"
        )
        return
    # SQLite alters no column: a new table takes the records over, in the same transaction
    # (https://www.sqlite.org/lang_altertable.html#otheralter).
    for index in record.indexes:
        index.drop(connection)
    connection.exec_driver_sql("ALTER TABLE record RENAME TO record_of_schema_2")
    record.create(connection)
    names = ", ".join(column.name for column in record.columns)
    connection.exec_driver_sql(
        f"INSERT INTO record ({names}) SELECT {names} FROM record_of_schema_2"
    )
    connection.exec_driver_sql("DROP TABLE record_of_schema_2")


STEPS: Final[Mapping[int, Step]] = {1: add_logbook, 2: lengthen_kinds}
"""The step that leads on from each older schema."""


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
        for schema in range(found, SCHEMA_VERSION):
            STEPS[schema](connection)
        connection.execute(
            about.update().where(about.c.fact == "schema").values(value=str(SCHEMA_VERSION))
        )
    except BaseException:
        if copy is not None:  # the file itself stays as it was
            copy.unlink()
        raise
    return copy


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
