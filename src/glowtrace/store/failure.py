"""What went wrong with the database, in one line that says what to do.

The result codes of SQLite are from https://www.sqlite.org/rescode.html, those of PostgreSQL from
https://www.postgresql.org/docs/current/errcodes-appendix.html.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from glowtrace.errors import StoreError

READ_ONLY = (
    "it may only be read, not written; nothing was changed. "
    "Make the file and its folder writable, or set GLOWTRACE_DATA to a folder that is"
)

# Longest code first where one is the beginning of another: extended codes refine primary ones.
_ADVICE = (
    ("SQLITE_FULL", "the disk is full; nothing was changed. Free some space and try again"),
    ("SQLITE_READONLY", READ_ONLY),
    (
        "SQLITE_CANTOPEN",
        "it cannot be opened or made there. "
        "Make the folder writable, or set GLOWTRACE_DATA to a folder that is",
    ),
    (
        "SQLITE_NOTADB",
        "the file is no database; it was left as it is. Move it away or give another file",
    ),
    (
        "SQLITE_CORRUPT",
        "the file is damaged; it was left as it is. Put it aside and bring back a backup",
    ),
    (
        "SQLITE_BUSY",
        "another program has kept it locked for too long; nothing was changed. "
        "Close that program or try again",
    ),
    (
        "SQLITE_IOERR",
        "the disk refused to read or write; nothing was changed. "
        "Check the disk, its free space and its connection",
    ),
    ("53100", "the server's disk is full; nothing was changed. Free some space and try again"),
    (
        "55P03",
        "another program has kept it locked for too long; nothing was changed. "
        "Close that program or try again",
    ),
    ("25006", "it may only be read, not written; nothing was changed. Ask who looks after it"),
    ("42501", "this user may not do that there; nothing was changed. Ask who looks after it"),
    ("57P0", "the server was stopped; what was not saved yet is not in it. Try again"),
    ("40", "another program changed the same thing; nothing was changed. Try again"),
)


@contextmanager
def store_failures(where: str) -> Iterator[None]:
    """Turn every failure of the database at `where` into one StoreError with one line."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError) as error:
        raise StoreError(f"The database {where}: {_reason(error)}.") from error


def _reason(error: Exception) -> str:
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    code = str(getattr(cause, "sqlite_errorname", None) or getattr(cause, "sqlstate", None) or "")
    for prefix, advice in _ADVICE:
        if code.startswith(prefix):
            return advice
    if isinstance(cause, OSError) and cause.strerror:
        place = f" ({cause.filename})" if cause.filename else ""
        return f"{cause.strerror.lower()}{place}. Give another place or set GLOWTRACE_DATA"
    first_line = next(iter(str(cause).strip().splitlines()), type(cause).__name__)
    return first_line.rstrip(".")
