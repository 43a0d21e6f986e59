"""A database of schema 2, whose logbook had room for shorter kinds, is brought up to date.

Its tables are written here as the program of that time made them.
"""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

from store_trial import integrity

from glowtrace.bench.ready_made import ready_made
from glowtrace.store import open_store
from glowtrace.store.schema import SCHEMA_VERSION

SCHEMA_2 = """
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
CREATE TABLE record (
    id VARCHAR(64) NOT NULL, entry VARCHAR(16) NOT NULL, action VARCHAR(10) NOT NULL,
    kind VARCHAR(10) NOT NULL, title VARCHAR(200) NOT NULL, reason VARCHAR(200) NOT NULL,
    created {time} NOT NULL, saved {time} NOT NULL, bench_name TEXT NOT NULL,
    bench_checksum VARCHAR(64) NOT NULL, words TEXT NOT NULL, text TEXT NOT NULL,
    PRIMARY KEY (id));
CREATE INDEX record_of_entry ON record (entry);
CREATE INDEX record_in_time ON record (saved);
CREATE TABLE attachment (
    checksum VARCHAR(64) NOT NULL, name VARCHAR(120) NOT NULL, media_type VARCHAR(40) NOT NULL,
    size INTEGER NOT NULL, data {bytes} NOT NULL, PRIMARY KEY (checksum));
INSERT INTO about VALUES ('schema', '2');
"""
TEXT = (
    '{"action":"added","attachments":[],"bench_text":null,'
    '"created":"2026-06-01T08:00:00.000000Z","id":"00000000000000aa","kind":"note",'
    '"made_from":[],"payload":[1,2],"reason":"","saved":"2026-06-01T08:00:00.000000Z",'
    '"settings_text":null,"title":"of old"}'
)
TIME = "2026-06-01 08:00:00.000000"
ROW = (
    hashlib.sha256(TEXT.encode()).hexdigest(),
    *("00000000000000aa", "added", "note", "of old", "", TIME, TIME, ""),
    *(hashlib.sha256(b"").hexdigest(), "of old", TEXT),
)


def make_schema_2(file: Path) -> None:
    connection = sqlite3.connect(file)
    connection.executescript(SCHEMA_2.format(serial="INTEGER", time="DATETIME", bytes="BLOB"))
    connection.execute(f"INSERT INTO record VALUES ({', '.join('?' * len(ROW))})", ROW)
    connection.commit()
    connection.close()


def require_old_and_new(store) -> None:
    (old,) = store.logbook.list()
    assert (old.id, old.kind, old.title, old.payload) == (
        "00000000000000aa",
        "note",
        "of old",
        [1, 2],
    )
    store.logbook.add("calibration", "of today")
    assert [one.title for one in store.logbook.list(kind="calibration")] == ["of today"]


def test_records_of_schema_2_are_kept_and_longer_kinds_fit(file):
    make_schema_2(file)
    with open_store(file) as store:
        require_old_and_new(store)
    assert integrity(file) == "ok"
    assert file.with_name("glowtrace.schema-2.sqlite").exists()


def test_postgresql_of_schema_2_is_upgraded(postgres_address):
    import psycopg

    with psycopg.connect(postgres_address.replace("+psycopg", "")) as connection:
        how = {"serial": "SERIAL", "time": "TIMESTAMP WITHOUT TIME ZONE", "bytes": "BYTEA"}
        connection.execute(SCHEMA_2.format(**how))
        connection.execute(f"INSERT INTO record VALUES ({', '.join(['%s'] * len(ROW))})", ROW)
    with open_store(postgres_address) as store:
        require_old_and_new(store)
        with store._database.reading() as connection:
            found = connection.exec_driver_sql("SELECT value FROM about").scalar()
    assert found == str(SCHEMA_VERSION)


def test_tables_of_lessons_are_added_to_a_database_that_had_none(tmp_path):
    file = tmp_path / "glowtrace.sqlite"
    with open_store(file) as store:
        store.benches.save("tube", ready_made("deflection tube"))
    with closing(sqlite3.connect(file)) as connection, connection:
        for table in ("lesson_answer", "lesson_learner", "lesson_question", "lesson"):
            connection.execute(f"DROP TABLE {table}")
        connection.execute("UPDATE about SET value = '4'")
    with open_store(file) as store:
        assert store.lessons.list() == ()
        assert [one.name for one in store.benches.list()] == ["tube"]
    assert (tmp_path / "glowtrace.schema-4.sqlite").exists()
