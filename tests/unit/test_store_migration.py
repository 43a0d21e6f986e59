"""Older databases are brought up to date: without loss, whole or not at all.

The tables of schema 1 are written here as the program of that time made them. What SQLite promises
about a transaction that is cut off: https://www.sqlite.org/atomiccommit.html.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sqlite3
import subprocess
import time
from pathlib import Path

import pytest
from sqlalchemy import inspect
from store_trial import in_a_process, integrity, let_go, one_line, small_disk

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store import migration, open_store
from glowtrace.store.schema import SCHEMA_VERSION

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
NULL = Settings(accelerating_voltage=3000.0, plate_voltage=1200.0, coil_current=0.25)
SCHEMA_1 = """
CREATE TABLE about (
    fact VARCHAR(40) NOT NULL, value VARCHAR(200) NOT NULL, PRIMARY KEY (fact));
CREATE TABLE entry (
    id {serial} NOT NULL, kind VARCHAR(10) NOT NULL, name VARCHAR(120) NOT NULL,
    created {time} NOT NULL, PRIMARY KEY (id), UNIQUE (kind, name),
    CONSTRAINT known_kind CHECK (kind IN ('bench', 'settings')));
CREATE TABLE version (
    id {serial} NOT NULL, entry_id INTEGER NOT NULL, saved {time} NOT NULL, text TEXT NOT NULL,
    bench_text TEXT NOT NULL, PRIMARY KEY (id),
    FOREIGN KEY(entry_id) REFERENCES entry (id) ON DELETE CASCADE);
