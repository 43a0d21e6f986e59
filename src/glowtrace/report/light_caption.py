"""What a rendered picture of a trace shows, in words under it."""

from __future__ import annotations

import io
from functools import cache
from textwrap import wrap
from typing import Final

from matplotlib.font_manager import FontProperties, findfont
from PIL import Image as Pillow
from PIL import ImageDraw, ImageFont

from glowtrace.light.answer import LightAnswer
from glowtrace.report.caption import SEPARATOR, settings_words
from glowtrace.report.light_picture import Seen
from glowtrace.report.look import DARK
from glowtrace.words.bench import bench_name
from glowtrace.words.light import beam_words, exposure_words, illuminance, verdict_within

_SIZE: Final = 16  # px, in a picture of 900 px
_LEADING, _ROOM = 23, 14
_LETTER: Final = 8.6
"""Mean breadth of a letter of that size in px."""


def seen_caption(answer: LightAnswer, seen: Seen) -> tuple[str, ...]:
    """Give the lines: bench and settings; light and verdict; what kind of model made it."""
    bench, scene, found = answer.bench, answer.scene, answer.found
    name = bench_name(bench)
    lux = f"{illuminance(scene.room.illuminance)} on the screen"
    shown = {
        "dark": "The trace in full darkness, as bright as the display can.",
        "room": f"As in this room, {lux}: {verdict_within(found.eye)}.",
        "camera": f"As by a camera, {exposure_words(scene.camera)}, {lux}: "
        f"{verdict_within(found.camera)}.",
    }[seen]
    return (
        SEPARATOR.join((name, *settings_words(answer.settings, bench))),
        f"{shown} Beam: {beam_words(bench, scene)}.",
        "A rendering by a model of orders of magnitude.",
    )


def with_caption(picture: bytes, lines: tuple[str, ...]) -> bytes:
    """Give a picture file, now a PNG with lines of text under it, wrapped to its width."""
    image = Pillow.open(io.BytesIO(picture))
    most = int((image.width - 2 * _ROOM) / _LETTER)
    text = [each for line in lines for each in wrap(line, most)]
    height = image.height + 2 * _ROOM + _LEADING * len(text)
    whole = Pillow.new("RGB", (image.width, height), DARK.ground)
    whole.paste(image, (0, 0))
    pen = ImageDraw.Draw(whole)
    for n, line in enumerate(text):
        place = (_ROOM, image.height + _ROOM + n * _LEADING)
        pen.text(place, line, fill=DARK.ink, font=_face())
    written = io.BytesIO()
    whole.save(written, "png")
    return written.getvalue()


@cache
def _face() -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(findfont(FontProperties(family="DejaVu Sans")), _SIZE)
