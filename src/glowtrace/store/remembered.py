"""Single values that the page finds again after a restart."""

from __future__ import annotations

from typing import Final

from sqlalchemy import select

from glowtrace.errors import StoreError
from glowtrace.store.database import Database
from glowtrace.store.schema import about

_MARK: Final = "remembered."
"""Before each name, apart from the facts about the database itself."""


class Remembered:
    """Numbers by name; the last one counts."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def number(self, name: str) -> float | None:
        """Give the number that was put there; None for none. StoreError where that fails."""
        query = select(about.c.value).where(about.c.fact == _MARK + name)
        with self._database.reading() as connection:
            value = connection.scalar(query)
        try:
            return None if value is None else float(value)
        except ValueError as error:
            raise StoreError(f'What is kept as "{name}" is no number; enter it again.') from error

    def put_number(self, name: str, value: float) -> None:
        """Put a number there in place of the one before. StoreError where that fails."""
        fact = _MARK + name
        with self._database.writing() as connection:
            connection.execute(about.delete().where(about.c.fact == fact))
            connection.execute(about.insert(), {"fact": fact, "value": repr(float(value))})
