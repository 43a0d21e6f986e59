"""Logbook files that are wrong, damaged or harmful are refused, and nothing is changed by them.

The attacks are those of the zip format at large: names that lead out of the folder (CWE-22), small
files that unpack to large ones (CWE-409), members that share their bytes; https://cwe.mitre.org.
"""

from __future__ import annotations

import hashlib
import json
import zipfile

import pytest
from logbook_file_trial import (
    PHOTO,
    everything,
    members,
    put_together,
    refused,
    with_entry_changed,
    with_manifest,
)
from store_trial import one_line

from glowtrace.errors import StoreError
from glowtrace.store import open_store


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


@pytest.mark.slow
def test_every_flipped_byte_is_refused_or_means_nothing(full, exported, tmp_path):
    """A zip has bytes without meaning (times, for one); all others must be missed."""
    whole, path = exported.read_bytes(), tmp_path / "flipped.zip"
    expected = everything(full)
    refusals = 0
    directory = whole.index(b"PK\x01\x02")
    # Besides a sample of all bytes: the version needed to unpack, and much of the directory.
    positions = [*range(0, len(whole), 193), directory + 6, *range(directory, len(whole), 19)]
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
    put_together(path, with_manifest(members(exported), version=99, more=1))
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


@pytest.mark.slow
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
