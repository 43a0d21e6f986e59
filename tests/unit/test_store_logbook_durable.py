"""The logbook loses nothing when a program dies, the disk is full or two programs write at once.

What SQLite and PostgreSQL promise about a committed transaction is in
https://www.sqlite.org/transactional.html and
https://www.postgresql.org/docs/current/wal-reliability.html.
"""

from __future__ import annotations

import signal
import sqlite3
import subprocess
from threading import Timer

import pytest
from sqlalchemy import text as sql
from store_trial import in_a_process, integrity, let_go

from glowtrace.store import open_store

WRITE_FOR_EVER = """
    import itertools, sys
    from glowtrace.bench.ready_made import ready_made
    from glowtrace.store import Attachment, open_store

    bench = ready_made("deflection tube")
    logbook = open_store(sys.argv[1]).logbook
    for number in itertools.count():
        photo = Attachment("p.jpg", "image/jpeg", number.to_bytes(4, "big") * 50_000)
        added = logbook.add("photograph", f"number {number}", bench=bench, attachments=[photo])
        logbook.amend(added.id, payload=number)
        print(added.id, flush=True)
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    "seen_before_the_kill", [6, *(pytest.param(n, marks=pytest.mark.thorough) for n in (1, 17))]
)
def test_committed_entries_survive_a_kill_with_their_photographs(address, seen_before_the_kill):
    process = in_a_process(WRITE_FOR_EVER, address)
    seen = [process.stdout.readline().strip() for _ in range(seen_before_the_kill)]
    process.send_signal(signal.SIGKILL)
    rest, _ = process.communicate()
    assert process.returncode == -signal.SIGKILL
    committed = [*seen, *(line for line in rest.split("\n")[:-1])]
    with open_store(address) as store:
        for number, id in enumerate(committed):
            entry = store.logbook.open(id)
            assert (entry.title, entry.payload) == (f"number {number}", number)
        for entry in store.logbook.list():  # the one that was cut off is whole or not there
            data = store.logbook.attachment(entry.attachments[0].checksum).data
            assert data == int(entry.title.split()[1]).to_bytes(4, "big") * 50_000
        assert len(store.logbook.list()) - len(committed) in (0, 1)
        store.logbook.add("note", "after the kill")
    assert integrity(address) == "ok"


WRITE_MANY = """
    import sys
    from glowtrace.store import Attachment, open_store

    print("ready", flush=True)
    sys.stdin.readline()
    with open_store(sys.argv[1]) as store:
        for number in range(12):
            photo = Attachment("p.jpg", "image/jpeg", str(number).encode())
            store.logbook.add("note", f"{sys.argv[3]} {number}", attachments=[photo])
            store.logbook.amend(sys.argv[2], reason=f"{sys.argv[3]} {number}")
"""


def test_two_programs_write_at_once_and_lose_nothing(address):
    with open_store(address) as store:
        shared = store.logbook.add("note", "shared")
    both = [
        in_a_process(WRITE_MANY, address, shared.id, name, stdin=subprocess.PIPE) for name in "ab"
    ]
    let_go(both)
    for process in both:
        _, err = process.communicate(timeout=120)
        assert err == ""
    with open_store(address) as store:
        assert len(store.logbook.list()) == 25
        assert len(store.logbook.versions(shared.id)) == 25
        assert len({one.saved for one in store.logbook.versions(shared.id)}) == 25
    assert integrity(address) == "ok"


FILL_UP = """
    import os, resource, sys
    from glowtrace.errors import StoreError
    from glowtrace.store import Attachment, open_store

    logbook = open_store(sys.argv[1]).logbook
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000_000, 2_000_000))
    added = 0
    try:
        while True:
            photo = Attachment("p.jpg", "image/jpeg", os.urandom(100_000))
            logbook.add("photograph", f"number {added}", attachments=[photo])
            added += 1
    except StoreError as error:
        print(added)
        print(error)
"""


def test_refused_write_keeps_no_half_entry(file):
    out, err = in_a_process(FILL_UP, file).communicate(timeout=60)
    assert err == ""
    added, message = out.splitlines()
    assert "free space" in message
    assert int(added) > 0
    with open_store(file) as store:
        entries = store.logbook.list()
        assert len(entries) == int(added)
        with store._database.reading() as connection:
            assert connection.scalar(sql("SELECT count(*) FROM attachment")) == int(added)
        for entry in entries:
            store.logbook.attachment(entry.attachments[0].checksum)
    assert integrity(file) == "ok"


def test_a_new_file_that_another_program_holds_is_waited_for(tmp_path):
    """Switching a file to write-ahead logging is refused at once while another one holds it."""
    file = tmp_path / "glowtrace.sqlite"
    holder = sqlite3.connect(file, isolation_level=None, check_same_thread=False)
    holder.execute("CREATE TABLE other (id)")
    holder.execute("DROP TABLE other")
    holder.execute("BEGIN IMMEDIATE")
    Timer(0.5, lambda: holder.execute("ROLLBACK")).start()
    with open_store(file) as store:
        assert store.logbook.list() == ()
    holder.close()
