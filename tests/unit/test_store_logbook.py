"""The logbook: kept whole, found again, every version there.

SHA-256 values are checked against
the standard library's hashlib.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text as sql
from store_trial import one_line

from glowtrace.bench.files import bench_to_toml, settings_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.errors import StoreError
from glowtrace.measure.experiment import experiment
from glowtrace.measure.export import export_measurement, redo_measurement
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.store import Attachment, open_store

TUBE = ready_made("deflection tube")
BULB = ready_made("fine-beam bulb")
NULL = Settings(accelerating_voltage=3000.0, plate_voltage=1200.0, coil_current=0.25)
PHOTO = Attachment("null.jpg", "image/jpeg", b"\xff\xd8\xff" + bytes(range(256)) * 40)
SHEET = Attachment("readings.csv", "text/csv", b"U/V,I/A\n3000,0.25\n")
ROWS = {"rows": [{"coil_current_a": 0.25, "note": "Röhre sieben"}, {"coil_current_a": None}]}


# Kept whole and found again


def test_entry_comes_back_with_all_that_it_rests_on(address):
    with open_store(address) as store:
        added = store.logbook.add(
            "readings",
            "Null at 3 kV",
            bench=TUBE,
            settings=NULL,
            payload=ROWS,
            attachments=[PHOTO, SHEET],
        )
    with open_store(address) as store:
        found = store.logbook.open(added.id)
        assert found == added
        assert (found.kind, found.title, found.payload) == ("readings", "Null at 3 kV", ROWS)
        assert (found.bench, found.settings) == (TUBE, NULL)
        assert (found.bench_text, found.settings_text) == (
            bench_to_toml(TUBE),
            settings_to_toml(NULL),
        )
        photo, sheet = found.attachments
        assert photo.checksum == hashlib.sha256(PHOTO.data).hexdigest()
        assert store.logbook.attachment(photo.checksum) == PHOTO
        assert store.logbook.attachment(sheet.checksum) == SHEET


def test_measurement_kept_as_data_can_be_redone(logbook):
    rows = [
        {"accelerating_voltage": 150.0, "coil_current": 1.5, "diameter": 0.0715},
        {"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 0.0825},
        {"accelerating_voltage": 250.0, "coil_current": 1.5, "diameter": [0.092, 0.0925, 0.093]},
    ]
    meters = {"ruler": Instrument(1e-3), "coil_current": Instrument(0.01, 0.01)}
    setup = experiment(BULB, table("circle", rows, meters, is_invented=True), model="ideal")
    found = setup.fit()
    payload = json.loads(export_measurement(setup, found))
    kept = logbook.add("result", "e/m", bench=BULB, payload=payload)
    again, refound = redo_measurement(json.dumps(logbook.open(kept.id).payload))
    assert again.tables == setup.tables
    assert refound.values.tolist() == found.values.tolist()


def test_bench_of_an_entry_stays_when_the_saved_bench_changes(store):
    store.benches.save("tube", TUBE)
    added = store.logbook.add("rehearsal", "first light", bench=TUBE)
    store.benches.save("tube", BULB, overwrite=True)
    store.benches.delete("tube")
    assert store.logbook.open(added.id).bench == TUBE


def test_created_is_now_in_utc(logbook):
    added = logbook.add("note", "now")
    assert abs(added.created - datetime.now(UTC)) < timedelta(minutes=1)
    assert added.created.utcoffset() == timedelta(0)
    assert logbook.open(added.id).created == added.created


def test_links_lead_to_earlier_entries_only(logbook):
    photo = logbook.add("photograph", "screen", attachments=[PHOTO])
    readings = logbook.add("readings", "from it", made_from=[photo.id])
    result = logbook.add("result", "e/m", payload=1.76e11, made_from=[readings.id, photo.id])
    assert logbook.open(result.id).made_from == (readings.id, photo.id)
    with pytest.raises(StoreError) as error:
        logbook.amend(photo.id, made_from=[result.id])
    assert "created later" in one_line(error)
    with pytest.raises(StoreError) as error:
        logbook.amend(photo.id, made_from=[photo.id])
    one_line(error)
    with pytest.raises(StoreError) as error:
        logbook.add("note", "x", made_from=["0" * 16])
    assert "no entry" in one_line(error)
    assert len(logbook.history()) == 3


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**80), 2**80)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(payload=json_values)
def test_any_json_comes_back_as_it_was(tmp_path_factory, payload):
    with open_store(tmp_path_factory.getbasetemp() / "any json.sqlite") as store:
        found = store.logbook.open(store.logbook.add("result", "r", payload=payload).id).payload
    # The reference is the standard library's JSON.
    assert json.dumps(found, sort_keys=True) == json.dumps(payload, sort_keys=True)


@pytest.mark.parametrize("character", ["\x00", "\u0301", "\U0001f52d", "'; DROP TABLE record; --"])
def test_odd_characters_are_only_characters(logbook, character):
    added = logbook.add("note", "odd", payload={"text": character})
    assert logbook.open(added.id).payload == {"text": character}
    assert [one.id for one in logbook.list(text="odd")] == [added.id]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ({"kind": "diary"}, "photograph"),
        ({"title": "  "}, "200"),
        ({"title": "x" * 201}, "200"),
        ({"title": "two\x07"}, "printable"),
        ({"payload": float("nan")}, "JSON"),
        ({"payload": [float("inf")]}, "JSON"),
        ({"payload": {"photo": b"bytes"}}, "JSON"),
        ({"payload": "\ud800"}, "JSON"),
        ({"payload": "x" * 17_000_000}, "16000000"),
    ],
)
def test_entry_that_cannot_be_kept_is_refused_in_one_line(logbook, arguments, expected):
    whole = {"kind": "note", "title": "a title", **arguments}
    with pytest.raises(StoreError) as error:
        logbook.add(whole.pop("kind"), whole.pop("title"), **whole)
    assert expected in one_line(error)
    assert logbook.history() == ()


def test_payload_nested_without_end_is_refused(logbook):
    endless: list[object] = []
    endless.append(endless)
    with pytest.raises(StoreError) as error:
        logbook.add("note", "endless", payload=endless)
    one_line(error)


def test_misspelt_argument_is_a_mistake_of_the_caller(logbook):
    with pytest.raises(TypeError, match="paylod"):
        logbook.add("note", "x", paylod=1)


@pytest.mark.parametrize(
    ("name", "media_type", "data"),
    [
        ("a.jpg", "text/html", b"x"),  # would run in a browser
        ("a.svg", "image/svg+xml", b"x"),
        ("../a.jpg", "image/jpeg", b"x"),
        ("C:\\a.jpg", "image/jpeg", b"x"),
        (".a.jpg", "image/jpeg", b"x"),
        ("a\x00.jpg", "image/jpeg", b"x"),
        ("", "image/jpeg", b"x"),
        ("a.jpg", "image/jpeg", b""),
    ],
)
def test_attachment_that_could_do_harm_is_refused(name, media_type, data):
    with pytest.raises(StoreError) as error:
        Attachment(name, media_type, data)
    one_line(error)


def test_attachment_too_large_is_refused(monkeypatch):
    monkeypatch.setattr("glowtrace.store.attaching.MOST_BYTES", 10)
    with pytest.raises(StoreError) as error:
        Attachment("a.jpg", "image/jpeg", b"x" * 11)
    assert "give 1 to 10" in one_line(error)


def test_bytes_attached_twice_are_kept_once(store):
    for title in ("one", "two"):
        store.logbook.add("photograph", title, attachments=[PHOTO])
    with store._database.reading() as connection:
        assert connection.scalar(sql("SELECT count(*) FROM attachment")) == 1


@pytest.mark.parametrize("action", ["open", "versions", "amend", "withdraw", "history"])
@pytest.mark.parametrize("id", ["0" * 16, "nothing", "", "\x00", "\ud800", "%"])
def test_unknown_entry_is_one_line(logbook, action, id):
    logbook.add("note", "another")
    with pytest.raises(StoreError) as error:
        getattr(logbook, action)(id=id)
    assert repr(id) in one_line(error)
    with pytest.raises(StoreError) as error:
        logbook.attachment(id)
    assert repr(id) in one_line(error)


# Lists


def test_list_by_kind_bench_and_words(logbook):
    other = TUBE.model_copy(update={"notes": "another one of the same name"})
    first = logbook.add("readings", "Null at 3 kV", bench=TUBE, payload=ROWS)
    second = logbook.add("result", "e/m 100%", bench=other, attachments=[PHOTO])
    third = logbook.add("note", "STRASSE", bench=BULB)

    def ids(**filters):
        return [one.id for one in logbook.list(**filters)]

    assert ids() == [third.id, second.id, first.id]
    assert ids(kind="result") == [second.id]
    assert ids(bench=TUBE) == [first.id]
    assert ids(bench=TUBE.name.upper()) == [second.id, first.id]
    assert ids(text="null 3") == [first.id]
    assert ids(text="RÖHRE") == [first.id]
    assert ids(text="ro\u0308hre") == [first.id]
    assert ids(text="straße") == [third.id]  # case folding, Unicode Standard 3.13
    assert ids(text="100%") == [second.id]
    assert ids(text="0_") == []
    assert ids(text="null.jpg") == [second.id]
    assert ids(text="null", kind="note") == []
    assert ids(limit=2) == [third.id, second.id]
    assert ids(since=second.created) == [third.id, second.id]
    assert ids(until=second.created) == [first.id]


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        ({"kind": "diary"}, "rehearsal"),
        ({"limit": 0}, "1 or more"),
        ({"since": datetime(2026, 1, 1)}, "time zone"),
        ({"until": datetime(2026, 1, 1)}, "time zone"),
    ],
)
def test_wrong_filter_is_one_line(logbook, filters, expected):
    with pytest.raises(StoreError) as error:
        logbook.list(**filters)
    assert expected in one_line(error)


# Amended and withdrawn


def test_amending_keeps_every_earlier_version(logbook):
    first = logbook.add("note", "Nul", bench=TUBE, attachments=[PHOTO], payload=1)
    second = logbook.amend(first.id, title="Null", reason="spelling")
    third = logbook.amend(first.id, payload=2, attachments=[*second.attachments, SHEET])
    assert logbook.versions(first.id) == (third, second, first)
    assert logbook.open(first.id) == third
    assert (third.title, third.payload, third.bench) == ("Null", 2, TUBE)
    assert [one.name for one in third.attachments] == [PHOTO.name, SHEET.name]
    assert first.created == second.created == third.created
    assert first.saved < second.saved < third.saved
    assert (second.reason, third.reason) == ("spelling", "")
    assert logbook.list() == (third,)
    assert logbook.list(text="nul") == (third,)
    assert logbook.attachment(first.attachments[0].checksum) == PHOTO


def test_what_is_not_named_can_be_taken_away_too(logbook):
    first = logbook.add("note", "n", bench=TUBE, settings=NULL, payload=1, attachments=[PHOTO])
    bare = logbook.amend(first.id, bench=None, settings=None, payload=None, attachments=())
    assert (bare.bench, bare.settings, bare.payload, bare.attachments) == (None, None, None, ())


def test_withdrawn_entry_is_marked_and_never_erased(logbook):
    first = logbook.add("readings", "wrong range", payload=ROWS, attachments=[PHOTO])
    gone = logbook.withdraw(first.id, reason="meter was set to AC")
    assert gone.is_withdrawn
    assert gone.payload == ROWS
    assert logbook.list() == ()
    assert logbook.list(withdrawn=True) == (gone,)
    assert logbook.open(first.id) == gone
    assert logbook.versions(first.id) == (gone, first)
    assert logbook.attachment(first.attachments[0].checksum) == PHOTO
    for action in (logbook.amend, logbook.withdraw):
        with pytest.raises(StoreError) as error:
            action(first.id)
        assert "withdrawn" in one_line(error)
    assert len(logbook.history()) == 2


def test_history_is_in_order_of_time(logbook):
    a = logbook.add("note", "a")
    b = logbook.add("note", "b")
    logbook.amend(a.id, title="A")
    logbook.withdraw(b.id, reason="r")
    events = logbook.history()
    assert [(one.action, one.title, one.reason) for one in events] == [
        ("added", "a", ""),
        ("added", "b", ""),
        ("amended", "A", ""),
        ("withdrawn", "b", "r"),
    ]
    assert [one.time for one in events] == sorted(one.time for one in events)
    assert events[0].version == a.version
    assert logbook.history(id=b.id) == (events[1], events[3])
    assert logbook.history(limit=1) == events[-1:]
    assert logbook.history(since=events[2].time) == events[2:]
    assert logbook.history(until=events[2].time) == events[:2]


def test_clock_that_goes_back_does_not_bring_an_old_version_forward(logbook, monkeypatch):
    first = logbook.add("note", "first")

    class Yesterday(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) - timedelta(days=1)

    monkeypatch.setattr("glowtrace.store.logbook.datetime", Yesterday)
    second = logbook.amend(first.id, title="second")
    assert logbook.open(first.id) == second
    assert logbook.add("note", "made from it", made_from=[first.id]).created > first.created


@pytest.mark.parametrize(
    ("damage", "look"),
    [
        ("UPDATE record SET text = replace(text, 'Null', 'Full')", "open"),
        ("UPDATE record SET text = 'x'", "open"),
        ("UPDATE attachment SET data = 'x'", "attachment"),
    ],
)
def test_what_was_changed_behind_our_back_is_told(store, damage, look):
    added = store.logbook.add("note", "Null", attachments=[PHOTO])
    with store._database.writing() as connection:
        connection.execute(sql(damage))
    key = added.id if look == "open" else added.attachments[0].checksum
    with pytest.raises(StoreError) as error:
        getattr(store.logbook, look)(key)
    assert "damaged" in one_line(error)


def test_an_entry_is_found_by_the_beginning_of_its_id(logbook):
    entry = logbook.add("note", "Null")
    for begins in (entry.id, entry.id[:7], entry.id[:1]):
        assert logbook.open(begins) == entry
    assert logbook.amend(entry.id[:5], title="Zero").id == entry.id
    assert [one.title for one in logbook.versions(entry.id[:5])] == ["Zero", "Null"]
    assert len(logbook.history(id=entry.id[:5])) == 2


def test_a_beginning_that_several_have_is_refused(logbook):
    for _ in range(17):  # more than there are first digits
        logbook.add("note", "Null")
    ids = [one.id for one in logbook.list()]
    twice = next(id[0] for id in ids if sum(other[0] == id[0] for other in ids) > 1)
    with pytest.raises(StoreError, match="more of the id"):
        logbook.open(twice)
