"""Connections to SQLite and PostgreSQL that keep the same promises.

    reading   one unchanging state of the database
    writing   one program at a time, from the start of the transaction to its end

SQLite is set to write-ahead logging with full synchronisation (https://www.sqlite.org/wal.html,
https://www.sqlite.org/pragma.html#pragma_synchronous). PostgreSQL waits for its log by default
(https://www.postgresql.org/docs/current/wal-reliability.html); its writers queue at an advisory
lock (https://www.postgresql.org/docs/current/explicit-locking.html#ADVISORY-LOCKS).
"""

from __future__ import annotations

import sqlite3
import time
from functools import partial
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from glowtrace.errors import StoreError

WRITES: Final = "glowtrace_writes"
"""The execution option of an engine whose transactions write."""

ADVISORY_LOCK: Final = 0x676C6F77  # "glow" in ASCII; any number that no other program uses
_PSYCOPG: Final = "postgresql+psycopg"
_PAUSE_S: Final = 0.02


def database_url(address: str | Path) -> tuple[URL, str]:
    """Give the URL and the words for it that may be shown: without a password.

    Raises
    ------
    StoreError
        The address is not understood.
    """
    if isinstance(address, Path):
        return URL.create("sqlite", database=str(address)), str(address)
    try:
        url = make_url(address)
    except ArgumentError as error:
        raise StoreError(
            "The database address is not understood; give the path of a file or a URL such as "
            "sqlite:////home/me/glowtrace.sqlite or postgresql+psycopg://user@server/name."
        ) from error
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername=_PSYCOPG)
    return url, url.render_as_string(hide_password=True)


def open_engine(url: URL, where: str, patience_s: float) -> Engine:
    """Give the engine for a URL; it connects when it is first used.

    Parameters
    ----------
    url, where
        From `database_url`.
    patience_s
        How long to wait for another program's write, s.

    Raises
    ------
    StoreError
        The driver of the database is not installed.
    """
    try:
        if url.get_backend_name() == "sqlite":
            return _sqlite(url, patience_s)
        if url.drivername == _PSYCOPG:
            return _postgresql(url, patience_s)
        return create_engine(url)
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        advice = (
            "pip install glowtrace[postgres]"
            if url.drivername == _PSYCOPG
            else "install it with pip"
        )
        raise StoreError(
            f"The database {where} needs a driver that is not installed ({error}); {advice}, "
            "or give the path of an SQLite file."
        ) from error


def _sqlite(url: URL, patience_s: float) -> Engine:
    engine = create_engine(url, connect_args={"timeout": patience_s})
    if "immutable" in url.query:
        event.listen(engine, "connect", _begin_by_hand)
    else:
        event.listen(engine, "connect", partial(_set_up_sqlite, patience_s))
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _begin_by_hand(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where _begin_sqlite says


def hold_still(file: Path) -> sqlite3.Connection:
    """Keep SQLite's main file as it is until the connection that is given is closed.

    All that is written meanwhile goes into the log, which is only added to: a reader of the state
    of this moment keeps pages from being carried over (https://www.sqlite.org/wal.html, sections
    2.1 and 6). So a plain copy of both files, in any order and however slowly, is whole: the log's
    frames carry checksums, and a last one that was copied in part counts as not written.
    """
    reader = sqlite3.connect(file, isolation_level=None, check_same_thread=False)
    reader.execute("PRAGMA wal_checkpoint(PASSIVE)")  # what an earlier run left in the log
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM sqlite_master").fetchone()
    return reader


def _set_up_sqlite(patience_s: float, connection: Any, _record: Any) -> None:
    _begin_by_hand(connection, _record)
    connection.execute("PRAGMA foreign_keys = ON")
    _log_ahead(connection, time.monotonic() + patience_s)
    connection.execute("PRAGMA synchronous = FULL")


def _log_ahead(connection: Any, latest: float) -> None:
    """Switch to write-ahead logging; a new file is switched by whoever comes first.

    SQLite refuses the switch at once, without the wait that it has for everything else, while
    another program holds the file.
    """
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            is_held = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not is_held or time.monotonic() >= latest:
                raise
            time.sleep(_PAUSE_S)


def _begin_sqlite(connection: Connection) -> None:
    """Take the write lock at the start: a reader that turns writer can fail halfway."""
    connection.exec_driver_sql("BEGIN IMMEDIATE" if _writes(connection) else "BEGIN")


def _postgresql(url: URL, patience_s: float) -> Engine:
    waits = f"-c lock_timeout={round(patience_s * 1000)}"
    options = f"{url.query['options']} {waits}" if "options" in url.query else waits
    timeout = url.query.get("connect_timeout", str(max(2, round(patience_s))))
    engine = create_engine(
        url,
        connect_args={"options": options, "connect_timeout": timeout},
        pool_pre_ping=True,  # the server may have been started anew meanwhile
    )
    event.listen(engine, "begin", _begin_postgresql)
    return engine


def _begin_postgresql(connection: Connection) -> None:
    if _writes(connection):
        # Each statement must see what the writer before has committed, whatever the default is.
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL READ COMMITTED")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({ADVISORY_LOCK})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _writes(connection: Connection) -> bool:
    return bool(connection.get_execution_options().get(WRITES, False))
