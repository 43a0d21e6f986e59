"""A plain copy of the data folder is whole, however slowly it is made while others write.

What a whole file is says SQLite itself (https://www.sqlite.org/pragma.html#pragma_integrity_check).
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest
from lesson_trial import LEARNER, open_lesson
from store_trial import integrity

from glowtrace.store import Attachment, KeptAnswer, Store, open_store

BLOCK, MOST_BETWEEN = 16_384, 12


def copy_slowly(folder: Path, to: Path, between: Callable[[], object], *, log_first: bool) -> None:
    """Copy the files of a folder block by block; something happens between the blocks."""
    to.mkdir()
    for file in sorted(folder.iterdir(), reverse=log_first):
        with file.open("rb") as source, (to / file.name).open("wb") as copy:
            for n in count():
                if not (block := source.read(BLOCK)):
                    break
                copy.write(block)
                if n < MOST_BETWEEN:  # else the log would grow as fast as it is copied
                    between()


def kept(file: Path) -> set[int]:
    with closing(sqlite3.connect(file)) as connection:
        return {row[0] for row in connection.execute("SELECT sequence FROM lesson_answer")}


def add_photograph(store: Store, size: int) -> None:
    photo = Attachment("p.jpg", "image/jpeg", os.urandom(size))
    store.logbook.add("photograph", "one more", attachments=[photo])


@pytest.mark.parametrize("log_first", [False, True])
def test_copies_that_are_made_while_answers_come_in_are_whole(tmp_path: Path, log_first: bool):
    folder = tmp_path / "data"
    file = folder / "glowtrace.sqlite"
    with open_store(file) as page, open_store(file) as command:
        for _ in range(3):
            add_photograph(page, 40_000)
        page.allow_copies()
        live, numbers, acknowledged = open_lesson(page), count(), set[int]()

        def answer() -> None:
            number = next(numbers)
            given = KeptAnswer(live.kept.id, 1, LEARNER, number, datetime.now(UTC), False, "{}")
            writer = command if number % 7 == 6 else page  # another program writes as well
            writer.lessons.keep([given])
            acknowledged.add(number)
            if number % 5 == 4:
                add_photograph(writer, 9_000)

        for n in range(3):
            before, copy = set(acknowledged), tmp_path / f"copy {n}"
            copy_slowly(folder, copy, answer, log_first=log_first)
            assert integrity(copy / file.name) == "ok"
            assert before <= kept(copy / file.name)
            with open_store(copy / file.name) as store:
                assert store.lessons.open(live.kept.id).code == live.kept.code
        live.end()
    assert len(acknowledged) > 50
    assert kept(file) == acknowledged
    assert not file.with_name(f"{file.name}-wal").exists()  # carried over at the end
