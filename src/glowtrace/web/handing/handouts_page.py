"""Handouts: picture, clip and worksheets of what is set, to take away."""

from __future__ import annotations

from glowtrace.web.frame import Frame
from glowtrace.web.handing.clip_part import ClipPart
from glowtrace.web.handing.made_files import MadeFiles
from glowtrace.web.handing.picture_part import PicturePart
from glowtrace.web.handing.sheets_part import SheetsPart


class HandoutsPage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where what was made is kept for its visitors.
    """

    def __init__(self, frame: Frame, files: MadeFiles) -> None:
        with frame.body.classes("handouts"):
            PicturePart(frame)
            self._clip = ClipPart(frame, files)
            self._sheets = SheetsPart(frame, files)

    async def run(self) -> None:
        """Show what each part would give."""
        await self._clip.show_still()
        await self._sheets.show_first()
