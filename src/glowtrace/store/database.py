"""A database that survives: opened safely, changed in whole transactions.

SQLite is set to write-ahead logging with full synchronisation (https://www.sqlite.org/wal.html,
https://www.sqlite.org/pragma.html#pragma_synchronous): what was committed is still there after
the program is killed or the power fails. Two programs may use one file; a writer waits its turn.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, make_url, select
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from glowtrace.errors import StoreError
from glowtrace.store.failure import store_failures
from glowtrace.store.schema import SCHEMA_VERSION, about, metadata

PATIENCE_S = 15.0  # how long a program waits for another one's write
_WRITES = "glowtrace_writes"


class Database:
    """One open database of benches and settings.

    Parameters
    ----------
    address
        Path of an SQLite file (made, with its folder, where missing) or a database URL.

    Raises
    ------
    StoreError
        The database cannot be opened, is no database, belongs to another program or was made by
        a newer Glowtrace. Nothing in it is changed then.
    """

    def __init__(self, address: str | Path) -> None:
        url, self.where = _url(address)
        with store_failures(self.where):
            if isinstance(address, Path):
                address.parent.mkdir(parents=True, exist_ok=True)
            self._engine = _engine(url, self.where)
            self._make_or_check()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state of the database."""
        with store_failures(self.where), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are all kept, or none of them."""
        engine = self._engine.execution_options(**{_WRITES: True})
        with store_failures(self.where), engine.begin() as connection:
            yield connection

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def _make_or_check(self) -> None:
        with self.reading() as connection:
            tables = inspect(connection).get_table_names()
        if about.name in tables:
            self._require_known_schema()
        elif tables:
            raise StoreError(
                f"The database {self.where} belongs to another program (it has the tables "
                f"{', '.join(sorted(tables)[:3])}); it was left as it is. Give another place."
            )
        else:
            self._make_tables()

    def _make_tables(self) -> None:
        with self.writing() as connection:
            # Asked again under the lock: another program may have made them meanwhile.
            if about.name not in inspect(connection).get_table_names():
                metadata.create_all(connection)
                connection.execute(about.insert(), {"fact": "schema", "value": str(SCHEMA_VERSION)})

    def _require_known_schema(self) -> None:
        with self.reading() as connection:
            found = connection.scalar(select(about.c.value).where(about.c.fact == "schema"))
        if found is None or not found.isdecimal():
            raise StoreError(
                f"The database {self.where} does not say which schema it has; it was left as it "
                "is. Bring back a backup or give another place."
            )
        if int(found) > SCHEMA_VERSION:
            raise StoreError(
                f"The database {self.where} was made by a newer Glowtrace (schema {found}; this "
                f"one knows up to {SCHEMA_VERSION}); it was left as it is. Update Glowtrace or "
                "give another place."
            )


def _url(address: str | Path) -> tuple[URL, str]:
    """Give the URL and the words for it that may be shown: without a password."""
    if isinstance(address, Path):
        return URL.create("sqlite", database=str(address)), str(address)
    try:
        url = make_url(address)
    except ArgumentError as error:
        raise StoreError(
            "The database address is not understood; give the path of a file or a URL such as "
            "sqlite:////home/me/glowtrace.sqlite or postgresql+psycopg://user@server/name."
        ) from error
    return url, url.render_as_string(hide_password=True)


def _engine(url: URL, where: str) -> Engine:
    try:
        if url.get_backend_name() != "sqlite":
            return create_engine(url)
        engine = create_engine(url, connect_args={"timeout": PATIENCE_S})
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise StoreError(
            f"The database {where} needs a driver that is not installed ({error}); install it "
            "with pip or give the path of an SQLite file."
        ) from error
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where _begin_sqlite says
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")


def _begin_sqlite(connection: Connection) -> None:
    """Take the write lock at the start: a reader that turns writer can fail halfway."""
    writes = connection.get_execution_options().get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
