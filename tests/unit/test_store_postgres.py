"""What is particular to a PostgreSQL server: addresses, waiting, and failures in one clear line.

Error codes: https://www.postgresql.org/docs/current/errcodes-appendix.html.
"""

from __future__ import annotations

import pytest
from store_trial import one_line

from glowtrace.errors import StoreError
from glowtrace.store import open_store
from glowtrace.store.engine import ADVISORY_LOCK


@pytest.fixture
def store(postgres_address):
    with open_store(postgres_address) as opened:
        yield opened


@pytest.fixture
def other(postgres_address):
    """Give another program's connection to the same database."""
    import psycopg

    plain = postgres_address.replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as connection:
        yield connection


@pytest.mark.parametrize("scheme", ["postgresql", "postgres", "postgresql+psycopg"])
def test_every_usual_scheme_of_address_leads_there(postgres_address, scheme):
    address = postgres_address.replace("postgresql+psycopg", scheme, 1)
    with open_store(address) as store:
        store.logbook.add("note", "there")
    with open_store(postgres_address) as store:
        assert [one.title for one in store.logbook.list()] == ["there"]


def test_settings_of_the_address_are_kept(postgres_address):
    address = f"{postgres_address}&options=-c%20statement_timeout%3D12345&connect_timeout=7"
    with open_store(address) as store, store._database.reading() as connection:
        assert connection.exec_driver_sql("SHOW statement_timeout").scalar() == "12345ms"
        assert connection.exec_driver_sql("SHOW lock_timeout").scalar() == "15s"


def test_committed_means_on_the_disk(store):
    with store._database.writing() as connection:
        assert connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"
        assert connection.exec_driver_sql("SHOW fsync").scalar() == "on"


def test_reading_sees_one_unchanging_state(store, postgres_address):
    store.logbook.add("note", "before")
    count = "SELECT count(*) FROM record"
    with store._database.reading() as connection:
        assert connection.exec_driver_sql(count).scalar() == 1
        with open_store(postgres_address) as second:
            second.logbook.add("note", "meanwhile")
        assert connection.exec_driver_sql(count).scalar() == 1
    assert len(store.logbook.list()) == 2


def test_writer_sees_what_the_one_before_committed_whatever_the_default(postgres_address, other):
    other.execute(
        f"ALTER DATABASE {other.info.dbname} SET default_transaction_isolation = 'serializable'"
    )
    with open_store(postgres_address) as store, store._database.writing() as connection:
        shown = connection.exec_driver_sql("SHOW transaction_isolation").scalar()
    assert shown == "read committed"


def test_unknown_database_is_one_line(postgres_url):
    with pytest.raises(StoreError) as error:
        open_store(postgres_url.format("no_such_database"))
    assert "no_such_database" in one_line(error)


def test_server_that_is_not_there_is_one_line_without_the_password(tmp_path):
    pytest.importorskip("psycopg", reason="the driver psycopg is not installed")
    with pytest.raises(StoreError) as error:
        open_store(f"postgresql://me:secret@/glowtrace?host={tmp_path}")
    assert str(tmp_path) in one_line(error)
    assert "secret" not in str(error.value)


@pytest.mark.parametrize(
    "lock",
    [
        "LOCK TABLE record IN ACCESS EXCLUSIVE MODE",
        f"SELECT pg_advisory_xact_lock({ADVISORY_LOCK})",
    ],
    ids=["table", "another writer"],
)
def test_lock_held_too_long_is_one_line(postgres_address, other, monkeypatch, lock):
    monkeypatch.setattr("glowtrace.store.database.PATIENCE_S", 0.2)
    with open_store(postgres_address) as store:
        store.logbook.add("note", "first")
        with other.transaction():
            other.execute(lock)
            with pytest.raises(StoreError) as error:
                store.logbook.add("note", "second")
            assert "locked" in one_line(error)
        assert [one.title for one in store.logbook.list()] == ["first"]
        store.logbook.add("note", "second")


def test_database_that_may_only_be_read_is_one_line(store, other, postgres_address):
    name = other.info.dbname
    store.logbook.add("note", "first")
    other.execute(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
    with open_store(postgres_address) as second:
        with pytest.raises(StoreError) as error:
            second.logbook.add("note", "second")
        assert "only be read" in one_line(error)
        assert [one.title for one in second.logbook.list()] == ["first"]


def cut_all_others(connection) -> None:
    connection.execute(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
        " WHERE datname = current_database() AND pid <> pg_backend_pid()"
    )


def test_connection_that_was_cut_is_made_again(store, other):
    store.logbook.add("note", "before")
    cut_all_others(other)
    store.logbook.add("note", "after")
    assert [one.title for one in store.logbook.list()] == ["after", "before"]


def test_connection_cut_in_the_middle_changes_nothing(store, other):
    def write_half():
        with store._database.writing() as connection:
            connection.exec_driver_sql("INSERT INTO about VALUES ('half', 'done')")
            cut_all_others(other)
            connection.exec_driver_sql("SELECT 1")

    with pytest.raises(StoreError) as error:
        write_half()
    assert "server was stopped" in one_line(error)
    assert other.execute("SELECT count(*) FROM about").fetchone() == (1,)


def test_user_without_the_right_to_write_is_one_line(store, other, postgres_address):
    other.execute("CREATE ROLE visitor LOGIN")
    try:
        other.execute("GRANT SELECT ON ALL TABLES IN SCHEMA public TO visitor")
        with open_store(postgres_address.replace("glowtrace@", "visitor@")) as visitor:
            assert visitor.logbook.list() == ()
            with pytest.raises(StoreError) as error:
                visitor.logbook.add("note", "x")
        assert "may not do that" in one_line(error)
    finally:
        other.execute("DROP OWNED BY visitor")
        other.execute("DROP ROLE visitor")


def test_database_of_another_program_is_left_as_it_is(postgres_address, other):
    other.execute("CREATE TABLE marks (pupil TEXT)")
    with pytest.raises(StoreError) as error:
        open_store(postgres_address)
    assert "marks" in one_line(error)
