"""A logbook with all kinds of things in it; logbook files taken apart and put together again."""

from __future__ import annotations

import hashlib
import json
import zipfile

import pytest
from store_trial import one_line

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.store import Attachment

TUBE = ready_made("deflection tube")
NULL = Settings(accelerating_voltage=3000.0, plate_voltage=1200.0, coil_current=0.25)
PHOTO = Attachment("null.jpg", "image/jpeg", b"\xff\xd8\xff" + bytes(range(256)) * 40)


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


def fill(logbook) -> None:
    """Add a photograph, amended, and a result made from it, withdrawn."""
    photo = logbook.add("photograph", "Röhre", bench=TUBE, settings=NULL, attachments=[PHOTO])
    result = logbook.add("result", "e/m", payload={"value": 1.76e11}, made_from=[photo.id])
    logbook.amend(photo.id, title="screen")
    logbook.withdraw(result.id, reason="wrong range")


def refused(logbook, path, expected) -> None:
    before = everything(logbook)
    with pytest.raises(StoreError) as error:
        logbook.import_from(path)
    assert expected in one_line(error)
    assert str(path) in str(error.value)
    assert everything(logbook) == before
    with logbook._database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM attachment").scalar() == 0
