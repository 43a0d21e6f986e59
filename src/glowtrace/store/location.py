"""Where the database of saved benches and settings is kept.

The order is: what the caller gives, the environment variable ``GLOWTRACE_DATA``, and then the
data folder that the operating system has for each user.
"""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_dir

DATA_VARIABLE = "GLOWTRACE_DATA"
DATABASE_FILE = "glowtrace.sqlite"


def database_location(given: str | Path | None = None) -> str | Path:
    """Give the database's address: a URL as text, or the path of an SQLite file.

    Parameters
    ----------
    given
        A database URL (any text with ``://``), the path of an SQLite file, or None for the
        default: ``GLOWTRACE_DATA`` (a folder, or a database URL) where it is set, else the user's
        data folder.

    Examples
    --------
    >>> database_location("postgresql+psycopg://bench@server/glowtrace")
    'postgresql+psycopg://bench@server/glowtrace'
    >>> database_location("saved.sqlite").name
    'saved.sqlite'
    """
    if given is not None:
        return _address(given)
    address = _address(os.environ.get(DATA_VARIABLE, "").strip() or usual_folder())
    return address if isinstance(address, str) else address / DATABASE_FILE


def data_folder() -> Path:
    """Give the folder in which files are kept beside the database."""
    address = _address(os.environ.get(DATA_VARIABLE, "").strip() or usual_folder())
    return usual_folder() if isinstance(address, str) else address


def usual_folder() -> Path:
    """Give the data folder that the operating system has for this user."""
    return Path(user_data_dir("glowtrace", False))


def _address(text: str | Path) -> str | Path:
    if isinstance(text, str) and "://" in text:
        return text
    return Path(text).expanduser()
