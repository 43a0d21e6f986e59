"""What a lesson shows, as the audience's window draws it: places in mm, the way in as a picture.

Where a line is interrupted, at a place that is not finite, there is None.
"""

from __future__ import annotations

import math
from typing import Any
from urllib.parse import quote

from glowtrace.lesson.shown import Invitation, LessonShown, Mark


def lesson_part(shown: LessonShown) -> dict[str, Any]:
    """Give what is sent to the window."""
    return {
        "hides": shown.hides_picture,
        "marks": [_mark(mark) for mark in shown.marks],
        "question": shown.question,
        "note": shown.note,
        "tallies": [[tally.text, tally.count] for tally in shown.tallies],
        "invitation": None if shown.invitation is None else _invitation(shown.invitation),
    }


def _mark(mark: Mark) -> dict[str, Any]:
    places = [
        [round(1e3 * u, 2), round(1e3 * v, 2)] if math.isfinite(u) and math.isfinite(v) else None
        for u, v in mark.places
    ]
    return {"role": mark.role, "places": places, "count": mark.count}


def _invitation(invitation: Invitation) -> dict[str, str]:
    # As the source of an image: nothing within it can act on the page.
    picture = f"data:image/svg+xml,{quote(invitation.qr_svg)}"
    return {"address": invitation.address, "code": invitation.code, "picture": picture}
