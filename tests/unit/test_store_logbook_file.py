"""A whole logbook in one file: out and in again, and files that are wrong, damaged or harmful.

Files are taken apart and put together with the standard library's zipfile. The attacks are those
of the zip format at large: names that lead out of the folder (CWE-22), small files that unpack to
large ones (CWE-409), members that share their bytes; https://cwe.mitre.org.
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
from store_trial import in_a_process, integrity, one_line

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store import Attachment, open_store
from glowtrace.store.records import put_entries

TUBE = ready_made("deflection tube")
NULL = Settings(accelerating_voltage=3000.0, plate_voltage=1200.0, coil_current=0.25)
PHOTO = Attachment("null.jpg", "image/jpeg", b"\xff\xd8\xff" + bytes(range(256)) * 40)


@pytest.fixture
def full(tmp_path):
    """Give a logbook with every kind of thing in it."""
    with open_store(tmp_path / "full.sqlite") as store:
        logbook = store.logbook
        photo = logbook.add("photograph", "Röhre", bench=TUBE, settings=NULL, attachments=[PHOTO])
        result = logbook.add("result", "e/m", payload={"value": 1.76e11}, made_from=[photo.id])
        logbook.amend(photo.id, title="screen")
        logbook.withdraw(result.id, reason="wrong range")
        yield logbook


@pytest.fixture
def exported(full, tmp_path):
    path = tmp_path / "logbook.zip"
    full.export_to(path)
    return path


@pytest.fixture
def logbook(store):
    return store.logbook


def everything(logbook):
    history = logbook.history()
    return history, {one.id: logbook.versions(one.id) for one in history}


def members(path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def put_together(path, files, **options) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, **options) as archive:
        for name, data in files.items():
            archive.writestr(name, data)


def with_entry_changed(files, old: bytes, new: bytes) -> dict[str, bytes]:
    """Change the text of entries, with names, sizes and checksums that agree again."""
    manifest = json.loads(files["manifest.json"])
    changed = {name: data for name, data in files.items() if not name.startswith("entries/")}
    for entry in manifest["entries"]:
        data = files[entry["file"]].replace(old, new)
        entry["sha256"] = hashlib.sha256(data).hexdigest()
        entry["file"] = f"entries/{entry['sha256']}.json"
        entry["size"] = len(data)
        changed[entry["file"]] = data
    return changed | {"manifest.json": json.dumps(manifest).encode()}


def with_manifest(files, **changes) -> dict[str, bytes]:
    manifest = json.loads(files["manifest.json"]) | changes
    return files | {"manifest.json": json.dumps(manifest).encode()}


# Out and in again


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
    assert (manifest["format"], manifest["version"]) == ("glowtrace-logbook", 1)
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


# Wrong, damaged and harmful files; nothing is changed by any of them


def refused(logbook, path, expected) -> None:
    before = everything(logbook)
    with pytest.raises(StoreError) as error:
        logbook.import_from(path)
    assert expected in one_line(error)
    assert str(path) in str(error.value)
    assert everything(logbook) == before
    with logbook._database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM attachment").scalar() == 0


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + bytes(18)])
def test_wrong_file_is_refused(logbook, tmp_path, content):
    path = tmp_path / "wrong.zip"
    path.write_bytes(content)
    refused(logbook, path, "nothing was changed")


def test_missing_file_is_refused(logbook, tmp_path):
    refused(logbook, tmp_path / "none.zip", "no such file")
    refused(logbook, tmp_path, "is a directory")


def test_every_shortened_file_is_refused(logbook, exported, tmp_path):
    whole, path = exported.read_bytes(), tmp_path / "short.zip"
    for length in range(0, len(whole), len(whole) // 25):
        path.write_bytes(whole[:length])
        refused(logbook, path, "nothing was changed")


def test_every_flipped_byte_is_refused_or_means_nothing(full, exported, tmp_path):
    """A zip has bytes without meaning (times, for one); all others must be missed."""
    whole, path = exported.read_bytes(), tmp_path / "flipped.zip"
    expected = everything(full)
    refusals = 0
    directory = whole.index(b"PK\x01\x02")
    # Besides a sample of all bytes: the version needed to unpack, and much of the directory.
    positions = [*range(0, len(whole), 97), directory + 6, *range(directory, len(whole), 7)]
    for position in positions:
        flipped = bytearray(whole)
        flipped[position] ^= 0x55
        path.write_bytes(flipped)
        with open_store("sqlite://") as store:
            try:
                store.logbook.import_from(path)
            except StoreError:
                assert store.logbook.history() == ()
                refusals += 1
            else:
                assert everything(store.logbook) == expected
    assert refusals > 0.7 * len(positions)


def test_newer_format_is_told(logbook, exported, tmp_path):
    path = tmp_path / "newer.zip"
    put_together(path, with_manifest(members(exported), version=2, more=1))
    refused(logbook, path, "newer Glowtrace")


@pytest.mark.parametrize(
    "changes",
    [
        {"format": "another"},
        {"version": 0},
        {"version": "1"},
        {"entries": None},
        {"more": 1},
        {"attachments": [{"file": "../../x"}]},
        {"entries": []},
    ],
)
def test_wrong_manifest_is_refused(logbook, exported, tmp_path, changes):
    path = tmp_path / "manifest.zip"
    put_together(path, with_manifest(members(exported), **changes))
    refused(logbook, path, "manifest.json")


@pytest.mark.parametrize("manifest", [b"", b"[]", b"{", b"[" * 100_000, b"\xff", b"NaN"])
def test_manifest_that_is_none_is_refused(logbook, exported, tmp_path, manifest):
    path = tmp_path / "manifest.zip"
    put_together(path, members(exported) | {"manifest.json": manifest})
    refused(logbook, path, "manifest.json")


@pytest.mark.parametrize(
    "name",
    [
        "../evil.json",
        "/etc/evil",
        "entries/../../evil",
        "C:\\evil",
        "entries/x.json",
        "x",
        "entries/",
    ],
)
def test_names_that_do_not_belong_there_are_refused(logbook, exported, tmp_path, name):
    path = tmp_path / "names.zip"
    put_together(path, members(exported) | {name: b"evil"})
    refused(logbook, path, "not in both")
    assert not (tmp_path.parent / "evil.json").exists()


def test_missing_and_exchanged_members_are_refused(logbook, exported, tmp_path):
    path, files = tmp_path / "members.zip", members(exported)
    for name in files:
        put_together(path, {key: data for key, data in files.items() if key != name})
        refused(logbook, path, "manifest.json")
    names = [name for name in files if name.startswith("entries/")]
    put_together(path, files | {names[0]: files[names[1]]})
    refused(logbook, path, names[0])


def test_two_members_of_one_name_are_refused(logbook, exported, tmp_path):
    path = tmp_path / "twice.zip"
    put_together(path, members(exported))
    with (
        pytest.warns(UserWarning, match="Duplicate"),
        zipfile.ZipFile(path, "a") as archive,
    ):
        archive.writestr("manifest.json", b"{}")
    refused(logbook, path, "one name")


def test_file_that_unpacks_to_more_than_it_says_is_refused(logbook, exported, tmp_path):
    path, files = tmp_path / "bomb.zip", members(exported)
    name = next(name for name in files if name.startswith("entries/"))
    put_together(path, files | {name: b" " * 200_000_000})
    assert path.stat().st_size < 300_000
    refused(logbook, path, "larger than it may be")
    put_together(path, files | {"manifest.json": b" " * 70_000_000})
    refused(logbook, path, "larger than it may be")


def test_members_that_share_their_bytes_are_refused(logbook, exported, tmp_path):
    path = tmp_path / "overlap.zip"
    put_together(path, members(exported))
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("x", b"\0" * 2000, zipfile.ZIP_STORED)
        same = archive.getinfo("x")
        for number in range(50):
            other = zipfile.ZipInfo(f"x{number}")
            for field in ("header_offset", "CRC", "compress_size", "file_size"):
                setattr(other, field, getattr(same, field))
            archive.filelist.append(other)
    refused(logbook, path, "overlap")


def test_too_much_is_refused(logbook, exported, monkeypatch):
    monkeypatch.setattr("glowtrace.store.logbook_reading.MOST_MEMBERS", 3)
    refused(logbook, exported, "at most 3")
    monkeypatch.undo()
    monkeypatch.setattr("glowtrace.store.logbook_reading.MOST_UNPACKED", 5000)
    refused(logbook, exported, "5000 bytes")


def test_other_packings_and_encryption_are_refused(logbook, exported, tmp_path):
    path, files = tmp_path / "packed.zip", members(exported)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_BZIP2) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    refused(logbook, path, "another way")
    whole = bytearray(exported.read_bytes())
    whole[whole.rindex(b"PK\x01\x02") + 8] |= 1  # the flags of the last central header
    path.write_bytes(whole)
    refused(logbook, path, "encrypted")


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (b'"kind":"result"', b'"kind":"diary"', "kind"),
        (b'"payload":null', b'"payload":NaN', "entries/"),
        (b'"payload":null', b'"payload": null', "not written as Glowtrace writes it"),
        (b'"payload":null', b'"more":1,"payload":null', "more"),
        (b'"title":"screen"', b'"title":"screen "', "spelling"),
        (b'"action":"added"', b'"action":"amended"', "beginning"),
        (b"null.jpg", b"a/b.jpg", "name"),
        (b"image/jpeg", b"text/html", "media type"),
        (hashlib.sha256(PHOTO.data).hexdigest().encode(), b"0" * 64, "null.jpg"),
        (b'"size":10243', b'"size":10244', "null.jpg"),
        (b"{", b"[", "entries/"),
        (b"{", b"\xff", "entries/"),
    ],
)
def test_entry_that_was_changed_is_refused(logbook, exported, tmp_path, old, new, expected):
    path, files = tmp_path / "changed.zip", members(exported)
    assert any(old in data for name, data in files.items() if name.startswith("entries/"))
    put_together(path, with_entry_changed(files, old, new))
    refused(logbook, path, expected)


def test_link_that_leads_nowhere_is_refused(full, exported, logbook, tmp_path):
    path, id = tmp_path / "link.zip", full.list()[0].id.encode()
    put_together(
        path, with_entry_changed(members(exported), b'["%s"]' % id, b'["%s"]' % (b"0" * 16))
    )
    refused(logbook, path, "made from")


def test_attachment_of_no_entry_is_refused(logbook, exported, tmp_path):
    path, data = tmp_path / "left over.zip", b"left over"
    key, files = hashlib.sha256(data).hexdigest(), members(exported)
    more = {
        "file": f"attachments/{key}.txt",
        "size": len(data),
        "sha256": key,
        "name": "a.txt",
        "media_type": "text/plain",
    }
    attachments = [*json.loads(files["manifest.json"])["attachments"], more]
    files = with_manifest(files, attachments=attachments) | {more["file"]: data}
    put_together(path, files)
    refused(logbook, path, "belongs to no entry")


def test_another_entry_under_a_known_id_never_takes_its_place(full, exported, tmp_path):
    before = everything(full)
    path = tmp_path / "taken.zip"
    put_together(path, with_entry_changed(members(exported), b"R\\u00f6hre", b"another"))
    with pytest.raises(StoreError) as error:
        full.import_from(path)
    assert "taken" in one_line(error)
    assert everything(full) == before


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
