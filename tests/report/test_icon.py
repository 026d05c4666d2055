"""The sign is a PNG that other readers accept, light strokes on a dark ground."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest

from linemap.report.icon import icon_png


def decode(data: bytes) -> np.ndarray:
    """Read an 8-bit RGB PNG with unfiltered rows, checking every chunk's sum."""
    at, chunks = 8, {}
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        body = data[at + 4 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0] == zlib.crc32(body)
        chunks[body[:4]] = body[4:]
        at += 12 + size
    width, height = struct.unpack(">II", chunks[b"IHDR"][:8])
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8).reshape(height, 1 + 3 * width)
    assert not rows[:, 0].any()
    return rows[:, 1:].reshape(height, width, 3)


@pytest.mark.parametrize("size", [192, 512])
def test_sign_shows_two_poles_and_an_arm(size: int) -> None:
    light = decode(icon_png(size)).mean(axis=2) > 128
    assert light.shape == (size, size)
    low = light[int(0.75 * size)]
    assert int(np.count_nonzero(np.diff(low.astype(int)) == 1)) == 2
    assert light[int(0.32 * size), int(0.5 * size)]
    assert (light == light[:, ::-1]).mean() > 0.99
    margin = int(0.1 * size)
    assert not light[:margin].any()
    assert not light[:, :margin].any()
