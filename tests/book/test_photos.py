"""Photographs: small, without a word of what the camera knew, and never fatal."""

from __future__ import annotations

import io
import zlib

import pytest
from PIL import Image

from vesselspec.book.photos import LONGEST_SIDE, MOST_BYTES, photo_of

from .boats import picture


def test_a_large_one_is_made_smaller_and_loses_all_but_its_pixels() -> None:
    raw = picture((3000, 1500), told=True)
    assert b"SECRET" in raw
    photo = photo_of("a.jpg", raw)
    assert (photo.problem, photo.width, photo.height) == ("", LONGEST_SIDE // 2, LONGEST_SIDE)  # turned upright
    assert b"SECRET" not in photo.content
    with Image.open(io.BytesIO(photo.content)) as image:
        assert image.format == "JPEG"
        assert not image.getexif()
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("kind", ["PNG", "GIF", "WEBP", "BMP", "TIFF"])
def test_other_forms_become_jpeg(kind: str) -> None:
    photo = photo_of("a", picture(kind=kind))
    assert (photo.problem, photo.width, photo.content[:2]) == ("", 40, b"\xff\xd8")


def _bomb() -> bytes:
    """A PNG of a few kilobytes that says it is 30,000 pixels square."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")

    head = (30_000).to_bytes(4, "big") * 2 + bytes([1, 0, 0, 0, 0])
    body = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"not a picture",
        picture()[:200],
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        _bomb(),
        bytes(MOST_BYTES + 1),
    ],
    ids=["empty", "text", "cut short", "svg", "bomb", "too large"],
)
def test_a_bad_one_is_told(raw: bytes) -> None:
    photo = photo_of("a.jpg", raw)
    assert photo.problem
    assert not photo.content
