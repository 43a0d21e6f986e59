"""Film: captions, chapters, held frames and still pictures."""

from __future__ import annotations

from collections.abc import Sequence

from glowtrace.report.films.description import Chapter, Hold, Words
from glowtrace.web.controls import Switch, box, button, words
from glowtrace.web.film.film_work import FilmWork
from glowtrace.web.film.row_list import Column, Row, RowList

SECONDS = 3.0
"""How long a new caption stands, and a frame is held."""
TIME = Column("time", "time", "s")


class WordsPart:
    """The part of the page."""

    def __init__(self, work: FilmWork) -> None:
        self._work = work
        with box("fold", "details"):
            words("Captions and chapters", "summary")
            self._captions = RowList(
                [Column("start", "from", "s"), Column("end", "to", "s"), Column("text", "words")],
                self._put_captions,
                "caption",
            )
            button("Caption here", self._add_caption)
            burnt_in = Switch("Captions in the picture too", self._burn_in)
            burnt_in.put(work.told.burnt_in)
            self._chapters = RowList(
                [TIME, Column("title", "title")], self._put_chapters, "chapter"
            )
            button("Chapter here", lambda: self._chapters.add({"time": self._at, "title": "?"}))
        with box("fold", "details"):
            words("Held frames and still pictures", "summary")
            self._holds = RowList(
                [TIME, Column("seconds", "held for", "s")], self._put_holds, "held frame"
            )
            button(
                "Hold this frame, an electron flies",
                lambda: self._holds.add({"time": self._at, "seconds": SECONDS}),
            )
            self._stills = RowList([TIME], self._put_stills, "still picture")
            button("Still picture here", lambda: self._stills.add({"time": self._at}))
        self.show()

    def show(self) -> None:
        """Show what the description tells."""
        told = self._work.told
        self._captions.put([each.model_dump() for each in told.caption])
        self._chapters.put([each.model_dump() for each in told.chapter])
        self._holds.put([each.model_dump() for each in told.hold])
        self._stills.put([{"time": each} for each in told.stills])

    @property
    def _at(self) -> float:
        return round(self._work.at, 3)

    def _add_caption(self) -> None:
        end = round(min(self._at + SECONDS, max(self._work.end, self._at + 0.1)), 3)
        self._captions.add({"start": self._at, "end": end, "text": "?"})

    def _put_captions(self, rows: Sequence[Row]) -> None:
        self._work.change(caption=tuple(Words(**row) for row in rows))

    def _put_chapters(self, rows: Sequence[Row]) -> None:
        self._work.change(chapter=tuple(Chapter(**row) for row in rows))

    def _put_holds(self, rows: Sequence[Row]) -> None:
        self._work.change(hold=tuple(Hold(**row) for row in rows))

    def _put_stills(self, rows: Sequence[Row]) -> None:
        times = tuple(row["time"] for row in rows if isinstance(row["time"], float))
        self._work.change(stills=times)

    def _burn_in(self, is_on: bool) -> None:
        self._work.change(burnt_in=is_on)
