"""A data folder of an earlier Glowtrace: everything in it is there afterwards, and in a backup too.

The folder was made by the program of that time (schema 3); contents.json beside it has what that
program then read from it.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import stat
from pathlib import Path

import pytest
from store_trial import in_a_process, integrity

from glowtrace.bench.ready_made import ready_made
from glowtrace.disk import write_whole
from glowtrace.errors import StoreError
from glowtrace.store import Store, open_store

FOLDER = Path(__file__).parent / "data" / "data_folder_1"
CONTENTS = json.loads((FOLDER / "contents.json").read_text(encoding="utf-8"))
TUBE = ready_made("deflection tube")


@pytest.fixture
def carried(tmp_path):
    folder = tmp_path / "data"
    shutil.copytree(FOLDER, folder)
    with open_store(folder / "glowtrace.sqlite") as store:
        yield store


def saved(shelf) -> dict[str, list[dict[str, str]]]:
    return {
        one.name: [
            {
                "text": version.text,
                "bench_text": version.bench_text,
                "created": version.created.isoformat(),
                "changed": version.changed.isoformat(),
            }
            for version in shelf.versions(one.name)
        ]
        for one in shelf.list()
    }


def require_everything(store: Store) -> None:
    assert saved(store.benches) == CONTENTS["benches"]
    assert saved(store.settings) == CONTENTS["settings"]
    logbook = store.logbook
    assert {
        one.id: [version.text for version in logbook.versions(one.id)]
        for one in logbook.list(withdrawn=True)
    } == CONTENTS["logbook"]
    assert [one.id for one in logbook.list()] == CONTENTS["standing"]
    assert [
        [one.time.isoformat(), one.action, one.id, one.kind, one.title, one.reason, one.version]
        for one in logbook.history()
    ] == CONTENTS["history"]
    for key, (name, media_type, data) in CONTENTS["attachments"].items():
        kept = logbook.attachment(key)
        assert (kept.name, kept.media_type, kept.data.hex()) == (name, media_type, data)


def test_nothing_is_lost(carried, tmp_path):
    require_everything(carried)
    (calibration,) = carried.calibrations.list()
    assert calibration.calibration.note == "kept"
    file = tmp_path / "data" / "glowtrace.sqlite"
    assert integrity(file) == "ok"
    before = sqlite3.connect(file.with_name("glowtrace.schema-3.sqlite"))
    assert before.execute("SELECT count(*) FROM version").fetchone() == (8,)
    before.close()


def test_everything_can_still_be_read(carried):
    for one in carried.settings.list():
        assert one.bench.name
        assert one.settings.accelerating_voltage > 0
    for entry in carried.logbook.list(withdrawn=True):
        assert (entry.bench is None) == (entry.bench_text is None)
        assert (entry.settings is None) == (entry.settings_text is None)


def test_a_backup_holds_everything_and_restoring_it_twice_adds_nothing(carried, tmp_path):
    made = carried.backup_to(tmp_path / "all.zip")
    with open_store(tmp_path / "other.sqlite") as other:
        added = other.restore_from(tmp_path / "all.zip")
        assert (added.versions, added.attachments) == (made.versions, made.attachments)
        require_everything(other)
        again = other.restore_from(tmp_path / "all.zip")
        assert (again.entries, again.versions, again.skipped) == (0, 0, made.versions)
        require_everything(other)


def test_a_logbook_file_holds_no_saved_names(carried, tmp_path):
    carried.logbook.export_to(tmp_path / "logbook.zip")
    with open_store(tmp_path / "other.sqlite") as other:
        other.logbook.import_from(tmp_path / "logbook.zip")
        assert other.benches.list() == other.settings.list() == ()
        assert len(other.logbook.list(withdrawn=True)) == len(CONTENTS["logbook"])


def test_a_taken_name_gets_a_number_and_what_is_here_stays(carried, tmp_path):
    carried.backup_to(tmp_path / "all.zip")
    with open_store(tmp_path / "other.sqlite") as other:
        other.benches.save("my tube", TUBE)
        other.restore_from(tmp_path / "all.zip")
        assert other.benches.open("my tube").bench == TUBE
        came = other.benches.versions("my tube (2)")
        texts = [each["text"] for each in CONTENTS["benches"]["my tube"]]
        assert [one.text for one in came] == texts
        other.restore_from(tmp_path / "all.zip")
        names = [one.name for one in other.benches.list()]
        assert sorted(names) == sorted({*CONTENTS["benches"], "my tube (2)"})


def test_what_was_deleted_comes_back_from_a_backup(carried, tmp_path):
    carried.backup_to(tmp_path / "all.zip")
    carried.settings.delete("lift down")
    carried.restore_from(tmp_path / "all.zip")
    require_everything(carried)


def test_files_are_for_their_owner_only(tmp_path):
    file = tmp_path / "new" / "glowtrace.sqlite"
    with open_store(file) as store:
        store.benches.save("tube", TUBE)
        for one in file.parent.iterdir():
            assert stat.S_IMODE(one.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


READ = """
    import os, sys
    from glowtrace.errors import StoreError
    from glowtrace.store import open_store

    open_store("sqlite://").close()  # loads the driver while its folder may still be read
    if os.geteuid() == 0:  # the superuser may write everywhere, so become nobody
        os.setegid(65534)
        os.seteuid(65534)
    with open_store(sys.argv[1]) as store:
        print([one.name for one in store.benches.list()])
        print([one.title for one in store.logbook.list()])
        try:
            store.benches.delete("tube")
        except StoreError as error:
            print(error)
"""


@pytest.mark.parametrize("has_log", [False, True])
def test_a_read_only_folder_can_be_read(read_only_folder, has_log):
    file = read_only_folder / "glowtrace.sqlite"
    with open_store(file) as store:
        store.benches.save("tube", TUBE)
        store.logbook.add("note", "seen")
    if has_log:  # as a program leaves it that was killed
        other = sqlite3.connect(file)
        other.execute("PRAGMA wal_autocheckpoint = 0")
        other.execute("UPDATE about SET value = value")
        other.commit()
        log = file.with_name("glowtrace.sqlite-wal")
        kept = log.read_bytes()
        other.close()
        log.write_bytes(kept)
    for one in read_only_folder.iterdir():
        one.chmod(0o444)
    read_only_folder.chmod(0o555)
    before = {one: one.read_bytes() for one in read_only_folder.iterdir()}
    out, err = in_a_process(READ, file).communicate(timeout=60)
    assert err == ""
    benches, titles, refusal = out.splitlines()
    assert (benches, titles) == ("['tube']", "['seen']")
    assert "may only be read" in refusal
    assert {one: one.read_bytes() for one in read_only_folder.iterdir()} == before


def test_left_over_parts_are_cleared_and_nothing_else(tmp_path):
    old, new, mine = (
        tmp_path / ".0123456789abcdef.part",
        tmp_path / ".fedcba9876543210.part",
        tmp_path / ".mine.part",
    )
    for one in (old, new, mine):
        one.write_text("half")
    import os

    for one in (old, mine):
        os.utime(one, (0, 0))
    write_whole(tmp_path / "whole.txt", b"whole")
    assert {one.name for one in tmp_path.iterdir()} == {new.name, mine.name, "whole.txt"}


def test_an_older_database_in_a_read_only_folder_says_what_to_do(tmp_path, monkeypatch):
    shutil.copytree(FOLDER, tmp_path / "data")
    monkeypatch.setattr("glowtrace.store.database.may_only_be_read", lambda _: True)
    with pytest.raises(StoreError, match="copy it to a folder"):
        open_store(tmp_path / "data" / "glowtrace.sqlite")
