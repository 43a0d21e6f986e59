"""A database that survives: opened safely, brought up to date, changed in whole transactions.

What was committed is still there after the program is killed or the power fails. Several
programs may use one database; a writer waits its turn.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import Connection, inspect, select

from glowtrace.errors import StoreError
from glowtrace.store.engine import WRITES, database_url, hold_still, open_engine
from glowtrace.store.failure import READ_ONLY, store_failures
from glowtrace.store.file_rights import make_for_owner, may_only_be_read, reading_url
from glowtrace.store.migration import upgrade
from glowtrace.store.schema import SCHEMA_VERSION, about, metadata

PATIENCE_S = 15.0  # how long a program waits for another one's write


class Database:
    """One open database of saved benches and settings and of the logbook.

    Parameters
    ----------
    address
        Path of an SQLite file (made, with its folder, where missing) or a database URL.

    Raises
    ------
    StoreError
        The database cannot be opened, is no database, belongs to another program, was made by
        a newer Glowtrace or cannot be brought up to date. Nothing in it is changed then.
    """

    def __init__(self, address: str | Path) -> None:
        url, self.where = database_url(address)
        self._held: sqlite3.Connection | None = None
        with store_failures(self.where):
            self._is_read_only = isinstance(address, Path) and may_only_be_read(address)
            self._copy: TemporaryDirectory[str] | None = None
            if isinstance(address, Path):
                if self._is_read_only:
                    url, self._copy = reading_url(address)
                else:
                    make_for_owner(address)
            self._engine = open_engine(url, self.where, PATIENCE_S)
            try:
                self._make_or_check()
            except BaseException:
                self.close()
                raise

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state of the database."""
        with store_failures(self.where), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are all kept, or none of them."""
        if self._is_read_only:
            raise StoreError(f"The database {self.where}: {READ_ONLY}.")
        engine = self._engine.execution_options(**{WRITES: True})
        with store_failures(self.where), engine.begin() as connection:
            yield connection

    def allow_copies(self) -> None:
        """Have a plain copy of the files whole at any time from now on, until it is closed.

        Meanwhile the log of an SQLite file grows with all that is written.
        """
        file = self._engine.url.database
        if self._held is None and not self._is_read_only and self._engine.dialect.name == "sqlite":
            with store_failures(self.where):
                self._held = hold_still(Path(file or ""))

    def close(self) -> None:
        """Let go of the database."""
        if self._held is not None:
            self._held.close()
            self._held = None
        self._engine.dispose()
        if self._copy is not None:
            self._copy.cleanup()

    def _make_or_check(self) -> None:
        with self.reading() as connection:
            found = self._schema(connection)
        if found == SCHEMA_VERSION:
            return
        if self._is_read_only:
            raise StoreError(
                f"The database {self.where} is an older one, in a place that may only be read: "
                "copy it to a folder that may be written to, and set GLOWTRACE_DATA to that."
            )
        with self.writing() as connection:
            # Asked again under the lock: another program may have been here meanwhile.
            found = self._schema(connection)
            if found is None:
                metadata.create_all(connection)
                connection.execute(about.insert(), {"fact": "schema", "value": str(SCHEMA_VERSION)})
            elif found < SCHEMA_VERSION:
                upgrade(connection, found)

    def _schema(self, connection: Connection) -> int | None:
        """Give the schema, None where there is nothing yet; StoreError where it is not ours."""
        tables = inspect(connection).get_table_names()
        if not tables:
            return None
        if about.name not in tables:
            raise StoreError(
                f"The database {self.where} belongs to another program (it has the tables "
                f"{', '.join(sorted(tables)[:3])}); it was left as it is. Give another place."
            )
        found = connection.scalar(select(about.c.value).where(about.c.fact == "schema"))
        if found is None or not (found.isascii() and found.isdecimal()) or int(found) < 1:
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
        return int(found)
