"""Photographs of a screen: reading the file, upright, with its light on a linear scale.

Pixels are counted along a row (column, rightwards) and down the rows (row, downwards) of the
upright photograph; the middle of the first pixel is (0, 0). A click on a page that counts from the
corner of that pixel is half a pixel larger.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.disk import read_at_most
from glowtrace.errors import GlowtraceError, MissingPackageError

if TYPE_CHECKING:
    from PIL.Image import Image

Array = NDArray[np.float64]
Format = Literal["JPEG", "PNG", "HEIC"]

MOST_BYTES: Final = 40_000_000
"""Largest file that is read."""
MOST_PIXELS: Final = 60_000_000
"""Most pixels that are unpacked."""
FEWEST_ACROSS: Final = 64
"""Fewest pixels along the shorter side."""
CLIPPED: Final = 253
"""From this value (of 255) on a channel counts as saturated."""

# Some cameras file JPEG with a second picture behind the first, which is then called MPO.
_FORMATS: Final[dict[str, Format]] = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "HEIF": "HEIC"}


class PhotographError(GlowtraceError):
    """A photograph, or what was clicked on it, cannot be used."""


@dataclass(frozen=True, eq=False)
class Photograph:
    """An upright photograph."""

    pixels: NDArray[np.uint8]
    """(rows, columns, 3): red, green, blue as stored (sRGB)."""
    name: str = ""
    format: Format = "PNG"

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.pixels.shape[0])


def load_photograph(source: Path | str | bytes, *, name: str = "") -> Photograph:
    """Read a JPEG, PNG or HEIC photograph and turn it upright.

    The file is known by its content, not by its ending. Only the first frame is read;
    what is transparent becomes black; 16 bits a channel become 8.

    Parameters
    ----------
    source
        Path of a file, or its content.
    name
        How to call it in messages; the name of the file when left out.

    Raises
    ------
    PhotographError
        If the file cannot be read, is damaged, is of another kind, or is too large or too small.
    """
    if isinstance(source, bytes):
        content, called = source, name or "photograph"
    else:
        path = Path(source)
        content, called = _content(path), name or path.name
    if len(content) > MOST_BYTES:
        given = f"{len(content) / 1e6:.0f} MB"
        raise PhotographError(
            f"{called}: {given} is too large; give at most {MOST_BYTES // 10**6} MB"
        )
    return _decoded(content, called)


def _content(path: Path) -> bytes:
    try:
        return read_at_most(path, MOST_BYTES)
    except OSError as error:
        reason = error.strerror or str(error)
        raise PhotographError(f"{path.name}: cannot be read: {reason}") from None


def _decoded(content: bytes, name: str) -> Photograph:
    from PIL import Image, ImageOps, UnidentifiedImageError

    formats = ["JPEG", "PNG"]
    if content[4:8] == b"ftyp":  # the box that an ISO base media file starts with, HEIC among them
        _learn_heic(name)
        formats.append("HEIF")
    try:
        with Image.open(io.BytesIO(content), formats=formats) as image:
            kind = _FORMATS[image.format or ""]
            _require_size(image.size, name)
            upright = ImageOps.exif_transpose(image)
            pixels = _eight_bits(upright)
    except (UnidentifiedImageError, Image.DecompressionBombError):
        allowed = "give a JPEG, PNG or HEIC photograph"
        raise PhotographError(f"{name}: not a photograph that can be read; {allowed}") from None
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise PhotographError(f"{name}: the file is damaged or cut short ({error})") from None
    return Photograph(pixels, name, kind)


def _learn_heic(name: str) -> None:
    try:
        from pillow_heif import register_heif_opener
    except ModuleNotFoundError as error:
        what = f"{name}: HEIC photographs"
        raise MissingPackageError(what, "pillow-heif", "photographs") from error
    register_heif_opener()


def _require_size(size: tuple[int, int], name: str) -> None:
    width, height = size
    if width * height > MOST_PIXELS:
        allowed = f"give at most {MOST_PIXELS // 10**6} megapixels"
        raise PhotographError(f"{name}: {width} x {height} pixels are too many; {allowed}")
    if min(width, height) < FEWEST_ACROSS:
        allowed = f"give {FEWEST_ACROSS} or more each way"
        raise PhotographError(f"{name}: {width} x {height} pixels are too few; {allowed}")


def _eight_bits(image: Image) -> NDArray[np.uint8]:
    """Give red, green and blue (rows, columns, 3) of an image in any mode."""
    if image.mode.startswith("I") or image.mode == "F":
        grey = np.clip(np.asarray(image, dtype=np.float64) / 257.0, 0.0, 255.0)
        return np.repeat(np.rint(grey).astype(np.uint8)[:, :, None], 3, axis=2)
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        opaque = image.convert("RGBA")
        alpha = np.asarray(opaque)[:, :, 3:].astype(np.uint16)
        colour = np.asarray(opaque)[:, :, :3].astype(np.uint16)
        return ((colour * alpha + 127) // 255).astype(np.uint8)
    return np.array(image.convert("RGB"))


def linear_light(stored: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Give light (0 to 1) for stored sRGB values of any shape (IEC 61966-2-1)."""
    value = np.arange(256) / 255.0
    curve = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return curve.astype(np.float32)[stored]


def stored_light(light: Array) -> NDArray[np.uint8]:
    """Give the stored sRGB values of light (0 to 1, beyond that it clips) of any shape."""
    clipped = np.clip(light, 0.0, 1.0)
    value = np.where(clipped <= 0.0031308, clipped * 12.92, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return np.rint(255.0 * value).astype(np.uint8)
