"""Lessons in the backup of everything: out, in again on another computer, nothing twice.

Files are taken apart and put together with the standard library's zipfile and json.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
from datetime import UTC, datetime

import pytest
from lesson_trial import ASK, CODE, PREDICT, message, open_lesson
from logbook_file_trial import members, put_together
from store_trial import one_line

from glowtrace.errors import StoreError
from glowtrace.lesson.answer import read_message
from glowtrace.lesson.export import lesson_data
from glowtrace.store import Store, open_store


@pytest.fixture
def taught(tmp_path):
    with open_store(tmp_path / "taught.sqlite") as store:
        yield store


@pytest.fixture
def other(tmp_path):
    with open_store(tmp_path / "other.sqlite") as store:
        yield store


def teach(store: Store, *, ends: bool = True) -> str:
    """Hold a lesson of two questions and two answers, one with a nickname; give its id."""

    async def hold() -> None:
        live.ask(PREDICT)
        await live.take(read_message(message(1, 7, nickname="Röhre")))
        live.ask(ASK)
        await live.take(read_message(message(2, 8, "fedcba9876543210", choice="up")))

    live = open_lesson(store)
    asyncio.run(hold())
    if ends:
        live.close()
    live.end()
    return live.kept.id


def everything(store: Store) -> list[object]:
    return [lesson_data(store.lessons, one) for one in store.lessons.list()]


def test_lessons_come_back_whole_and_once(taught, other, tmp_path):
    ids = {teach(taught), teach(taught)}
    backup = tmp_path / "all.zip"
    assert taught.backup_to(backup).lessons == 2
    assert other.restore_from(backup).lessons == 2
    assert {one.id for one in other.lessons.list()} == ids
    assert everything(other) == everything(taught)
    assert other.restore_from(backup).lessons == 0
    assert everything(other) == everything(taught)


def test_what_is_missing_of_a_lesson_is_added(taught, tmp_path):
    id = teach(taught)
    whole = everything(taught)
    taught.backup_to(tmp_path / "all.zip")
    with taught._database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM lesson_answer WHERE question = 2")
        connection.exec_driver_sql("DELETE FROM lesson_question WHERE number = 2")
    assert taught.lessons.count(id).answers == 1
    assert taught.restore_from(tmp_path / "all.zip").lessons == 0
    assert everything(taught) == whole


def test_a_lesson_that_was_open_comes_back_over_and_lets_nobody_in(taught, other, tmp_path):
    teach(taught, ends=False)
    taught.backup_to(tmp_path / "all.zip")
    assert not any(CODE.encode() in data for data in members(tmp_path / "all.zip").values())
    other.restore_from(tmp_path / "all.zip")
    (kept,) = other.lessons.list()
    assert not kept.is_open(datetime.now(UTC))
    assert CODE not in (kept.code, kept.state)
    assert taught.lessons.list()[0].closed is None


def test_the_logbook_alone_holds_no_lesson(taught, tmp_path):
    teach(taught)
    assert taught.logbook.export_to(tmp_path / "logbook.zip").lessons == 0
    assert set(members(tmp_path / "logbook.zip")) == {"manifest.json"}


def with_lesson_changed(path, change) -> None:
    """Change the lesson of a backup, with a name, a size and a checksum that agree again."""
    files = members(path)
    manifest = json.loads(files.pop("manifest.json"))
    (listed,) = manifest["lessons"]
    told = json.loads(files.pop(listed["file"]))
    change(told)
    data = json.dumps(told).encode()
    key = hashlib.sha256(data).hexdigest()
    listed.update(file=f"lessons/{key}.json", size=len(data), sha256=key)
    put_together(
        path, {**files, listed["file"]: data, "manifest.json": json.dumps(manifest).encode()}
    )


def test_a_lesson_that_contradicts_the_one_here_changes_nothing(taught, tmp_path):
    teach(taught)
    backup, before = tmp_path / "all.zip", everything(taught)
    taught.backup_to(backup)
    with_lesson_changed(backup, lambda told: told["questions"][0].update(text='{"kind": "other"}'))
    with pytest.raises(StoreError, match="another question 1") as caught:
        taught.restore_from(backup)
    one_line(caught)
    assert everything(taught) == before


@pytest.mark.parametrize(
    "change",
    [
        lambda told: told.update(id="../../etc"),
        lambda told: told.update(title="two\nlines"),
        lambda told: told.update(opened="yesterday"),
        lambda told: told.update(code=CODE),
        lambda told: told["answers"][0].update(text="no JSON"),
        lambda told: told["answers"][0].update(text="[1]"),
        lambda told: told["answers"][0].update(sequence=2**70),
        lambda told: told["answers"][0].update(nickname="x" * 41),
        lambda told: told["questions"][0].pop("asked"),
    ],
)
def test_a_forged_lesson_is_refused(taught, other, tmp_path, change):
    teach(taught)
    taught.backup_to(tmp_path / "all.zip")
    with_lesson_changed(tmp_path / "all.zip", change)
    with pytest.raises(StoreError, match="no lesson") as caught:
        other.restore_from(tmp_path / "all.zip")
    one_line(caught)
    assert other.lessons.list() == ()


def test_a_damaged_lesson_is_refused(taught, other, tmp_path):
    teach(taught)
    taught.backup_to(tmp_path / "all.zip")
    files = members(tmp_path / "all.zip")
    (name,) = [each for each in files if each.startswith("lessons/")]
    put_together(tmp_path / "all.zip", files | {name: files[name].replace(b"Try", b"Tra")})
    with pytest.raises(StoreError, match="not what the manifest says"):
        other.restore_from(tmp_path / "all.zip")