CREATE INDEX version_of_entry ON version (entry_id);
INSERT INTO about VALUES ('schema', '1');
"""
LESSONS = {"lesson", "lesson_question", "lesson_learner", "lesson_answer"}
TABLES = {"about", "record", "attachment"} | LESSONS
ENTRIES = [
    (1, "bench", "tube", "2026-06-01 08:00:00.000000"),
    (2, "settings", "null", "2026-06-02 08:00:00.000001"),
]
VERSIONS = [
    (1, 1, "2026-06-01 08:00:00.000000", bench_to_toml(TUBE), bench_to_toml(TUBE)),
    (2, 1, "2026-07-01 08:00:00.000000", bench_to_toml(BULB), bench_to_toml(BULB)),
    (3, 2, "2026-06-02 08:00:00.000001", settings_to_toml(NULL), bench_to_toml(TUBE)),
]


def make_schema_1(file: Path, *, padding: int = 0) -> None:
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.executescript(SCHEMA_1.format(serial="INTEGER", time="DATETIME"))
    connection.executemany("INSERT INTO entry VALUES (?, ?, ?, ?)", ENTRIES)
    connection.executemany("INSERT INTO version VALUES (?, ?, ?, ?, ?)", VERSIONS)
    for _ in range(padding):
        connection.execute(
            "INSERT INTO version (entry_id, saved, text, bench_text) SELECT entry_id, saved, text,"
            " bench_text FROM version WHERE id = 1"
        )
    connection.execute("UPDATE version SET id = id + 1000000 WHERE id = 2")  # the newest again
    connection.commit()
    connection.close()


def content(file: Path) -> tuple[str, set[str], list[tuple[object, ...]]]:
    """Give the schema, the tables, and what schema 1 kept, or the records of today."""
    connection = sqlite3.connect(file)
    try:
        schema = connection.execute("SELECT value FROM about WHERE fact = 'schema'").fetchone()[0]
        names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        tables = {name for (name,) in names} & {"entry", "version"} or {"record"}
        rows = []
        for table in sorted(tables):
            rows += connection.execute(f"SELECT * FROM {table} ORDER BY id").fetchall()
    finally:
        connection.close()
    return schema, {name for (name,) in names}, rows


def require_everything(store) -> None:
    assert store.benches.open("tube").bench == BULB
    assert store.benches.versions("tube")[-1].bench == TUBE
    null = store.settings.open("null")
    assert (null.settings, null.bench) == (NULL, TUBE)
    assert null.created.isoformat() == "2026-06-02T08:00:00.000001+00:00"


def copies(file: Path) -> list[str]:
    return sorted(one.name for one in file.parent.iterdir() if "schema" in one.name)


def left_overs(file: Path) -> list[str]:
    return [one.name for one in file.parent.iterdir() if ".part" in one.name]


def test_schema_1_is_upgraded_without_loss(file):
    make_schema_1(file)
    before = content(file)
    with open_store(file) as store:
        require_everything(store)
        added = store.logbook.add("note", "first entry")
        store.benches.save("bulb", BULB)
    with open_store(file) as store:
        require_everything(store)
        assert store.logbook.open(added.id) == added
    schema, tables, _ = content(file)
    assert schema == str(SCHEMA_VERSION)
    assert tables == TABLES
    assert content(file.with_name("glowtrace.schema-1.sqlite")) == before
    assert integrity(file) == "ok"


def test_upgraded_database_has_the_tables_of_a_new_one(file, tmp_path):
    make_schema_1(file)
    described = []
    for place in (file, tmp_path / "new.sqlite"):
        with open_store(place) as store, store._database.reading() as connection:
            seen = inspect(connection)
            described.append(
                {
                    name: (
                        [
                            (c["name"], str(c["type"]), c["nullable"])
                            for c in seen.get_columns(name)
                        ],
                        seen.get_pk_constraint(name),
                        sorted(seen.get_indexes(name), key=str),
                        seen.get_foreign_keys(name),
                    )
                    for name in seen.get_table_names()
                }
            )
    assert described[0] == described[1]


def test_file_is_copied_first_with_what_lies_in_its_log(file):
    make_schema_1(file)
    other = sqlite3.connect(file)  # keeps the write-ahead log from being taken in
    other.execute("UPDATE entry SET name = 'in the log' WHERE id = 2")
    other.commit()
    file.chmod(0o640)
    before = content(file)
    open_store(file).close()
    other.close()
    assert copies(file) == ["glowtrace.schema-1.sqlite"]
    copy = file.with_name("glowtrace.schema-1.sqlite")
    assert content(copy) == before
    assert "in the log" in str(before)
    assert copy.stat().st_mode & 0o777 == 0o640
    assert left_overs(file) == []


def test_earlier_copy_is_not_written_over(file):
    make_schema_1(file)
    mine = file.with_name("glowtrace.schema-1.sqlite")
    mine.write_text("mine")
    open_store(file).close()
    assert mine.read_text() == "mine"
    assert copies(file) == ["glowtrace.schema-1-2.sqlite", "glowtrace.schema-1.sqlite"]


def test_database_of_today_is_neither_copied_nor_changed(file):
    open_store(file).close()
    before = file.read_bytes()
    open_store(file).close()
    assert file.read_bytes() == before
    assert copies(file) == []


@pytest.mark.parametrize(
    "failure",
    [OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)), sqlite3.OperationalError("no")],
    ids=["full disk", "database"],
)
def test_failing_step_leaves_the_old_database(file, monkeypatch, failure):
    make_schema_1(file)
    before = content(file)

    carry_over = migration.carry_over

    def fails(connection):
        carry_over(connection)
        raise failure

    monkeypatch.setattr(migration, "carry_over", fails)
    with pytest.raises(StoreError) as error:
        open_store(file)
    assert str(file) in one_line(error)
    assert content(file) == before
    assert copies(file) == []
    monkeypatch.undo()
    with open_store(file) as store:
        require_everything(store)


@pytest.mark.skipif(os.geteuid() != 0, reason="making a small disk needs root")
def test_full_disk_leaves_the_old_database(tmp_path):
    with small_disk(tmp_path, "1500k") as disk:
        file = disk / "glowtrace.sqlite"
        make_schema_1(file, padding=30)
        before = content(file)
        filler = disk / "filler"
        # Room for the notes of an open database, too little for a copy.
        filler.write_bytes(b"x" * (shutil.disk_usage(disk).free - 80_000))
        with pytest.raises(StoreError) as error:
            open_store(file)
        assert "disk is full" in one_line(error)
        assert content(file) == before
        assert copies(file) == left_overs(file) == []
        filler.unlink()
        with open_store(file) as store:
            require_everything(store)


STOP_HALFWAY = """
    import sys, time
    from glowtrace.store import migration, open_store

    carry_over = migration.carry_over

    def halfway(connection):
        carry_over(connection)
        print("halfway", flush=True)
        time.sleep(600)

    migration.carry_over = halfway
    open_store(sys.argv[1])
