"""The sign is a PNG: light strokes on a dark ground."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from linemap.report.icon import icon_png


@pytest.mark.parametrize("size", [192, 512])
def test_sign_shows_two_poles_and_an_arm(size: int) -> None:
    light = np.asarray(Image.open(io.BytesIO(icon_png(size))).convert("RGB")).mean(axis=2) > 128
    assert light.shape == (size, size)
    low = light[int(0.75 * size)]
    assert int(np.count_nonzero(np.diff(low.astype(int)) == 1)) == 2
    assert light[int(0.32 * size), int(0.5 * size)]
    assert (light == light[:, ::-1]).mean() > 0.99
    margin = int(0.1 * size)
    assert not light[:margin].any()
    assert not light[:, :margin].any()
