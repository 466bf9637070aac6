"""Photographs for the book: made smaller and written anew, so that nothing but the picture itself is handed on.

A picture comes from whoever could write to the repository. It is decoded within limits, and only its pixels are kept:
no place, date, camera, owner, thumbnail or text of the file comes over.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

#: Bytes of a file that is looked at, and pixels of a picture that is unpacked. Ours: a large camera stays below.
MOST_BYTES = 40 * 1024 * 1024
MOST_PIXELS = 50_000_000
#: The longer side of a picture in the book, in pixels, and its quality. Ours: a cable's label can still be read.
LONGEST_SIDE = 1600
QUALITY = 80
#: Photographs in one book. Ours.
MOST_PHOTOS = 1000
_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")


@dataclass(frozen=True)
class Photo:
    """A photograph as it goes into the book, or why it does not."""

    path: str
    content: bytes = b""
    width: int = 0
    height: int = 0
    problem: str = ""


def photo_of(path: str, raw: bytes) -> Photo:
    """Read a picture and write it anew as JPEG, at most `LONGEST_SIDE` pixels long. A broken one says so."""
    from PIL import Image, ImageOps  # noqa: PLC0415 - only a book with photographs needs it

    if len(raw) > MOST_BYTES:
        return Photo(path, problem=f"it is larger than {MOST_BYTES // 1024 // 1024} MB")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(raw), formats=_FORMATS) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return Photo(path, problem=f"it has more than {MOST_PIXELS:,} pixels")
                opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                opened.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
                turned = ImageOps.exif_transpose(opened)
                # Onto a picture of our own: nothing of the file but its pixels comes along.
                clean = Image.new("RGB", turned.size, "white")
                shown = turned.convert("RGBA")
                clean.paste(shown, mask=shown.getchannel("A"))
        out = io.BytesIO()
        clean.save(out, "JPEG", quality=QUALITY, optimize=True)
    except Exception:  # a decoder that is given damaged bytes may raise nearly anything
        return Photo(path, problem="it cannot be read as a picture")
    return Photo(path, out.getvalue(), *clean.size)
