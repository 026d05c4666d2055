"""The field page's reader of a receiver's sentences, held to pynmeagps over the same bytes."""

from __future__ import annotations

import base64
import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from receiver import damaged, epochs, sentences, stream

pytestmark = pytest.mark.browser

RECORDED = Path(__file__).parents[2].joinpath("reference", "receiver.nmea").read_bytes()
IN_PAGE = """async ([streams, parts]) => {
  const { NmeaReader } = await import('/static/js/field/nmea.js');
  return streams.map((text, index) => {
    const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
    const reader = new NmeaReader();
    const found = [];
    const size = parts[index];
    for (let at = 0; at < bytes.length; at += size) found.push(...reader.push(bytes.subarray(at, at + size)));
    const names = ["latitude", "longitude", "quality", "age", "north_m", "east_m"];
    return found.map((one) => names.map((name) => one[name]));
  });
}"""
JUDGED = """async ([text, rule]) => {
  const { NmeaReader, judgeEpoch } = await import('/static/js/field/nmea.js');
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return new NmeaReader().push(bytes).map((epoch) => judgeEpoch(epoch, rule));
}"""
RULE = {"gate_m": 0.03, "age_s": 5.0}


def read(reader: Any, streams: list[bytes], parts: list[int]) -> list[list[list[float | None]]]:
    texts = [base64.b64encode(data).decode() for data in streams]
    found: list[list[list[float | None]]] = reader.page.evaluate(IN_PAGE, [texts, parts])
    return found


def test_the_recorded_stream_has_the_epochs_that_pynmeagps_finds(reader: Any) -> None:
    """60 seconds were said; one has a bad checksum, one was cut and took the sentence behind it along."""
    (found,) = read(reader, [RECORDED], [64])
    expected = epochs(RECORDED)
    assert len(expected) == 58
    np.testing.assert_allclose(np.array(found, dtype=float), np.array(expected), rtol=0.0, atol=1e-9)
    assert stream(7) == RECORDED


def test_damaged_streams_in_any_pieces_have_the_same_epochs(reader: Any) -> None:
    streams = [damaged(seed) for seed in range(150)]
    expected = [epochs(data) for data in streams]
    found = read(reader, streams, [1 + 7 * (seed % 40) for seed in range(150)])
    assert 4_000 < sum(map(len, expected)) < 150 * 60
    for seed, (ours, theirs) in enumerate(zip(found, expected, strict=True)):
        assert len(ours) == len(theirs), seed
        one, other = (np.array(each, dtype=float).reshape(-1, 6) for each in (ours, theirs))  # None is nan
        np.testing.assert_allclose(one, other, rtol=0.0, atol=1e-9, err_msg=str(seed))


def test_a_position_counts_that_is_fixed_fresh_and_good_by_its_own_words(reader: Any) -> None:
    judged = reader.page.evaluate(JUDGED, [base64.b64encode(RECORDED).decode(), RULE])
    why = [each["why"] for each in judged]
    assert [each["sigma_m"] for each in judged if not each["why"]] == pytest.approx([0.012] * 48)
    assert why.count("the receiver says: RTK that is not fixed (float)") == 6
    assert why.count("its corrections are 9 s old") == 4
    assert why.count("") == 48


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"quality": 1}, "the receiver says: a position without corrections"),
        ({"sigma_m": 0.022}, "good to 0.031 m by its own words (GST)"),
        ({"age": ""}, "the receiver does not say how old its corrections are"),
        ({"sigma_m": 0.021}, ""),
    ],
)
def test_what_does_not_count_is_refused_in_words(reader: Any, said: dict[str, Any], why: str) -> None:
    lines = b"".join(sentences(dt.time(12, 0, 1), -33.5, 151.25, **{"sigma_m": 0.012, **said}))
    (judged,) = reader.page.evaluate(JUDGED, [base64.b64encode(lines).decode(), RULE])
    assert judged["why"] == why
    assert (judged["latitude"], judged["longitude"]) == pytest.approx((-33.5, 151.25), abs=1e-9)
