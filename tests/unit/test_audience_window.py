"""What the audience's window is told, and how large its letters are.

Heights of test letters are those of wall charts for visual acuity, which take up 5 minutes of arc
at the distance of an acuity of 1 (ISO 8596, from memory): 8.73 mm in 6/6, 17.5 mm in 6/12, at 6 m.
"""

from __future__ import annotations

import asyncio
import base64
import json
import time
from dataclasses import replace

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.lesson.shown import NOTHING_SHOWN, Invitation, LessonShown, Mark, Tally
from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.feed import LONGEST_MESSAGE, audience_app, pause
from glowtrace.web.audience.letters import figure_height, letter_share, reading_distance
from glowtrace.web.audience.remote import SideDoors
from glowtrace.web.camera.hall import HALL, hall_route

TUBE, BULB = ready_made("deflection tube"), ready_made("fine-beam bulb")
SETTINGS = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
ALL_PARTS = {"surface", "knobs", "picture", "camera", "pointer", "lesson", "manner"}


def picture(number: int, *, resting: bool = True) -> dict[str, object]:
    return {"number": number, "kind": "dots", "resting": resting}


@pytest.fixture
def audience() -> Audience:
    audience = Audience()
    audience.show_picture(TUBE, SETTINGS, picture(1))
    return audience


def test_figures_are_larger_than_a_weak_eye_needs():
    assert 1e3 * figure_height(6.0) == pytest.approx(8.73 * 16 / 5, rel=1e-3)
    assert figure_height(6.0) > 1.5 * 0.0175


@pytest.mark.parametrize("distance", [0.5, 6.0, 40.0])
def test_a_height_is_read_from_the_distance_that_it_is_for(distance):
    assert reading_distance(figure_height(distance)) == pytest.approx(distance)
    assert letter_share(distance, 4.0) == pytest.approx(letter_share(distance, 2.0) / 2)


def test_a_new_window_gets_everything_and_then_only_what_is_new(audience):
    window = audience.join()
    assert set(window.take(audience.parts())) == ALL_PARTS
    assert window.take(audience.parts()) == {}
    audience.show_picture(TUBE, SETTINGS, picture(2))
    assert window.take(audience.parts()) == {"picture": picture(2)}
    audience.show_picture(TUBE, replace_knob(plate_voltage=1000.0), picture(3))
    new = window.take(audience.parts())
    assert new["picture"] == picture(3)
    assert new["knobs"]["rows"][1] == {"name": "plates", "value": "1.00 kV", "note": ""}


def test_a_slow_window_gets_the_newest_picture_only(audience):
    window = audience.join()
    window.take(audience.parts())
    for number in range(2, 50):
        audience.show_picture(TUBE, SETTINGS, picture(number))
    assert window.take(audience.parts()) == {"picture": picture(49)}


def test_pictures_of_a_turning_knob_wait_and_the_last_one_does_not(audience):
    async def turn() -> tuple[bool, object]:
        window = audience.join()
        window.take(audience.parts())
        waiting = asyncio.create_task(pause(audience, window, time.monotonic() + 3600.0))
        for number in range(2, 9):
            audience.show_picture(TUBE, SETTINGS, picture(number, resting=False))
            await asyncio.sleep(0)
        waits = not waiting.done()
        audience.show_picture(TUBE, SETTINGS, picture(9))
        await waiting
        audience.show_picture(TUBE, SETTINGS, picture(10, resting=False))
        await pause(audience, window, time.monotonic())  # it is time again
        return waits, window.take(audience.parts())

    audience.show_picture(TUBE, SETTINGS, picture(1, resting=False))
    assert asyncio.run(turn()) == (True, {"picture": picture(10, resting=False)})


def test_another_bench_brings_its_own_screen(audience):
    window = audience.join()
    audience.point((0.05, 0.01))
    window.take(audience.parts())
    audience.show_picture(BULB, Settings(accelerating_voltage=230.0), picture(2))
    assert set(window.take(audience.parts())) == {"surface", "knobs", "picture", "pointer"}
    assert audience.parts()["pointer"] is None


def test_a_held_picture_stands_still_while_the_desk_goes_on(audience):
    window = audience.join()
    window.take(audience.parts())
    audience.hold(True)
    audience.show_picture(TUBE, replace_knob(plate_voltage=0.0), picture(2))
    audience.point((0.05, 0.01))
    assert window.take(audience.parts()) == {"pointer": {"u": 50.0, "v": 10.0}}
    audience.hold(False)
    assert set(window.take(audience.parts())) == {"knobs", "picture"}


