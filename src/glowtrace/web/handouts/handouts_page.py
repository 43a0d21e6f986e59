"""Handouts: picture, clip and worksheets of what is set, to take away."""

from __future__ import annotations

from collections.abc import Mapping

from glowtrace.web.address import read_state
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.clip_part import ClipPart
from glowtrace.web.handouts.clip_work import read_clip_wish
from glowtrace.web.handouts.made_files import MadeFiles
from glowtrace.web.handouts.picture_files import PictureForm
from glowtrace.web.handouts.picture_part import PicturePart
from glowtrace.web.handouts.sheets_part import SheetsPart


class HandoutsPage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where what was made is kept for its visitors.
    query
        Of the page's address: what is chosen at first.
    """

    def __init__(self, frame: Frame, files: MadeFiles, query: Mapping[str, str]) -> None:
        self._frame = frame
        wish = read_clip_wish(query, frame.bench, frame.preparation.settings)
        with frame.body.classes("handouts"):
            self._picture = PicturePart(frame, read_state(query, PictureForm()), self._keep)
            self._clip = ClipPart(frame, files, wish, self._keep)
            self._sheets = SheetsPart(frame, files, query, self._keep)

    async def run(self) -> None:
        """Show what each part would give."""
        await self._clip.show_still()
        await self._sheets.show_first()

    def _keep(self) -> None:
        """Let the address tell what is chosen, so that a reloaded page comes back as it was."""
        chosen = self._picture.query + self._clip.query + self._sheets.query
        self._frame.keep(self._frame.preparation, chosen)
