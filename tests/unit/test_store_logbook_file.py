"""A whole logbook in one file: out and in again, in one piece or not at all.

Files are taken apart and put together with the standard library's zipfile.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import subprocess
import zipfile

import pytest
from logbook_file_trial import (
    PHOTO,
    everything,
    members,
    put_together,
    refused,
    with_manifest,
)
from store_trial import in_a_process, integrity, one_line

from glowtrace.errors import StoreError
from glowtrace.store import open_store
from glowtrace.store.records import put_entries


def test_logbook_comes_back_from_its_file(full, exported, logbook):
    done = logbook.import_from(exported)
    assert (done.entries, done.versions, done.attachments, done.skipped) == (2, 4, 1, 0)
    assert everything(logbook) == everything(full)
    photo = logbook.list()[0].attachments[0]
    assert logbook.attachment(photo.checksum) == PHOTO


def test_file_is_as_documented(full, tmp_path):
    path = tmp_path / "x.zip"
    done = full.export_to(path)
    assert (done.path, done.entries, done.versions, done.attachments) == (path, 2, 4, 1)
    files = members(path)
    manifest = json.loads(files.pop("manifest.json"))
    assert (manifest["format"], manifest["version"]) == ("glowtrace-logbook", 4)
    listed = [*manifest["entries"], *manifest["attachments"]]
    assert {one["file"] for one in listed} == set(files)
    for one in listed:
        assert one["size"] == len(files[one["file"]])
        assert one["sha256"] == hashlib.sha256(files[one["file"]]).hexdigest()
    (photo,) = manifest["attachments"]
    assert files[photo["file"]] == PHOTO.data
    titles = [json.loads(files[one["file"]])["title"] for one in manifest["entries"]]
    assert titles == ["Röhre", "e/m", "screen", "e/m"]
    assert list(path.parent.glob("*.part")) == []


def test_file_of_format_1_is_read_as_well(full, exported, logbook):
    put_together(exported, with_manifest(members(exported), version=1))
    assert logbook.import_from(exported).entries == 2
    assert everything(logbook) == everything(full)


def test_what_is_there_already_is_skipped(full, exported, logbook):
    logbook.import_from(exported)
    before = everything(logbook)
    again = logbook.import_from(exported)
    assert (again.entries, again.versions, again.attachments, again.skipped) == (0, 0, 0, 4)
    assert everything(logbook) == before
    assert full.import_from(exported).skipped == 4


def test_histories_that_went_on_in_two_places_are_joined(full, exported, logbook, tmp_path):
    logbook.import_from(exported)
    (there,) = full.list()
    there_amended = full.amend(there.id, payload="there")
    here_amended = logbook.amend(there.id, payload="here")
    full.export_to(tmp_path / "second.zip")
    assert logbook.import_from(tmp_path / "second.zip").versions == 1
    assert logbook.open(there.id) == here_amended  # saved later
    assert there_amended in logbook.versions(there.id)
    full.withdraw(there.id)
    logbook.amend(there.id, payload="here again")
    full.export_to(tmp_path / "third.zip")
    logbook.import_from(tmp_path / "third.zip")
    assert logbook.open(there.id).is_withdrawn
    logbook.export_to(tmp_path / "back.zip")
    full.import_from(tmp_path / "back.zip")
    assert everything(full) == everything(logbook)


def test_file_unpacked_and_packed_again_is_the_same_to_us(exported, tmp_path, logbook):
    put_together(tmp_path / "again.zip", members(exported))
    assert logbook.import_from(tmp_path / "again.zip").versions == 4


def test_empty_logbook_goes_out_and_in(store, tmp_path):
    store.logbook.export_to(tmp_path / "empty.zip")
    assert store.logbook.import_from(tmp_path / "empty.zip").versions == 0


def test_export_that_fails_leaves_the_older_file(full, exported):
    before = exported.read_bytes()
    with full._database.writing() as connection:
        connection.exec_driver_sql("UPDATE attachment SET data = x'00'")
    with pytest.raises(StoreError) as error:
        full.export_to(exported)
    assert "damaged" in one_line(error)
    assert exported.read_bytes() == before
    assert list(exported.parent.glob(".*.part")) == []


def test_place_that_cannot_be_written_is_one_line(full, tmp_path):
    with pytest.raises(StoreError) as error:
        full.export_to(tmp_path / "no folder" / "x.zip")
    assert "cannot be written" in one_line(error)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")  # noqa: PTH110
def test_full_disk_while_exporting_is_one_line(full, exported, monkeypatch):
    before = exported.read_bytes()
    plain = zipfile.ZipFile

    def on_a_full_disk(file, mode="r", *rest):
        return plain(open("/dev/full", "r+b", buffering=0), mode, *rest)  # noqa: PTH123

    monkeypatch.setattr("glowtrace.store.logbook_export.zipfile.ZipFile", on_a_full_disk)
    with pytest.raises(StoreError) as error:
        full.export_to(exported)
    assert "no space left" in one_line(error)
    assert exported.read_bytes() == before


def test_failure_in_the_middle_of_the_import_changes_nothing(logbook, exported, monkeypatch):
    def fails_at_last(connection, entries):
        put_entries(connection, entries[:-1])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("glowtrace.store.logbook_import.put_entries", fails_at_last)
    with pytest.raises(StoreError) as error:
        logbook.import_from(exported)
    assert "no space left" in one_line(error)
    monkeypatch.undo()
    refused(logbook, exported.parent, "directory")  # still empty
    assert logbook.import_from(exported).versions == 4


IMPORT_AND_STOP = """
    import sys, time
    from glowtrace.store import logbook_import, open_store

    plain = logbook_import.put_entries

    def slowly(connection, entries):
        plain(connection, entries[:2])
        print("two", flush=True)
        time.sleep(600)

    logbook_import.put_entries = slowly
    open_store(sys.argv[1]).logbook.import_from(sys.argv[2])
"""


def test_kill_in_the_middle_of_the_import_changes_nothing(address, exported):
    process = in_a_process(IMPORT_AND_STOP, address, exported)
    assert process.stdout.readline() == "two\n"
    process.send_signal(signal.SIGKILL)
    process.communicate()
    with open_store(address) as store:
        assert store.logbook.history() == ()
        assert store.logbook.import_from(exported).versions == 4
    assert integrity(address) == "ok"


IMPORT = """
    import sys
    from glowtrace.store import open_store

    done = open_store(sys.argv[1]).logbook.import_from(sys.argv[2])
    print(done.versions, done.skipped)
"""


def test_two_programs_import_one_file_at_once(address, exported):
    both = [in_a_process(IMPORT, address, exported, stdin=subprocess.PIPE) for _ in range(2)]
    outcomes = [process.communicate(timeout=60) for process in both]
    assert sorted(outcomes) == [("0 4\n", ""), ("4 0\n", "")]
    assert integrity(address) == "ok"


def test_photographs_are_not_packed_a_second_time(exported):
    with zipfile.ZipFile(io.BytesIO(exported.read_bytes())) as archive:
        kinds = {one.filename.split("/")[0]: one.compress_type for one in archive.infolist()}
    assert kinds["attachments"] == zipfile.ZIP_STORED
    assert kinds["entries"] == zipfile.ZIP_DEFLATED