def test_switches_that_a_value_does_not_tell_stand_beside_it(audience):
    audience.show_picture(TUBE, replace_knob(plate_reversed=True, heater_on=False), picture(2))
    notes = [row["note"] for row in audience.parts()["knobs"]["rows"]]
    assert notes == ["heater off", "reversed", ""]


def test_desks_hear_of_windows_and_letters(audience):
    heard = []
    end = audience.listen(lambda: heard.append((audience.windows, audience.readable_from)))
    window = audience.join()
    audience.change(width=3.0)
    audience.note_letter(window, figure_height(9.0) / 3.0)
    audience.leave(window)
    end()
    audience.blank(True)
    assert [windows for windows, _ in heard] == [1, 1, 1, 0]
    assert heard[2][1] == pytest.approx(9.0)
    assert heard[3][1] is None


def test_the_feed_sends_the_whole_and_hears_commands(audience):
    with TestClient(audience_app(audience, commands=True)).websocket_connect("/feed") as socket:
        assert set(socket.receive_json()) == ALL_PARTS
        socket.send_json({"drawn": 1})
        socket.send_json({"do": "blank"})
        assert socket.receive_json()["manner"]["blank"] is True
        assert audience.windows == 1
    assert audience.windows == 0


def test_a_visitor_commands_nothing(audience):
    with TestClient(audience_app(audience, commands=False)).websocket_connect("/feed") as socket:
        socket.receive_json()
        socket.send_json({"do": "blank"})
        socket.send_json({"do": "hold"})
        socket.send_json({"letter": 0.02})
        socket.send_text("[]")
        with pytest.raises(WebSocketDisconnect):
            socket.receive_json()
    assert not audience.manner.is_blank
    assert not audience.is_held


@pytest.mark.parametrize(
    "text",
    ["", "[]", "7", "{", '"' + "x" * LONGEST_MESSAGE + '"', "[" * 150],
    ids=["empty", "list", "number", "broken", "long", "deep"],
)
def test_nonsense_ends_the_visit_and_nothing_else(audience, text):
    app = TestClient(audience_app(audience, commands=True))
    with app.websocket_connect("/feed") as socket:
        socket.receive_json()
        socket.send_text(text)
        with pytest.raises(WebSocketDisconnect):
            socket.receive_json()
    assert audience.windows == 0


@pytest.mark.parametrize("letter", ["NaN", "Infinity", "-1", "1e9", '"0.1"', "null", "true"])
def test_a_letter_of_no_height_is_not_noted(audience, letter):
    with TestClient(audience_app(audience, commands=True)).websocket_connect("/feed") as socket:
        socket.receive_json()
        socket.send_text(f'{{"letter": {letter}, "drawn": 1, "do": "hold"}}')
        socket.send_text(json.dumps({"do": "blank"}))
        socket.receive_json()
        assert audience.readable_from is None


CAMERA = b"\xff\xd8\xff" + bytes(20)
SEEN = f"data:image/jpeg;base64,{base64.b64encode(CAMERA).decode()}"


def test_a_camera_is_shown_with_its_own_knobs_until_it_ends(audience):
    computed = audience.parts()
    turned = replace_knob(plate_voltage=500.0)
    audience.put_camera("one", SEEN)  # nobody has asked for it
    assert audience.parts() == computed
    audience.show_camera("one", BULB, turned)
    assert audience.parts() == computed
    audience.put_camera("one", SEEN)
    shown = audience.parts()
    assert shown["camera"] == {"picture": SEEN}
    assert shown["surface"] != computed["surface"]
    assert audience.is_turning
    audience.turn_camera("other", TUBE, SETTINGS)
    audience.put_camera("other", "data:other")
    audience.end_camera("other")
    assert audience.parts() == shown
    audience.hold(True)
    audience.put_camera("one", "data:next")
    assert audience.parts()["camera"] == {"picture": SEEN}
    audience.hold(False)
    assert audience.parts()["camera"] == {"picture": "data:next"}
    audience.put_camera("one", None)
    assert audience.parts() == computed
    audience.put_camera("one", SEEN)
    audience.end_camera("one")
    assert audience.parts() == computed


def test_a_camera_gives_no_answer_away(audience):
    audience.show_camera("one", TUBE, SETTINGS)
    audience.put_camera("one", SEEN)
    audience.show_lesson(LessonShown(hides_picture=True, question="Which way?"))
    assert audience.parts()["camera"] is None
    audience.show_lesson(NOTHING_SHOWN)
    assert audience.parts()["camera"] is not None


