"""Photographs: what can be read, and what is said about what cannot."""

from __future__ import annotations

import io
import sys

import numpy as np
import pytest
from PIL import Image

from glowtrace.errors import GlowtraceError, MissingPackageError
from glowtrace.photographs import photograph as photographs
from glowtrace.photographs.photograph import PhotographError, load_photograph


def filed(pixels: np.ndarray, kind: str, **options: object) -> bytes:
    if kind == "HEIF":
        from pillow_heif import register_heif_opener

        register_heif_opener()
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, kind, **options)
    return file.getvalue()


@pytest.fixture
def pixels() -> np.ndarray:
    ramp = np.zeros((80, 120, 3), dtype=np.uint8)
    ramp[:, :, 0] = np.linspace(20, 220, 120).astype(np.uint8)
    ramp[:, :, 1] = np.linspace(40, 180, 80).astype(np.uint8)[:, None]
    return ramp


@pytest.mark.parametrize(
    ("kind", "options", "format", "off"),
    [
        ("PNG", {}, "PNG", 0),
        ("JPEG", {"quality": 95}, "JPEG", 6),
        ("HEIF", {"quality": 95}, "HEIC", 8),
    ],
)
def test_each_kind_of_file_gives_its_pixels(pixels, kind, options, format, off):
    photograph = load_photograph(filed(pixels, kind, **options), name="a")
    assert (photograph.width, photograph.height) == (120, 80)
    assert photograph.format == format
    assert np.abs(photograph.pixels.astype(int) - pixels).max() <= off


def test_a_file_is_known_by_its_content_not_by_its_ending(pixels, tmp_path):
    path = tmp_path / "photo.jpg"
    path.write_bytes(filed(pixels, "PNG"))
    photograph = load_photograph(path)
    assert photograph.format == "PNG"
    assert photograph.name == "photo.jpg"


def test_sixteen_bits_and_transparency_become_eight_bits_a_colour(pixels):
    deep = load_photograph(filed((pixels[:, :, 0].astype(np.uint16) * 257), "PNG"))
    assert np.array_equal(deep.pixels[:, :, 2], pixels[:, :, 0])
    clear = np.dstack([pixels, np.zeros((80, 120), dtype=np.uint8)])
    clear[:40, :, 3] = 255
    photograph = load_photograph(filed(clear, "PNG"))
    assert np.array_equal(photograph.pixels[:40], pixels[:40])
    assert photograph.pixels[40:].max() == 0


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "give a JPEG, PNG or HEIC"),
        (b"just a text, no photograph at all", "give a JPEG, PNG or HEIC"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 50, "not a photograph|damaged"),
        (filed(np.zeros((80, 80, 3), np.uint8), "GIF"), "give a JPEG, PNG or HEIC"),
        (filed(np.zeros((80, 80, 3), np.uint8), "TIFF"), "give a JPEG, PNG or HEIC"),
        (filed(np.zeros((80, 30, 3), np.uint8), "PNG"), "30 x 80 pixels are too few"),
    ],
)
def test_what_is_no_usable_photograph_is_refused_with_the_reason(content, says):
    with pytest.raises(PhotographError, match=says) as refused:
        load_photograph(content, name="bad.jpg")
    assert isinstance(refused.value, GlowtraceError)
    assert str(refused.value).startswith("bad.jpg: ")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "HEIF"])
def test_a_file_cut_short_is_called_damaged(kind):
    noise = np.random.default_rng(1).integers(0, 255, (200, 200, 3)).astype(np.uint8)
    whole = filed(noise, kind)
    with pytest.raises(PhotographError, match=r"damaged or cut short|not a photograph"):
        load_photograph(whole[: len(whole) // 2])


def test_too_large_files_are_refused_before_they_are_unpacked(pixels, tmp_path, monkeypatch):
    monkeypatch.setattr(photographs, "MOST_PIXELS", 9_000)
    with pytest.raises(PhotographError, match="120 x 80 pixels are too many"):
        load_photograph(filed(pixels, "PNG"))
    monkeypatch.setattr(photographs, "MOST_BYTES", 100)
    with pytest.raises(PhotographError, match="too large"):
        load_photograph(filed(pixels, "PNG"))
    path = tmp_path / "large.png"
    path.write_bytes(filed(pixels, "PNG"))
    with pytest.raises(PhotographError, match=r"large\.png: .* too large"):
        load_photograph(path)


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(PhotographError, match=r"nowhere\.png: cannot be read"):
        load_photograph(tmp_path / "nowhere.png")
    with pytest.raises(PhotographError, match="cannot be read"):
        load_photograph(tmp_path)


def test_a_telephones_photograph_without_its_package_says_what_to_install(pixels, monkeypatch):
    content = filed(pixels, "HEIF", quality=95)
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(MissingPackageError, match=r"^a\.heic: HEIC") as refused:
        load_photograph(content, name="a.heic")
    assert (refused.value.package, refused.value.extra) == ("pillow-heif", "photographs")
    assert load_photograph(filed(pixels, "PNG")).format == "PNG"
