"""Photographs against standards: orientation in Exif, and the curve of sRGB."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from glowtrace.photographs.photograph import linear_light, load_photograph, stored_light

HEIGHT, WIDTH = 96, 144


def seen() -> np.ndarray:
    """An upright picture without any symmetry."""
    picture = np.zeros((HEIGHT, WIDTH, 3), dtype=np.uint8)
    picture[: HEIGHT // 2, : WIDTH // 3] = 220, 30, 30
    picture[HEIGHT // 2 :, : WIDTH // 3] = 30, 220, 30
    picture[: HEIGHT // 4, WIDTH // 3 :] = 30, 30, 220
    return picture


# Exif (CIPA DC-008 / JEITA CP-3451), tag Orientation, from memory: for each value, which visual
# side the stored row 0 and the stored column 0 are.
ORIENTATIONS = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def stored(orientation: int) -> np.ndarray:
    """The same picture as a camera stores it, written out from the two sides alone."""
    row_0, column_0 = ORIENTATIONS[orientation]
    upright = seen()
    swapped = row_0 in ("left", "right")
    shape = (WIDTH, HEIGHT, 3) if swapped else (HEIGHT, WIDTH, 3)
    kept = np.empty(shape, dtype=np.uint8)
    for r in range(shape[0]):
        for c in range(shape[1]):
            far_r, far_c = row_0 in ("bottom", "right"), column_0 in ("bottom", "right")
            a = shape[0] - 1 - r if far_r else r
            b = shape[1] - 1 - c if far_c else c
            kept[r, c] = upright[b, a] if swapped else upright[a, b]
    return kept


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_every_orientation_is_turned_upright(orientation, kind):
    image = Image.fromarray(stored(orientation))
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = io.BytesIO()
    image.save(file, kind, exif=exif, **({"quality": 95} if kind == "JPEG" else {}))
    photograph = load_photograph(file.getvalue())
    assert (photograph.width, photograph.height) == (WIDTH, HEIGHT)
    difference = np.abs(photograph.pixels.astype(int) - seen())
    assert np.median(difference) <= 3
    assert difference.mean() < 4


def test_a_turned_heic_photograph_is_upright():
    from pillow_heif import register_heif_opener

    register_heif_opener()
    exif = Image.Exif()
    exif[0x0112] = 6
    file = io.BytesIO()
    # The writer puts the turn into the file's own properties, where cameras have it.
    Image.fromarray(stored(6)).save(file, "HEIF", quality=95, exif=exif.tobytes())
    photograph = load_photograph(file.getvalue())
    assert (photograph.width, photograph.height) == (WIDTH, HEIGHT)
    assert np.abs(photograph.pixels.astype(int) - seen()).mean() < 6


@pytest.mark.parametrize(
    ("value", "light"),
    # IEC 61966-2-1, from memory: the joint of the curve at 0.04045, 0.0031308; mid grey 128 is
    # 0.2159; the ends are exact.
    [(0, 0.0), (10, 10 / 255 / 12.92), (128, 0.21586), (255, 1.0)],
)
def test_light_follows_the_srgb_curve(value, light):
    found = float(linear_light(np.array([value], dtype=np.uint8))[0])
    assert found == pytest.approx(light, abs=2e-5)


def test_storing_light_undoes_reading_it():
    every = np.arange(256, dtype=np.uint8)
    assert np.array_equal(stored_light(linear_light(every).astype(float)), every)