def test_pictures_of_a_camera_come_by_a_way_of_their_own(audience):
    audience.show_camera("one", TUBE, SETTINGS)
    with TestClient(Starlette(routes=[hall_route(audience)])) as client:
        with client.websocket_connect(f"{HALL}?page=one") as way:
            window = audience.join()
            way.send_bytes(CAMERA)
            for _ in range(200):
                if audience.parts()["camera"]:
                    break
                time.sleep(0.02)
            assert window.take(audience.parts())["camera"] == {"picture": SEEN}
        for _ in range(200):
            if not audience.parts()["camera"]:
                break
            time.sleep(0.02)
        assert audience.parts()["camera"] is None
        with client.websocket_connect(f"{HALL}?page=one") as way:
            way.send_bytes(b"<svg onload=alert(1)>")
            with pytest.raises(WebSocketDisconnect):
                way.receive_text()
        assert audience.parts()["camera"] is None


def test_the_page_lets_in_nothing_from_elsewhere(audience):
    client = TestClient(audience_app(audience, commands=False))
    policy = client.get("/").headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "frame-ancestors 'none'" in policy
    for file in ("drawing/index.js", "page/audience.js", "page/audience.css"):
        assert client.get(f"/{file}").status_code == 200
    for elsewhere in ("drawing/../page.py", "page/%2e%2e/audience.py", "logbook"):
        assert client.get(f"/{elsewhere}").status_code == 404


def replace_knob(**changes: object) -> Settings:
    return Settings.model_validate({**SETTINGS.model_dump(), **changes})


def test_a_manner_is_a_value(audience):
    before = audience.manner
    audience.change(look="light")
    assert audience.manner == replace(before, look="light")
    assert before.look == "dark"


def test_a_lesson_is_sent_as_plain_values_with_gaps(audience):
    window = audience.join()
    window.take(audience.parts())
    line = Mark("seen", ((0.01, 0.002), (float("nan"), 0.0), (0.02, 0.004)))
    way_in = Invitation("http://192.0.2.1/r/abc", "abc", "<svg onload='x()'></svg>")
    audience.show_lesson(
        LessonShown(True, (line,), "<b>Where?</b>", "3", (Tally("up", 2),), way_in)
    )
    (part,) = window.take(audience.parts()).values()
    told = json.loads(json.dumps(part, allow_nan=False))
    assert told["hides"] is True
    assert told["marks"] == [
        {"role": "seen", "places": [[10.0, 2.0], None, [20.0, 4.0]], "count": 1}
    ]
    assert told["tallies"] == [["up", 2]]
    # The drawing is the source of an image, in which nothing runs.
    assert told["invitation"]["picture"].startswith("data:image/svg+xml,%3Csvg")
    audience.show_lesson(NOTHING_SHOWN)
    assert audience.parts()["lesson"]["marks"] == []


def test_a_remote_steps_and_blanks_and_does_nothing_else(audience):
    heard = []
    doors = SideDoors(audience)
    doors.remote.listen(lambda press: pytest.fail("an older page has stepped too"))
    end = doors.remote.listen(heard.append)
    client = TestClient(Starlette(routes=list(doors.routes())))
    assert client.get(doors.remote_path).status_code == 200
    for press in ("next", "back", "next", "blank"):
        assert client.post(f"{doors.remote_path}press/{press}").status_code == 204
    assert heard == ["next", "back", "next"]
    assert audience.manner.is_blank
    assert client.post(f"{doors.remote_path}press/hold").status_code == 404
    assert client.get(f"{doors.remote_path}press/next").status_code == 405
    for path in ("page/strip.css", "page/..%2fremote.py", "feed"):
        assert client.get(doors.remote_path + path).status_code == 404
    end()
    assert heard == ["next", "back", "next"]


def test_each_door_has_a_long_code_of_its_own(audience):
    doors, others = (SideDoors(audience) for _ in range(2))
    paths = [doors.screen_path, doors.remote_path, others.screen_path, others.remote_path]
    codes = [path.split("/")[2] for path in paths]
    assert len(set(codes)) == 4
    assert min(map(len, codes)) >= 16
    client = TestClient(Starlette(routes=list(doors.routes())))
    assert client.get(doors.screen_path).status_code == 200
    for wrong in (others.screen_path, f"/screen/{codes[1]}/", f"/remote/{codes[0]}/", "/screen/"):
        assert client.get(wrong).status_code == 404