"""


def test_killed_halfway_leaves_the_old_database(file):
    make_schema_1(file)
    before = content(file)
    process = in_a_process(STOP_HALFWAY, file)
    assert process.stdout.readline() == "halfway\n"
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert content(file) == before
    assert integrity(file) == "ok"
    with open_store(file) as store:
        require_everything(store)
    assert integrity(file) == "ok"


OPEN = """
    import sys
    import glowtrace.store.logbook
    from glowtrace.store import open_store

    print("ready", flush=True)
    sys.stdin.readline()
    open_store(sys.argv[1])
    print("done", flush=True)
"""


@pytest.mark.parametrize(
    "delay_ms", [8, *(pytest.param(each, marks=pytest.mark.thorough) for each in (0, 3, 20, 50))]
)
def test_killed_at_any_time_leaves_old_or_new_and_never_half(file, delay_ms):
    make_schema_1(file, padding=300)
    _, old_tables, rows = content(file)
    process = in_a_process(OPEN, file, stdin=subprocess.PIPE)
    assert process.stdout.readline() == "ready\n"
    process.stdin.write("go\n")
    process.stdin.flush()
    time.sleep(delay_ms / 1000)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    schema, tables, rows_now = content(file)
    assert tables == {"1": old_tables, str(SCHEMA_VERSION): TABLES}[schema]
    assert len(rows_now) == len(rows) - (0 if schema == "1" else len(ENTRIES))
    assert integrity(file) == "ok"
    with open_store(file) as store:
        require_everything(store)
        store.logbook.add("note", "after the kill")
    assert integrity(file) == "ok"
    for name in copies(file):
        assert content(file.with_name(name))[::2] == ("1", rows)


def test_two_programs_upgrade_at_once(file):
    make_schema_1(file, padding=300)
    both = [in_a_process(OPEN, file, stdin=subprocess.PIPE) for _ in range(2)]
    let_go(both)
    for process in both:
        out, err = process.communicate(timeout=60)
        assert (out, err) == ("done\n", "")
    with open_store(file) as store:
        require_everything(store)
    assert len(copies(file)) == 1
    assert integrity(file) == "ok"


def test_postgresql_of_schema_1_is_upgraded_or_left(postgres_address, monkeypatch):
    import psycopg

    plain = postgres_address.replace("+psycopg", "")
    with psycopg.connect(plain) as connection:
        ddl = SCHEMA_1.format(serial="SERIAL", time="TIMESTAMP WITHOUT TIME ZONE")
        connection.execute(ddl)
        with connection.cursor() as cursor:
            cursor.executemany("INSERT INTO entry VALUES (%s, %s, %s, %s)", ENTRIES)
            cursor.executemany("INSERT INTO version VALUES (%s, %s, %s, %s, %s)", VERSIONS)

    carry_over = migration.carry_over

    def fails(connection):
        carry_over(connection)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(migration, "carry_over", fails)
    with pytest.raises(StoreError) as error:
        open_store(postgres_address)
    one_line(error)
    with psycopg.connect(plain) as connection:
        tables = connection.execute(
            "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
        ).fetchall()
        assert tables == [("about",), ("entry",), ("version",)]
    monkeypatch.undo()
    with open_store(postgres_address) as store:
        require_everything(store)
        store.logbook.add("note", "first entry")
