"""Film: choosing a film, by sending it, by its path, or one that was opened before."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.films.film_file import Film
from glowtrace.web.address import to_query
from glowtrace.web.controls import Picker, asked, box, button, file_button, words
from glowtrace.web.film.film_shelf import PATH, FilmShelf
from glowtrace.web.film.film_work import first_description
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_desk import sentence

OPENED: Final = "opened"
"""In the query of the address: the film's key."""
FILMS: Final = "video/*,.mp4,.mov,.m4v,.mkv,.webm,.avi"
HERE: Final = ("127.0.0.1", "::1", "localhost")
SEND: Final = f"""(event) => {{
  const file = event.target.files[0];
  if (!file) return;
  event.target.value = "";
  const request = new XMLHttpRequest();
  request.open("POST", `{PATH}?name=${{encodeURIComponent(file.name)}}`);
  let told = 0;
  request.upload.onprogress = (sent) => {{
    if (performance.now() - told < 250) return;
    told = performance.now();
    emit("sending", sent.loaded / sent.total);
  }};
  request.onload = () => emit(request.status === 200 ? "sent" : "failed", request.responseText);
  request.onerror = () => emit("failed", "The film could not be sent: is the program running?");
  emit("sending", 0);
  request.send(file);
}}"""


class OpenPart:
    """The part of the page.

    Parameters
    ----------
    frame, shelf
        The page around it, and where films are kept.
    key
        Of the film that is open; empty for none.
    """

    def __init__(self, frame: Frame, shelf: FilmShelf, key: str) -> None:
        self._frame, self._shelf, self._key = frame, shelf, key
        with box("row film-head", "section").props('aria-label="Open a film"'):
            file_button("Choose a film (MP4, MOV)", FILMS, SEND, self._arrives)
            if frame.body.client.ip in HERE:  # paths are those of this computer
                asked("or its path", "", self._open_path, hint="/home/…/lesson.mp4")
            before = {each.key: each.name for each in shelf.films()}
            if before:
                picker = Picker("Opened before", self._go_back)
                picker.offer({"Opened before": {"": "opened before …", **before}}, key)
            if key:
                button("Remove this film", self._remove, "plain")
        self._facts = words("", "p", "hint")

    def tell(self, film: Film) -> None:
        """Say what the film is."""
        width, height = film.size
        told = [
            film.path.name,
            f"{width} × {height}",
            f"{film.seconds:.1f} s",
            f"{float(film.rate):.4g} frames a second",
        ]
        if film.high_range:
            told.append(f"high dynamic range ({film.high_range}), shown as ordinary")
        if not film.has_sound:
            told.append("no sound")
        self._facts.text = " · ".join(told)

    def address(self, key: str) -> str:
        """Give the address of the page with a film."""
        return f"{self._frame.preparation.at('/film')}&{OPENED}={key}"

    def _arrives(self, event: GenericEventArguments) -> None:
        state, told = event.args
        if state == "sending":
            self._frame.show_working("Copying the film …", float(told))
            return
        self._frame.show_working("")
        self._frame.say(sentence(told) if state == "failed" else "")
        if state == "sent":
            ui.navigate.to(self.address(told))

    def _open_path(self, text: str) -> None:
        frame = self._frame
        frame.say("")
        with frame.telling():
            path = Path(text.strip().strip('"')).expanduser()
            described = first_description(path, frame.bench, frame.preparation.settings)
            ui.navigate.to(self.address(self._shelf.open_path(path, described)))

    def _go_back(self, key: str) -> None:
        if not key:
            return
        with self._frame.telling():
            told = self._shelf.load(key)
            places = [
                place
                for group in self._frame.rack.offer().values()
                for place, name in group.items()
                if told is not None and name == told.bench
            ]
            if told is None or not places:
                self._frame.say("The bench of this film is not there any more: open its file.")
                return
            ui.navigate.to(f"/film?{to_query(places[0], told.settings)}&{OPENED}={key}")

    def _remove(self) -> None:
        with self._frame.telling():
            self._shelf.remove(self._key)
            ui.navigate.to(self._frame.preparation.at("/film"))
