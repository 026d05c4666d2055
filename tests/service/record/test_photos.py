"""Pictures are told from their bytes."""

from __future__ import annotations

import struct
import zlib

import pytest

from linemap.service.record.photos import is_whole_picture, picture_type

#: Start, application segment, frame 2 x 3, scan, some data, end (ITU-T T.81).
JPEG = (
    b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
    b"\xff\xff\xc0\x00\x0b\x08\x00\x03\x00\x02\x01\x01\x11\x00"
    b"\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00\xd2\xcf\xff\xd9"
)


def chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


PNG = (
    b"\x89PNG\r\n\x1a\n"
    + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    + chunk(b"IDAT", zlib.compress(b"\x00\x00"))
    + chunk(b"IEND", b"")
)
WEBP = b"RIFF" + (22).to_bytes(4, "little") + b"WEBPVP8L" + (10).to_bytes(4, "little") + b"\x2f" + bytes(9)


@pytest.mark.parametrize(
    ("content", "kind"), [(JPEG, "image/jpeg"), (PNG, "image/png"), (WEBP, "image/webp")]
)
def test_whole_pictures(content: bytes, kind: str) -> None:
    assert picture_type(content) == kind
    assert is_whole_picture(content)


@pytest.mark.parametrize("content", [JPEG, PNG, WEBP])
def test_cut_pictures_are_no_whole_ones(content: bytes) -> None:
    assert not any(is_whole_picture(content[:size]) for size in range(len(content) - 1))


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GIF89a\x01\x00\x01\x00",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7",
        b"PK\x03\x04",
        b"structure,step\n1/1,set\n",
        b"\xff\xd8\xff\xd9",
        JPEG.replace(b"\x00\x03\x00\x02", b"\x00\x00\x00\x02"),
        PNG.replace(b"IEND", b"IENX"),
        WEBP.replace(b"VP8L", b"XXXX"),
    ],
)
def test_what_is_no_photo(content: bytes) -> None:
    assert not is_whole_picture(content)


def test_data_a_phone_puts_behind_the_end_mark_is_left_alone() -> None:
    assert is_whole_picture(JPEG + b"motion data")
