"""Guys as scheduled, their labels, and leads on sloping ground."""

from __future__ import annotations

import dataclasses

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.guy import (
    GUY_KINDS,
    Guy,
    GuyKind,
    GuySide,
    guy_label,
    label_of_text,
    lead_on_slope,
)
from linemap.domain.survey.description import parse_description


@pytest.mark.parametrize(("fall", "lead"), [(0.0, 58.0), (0.10, 64.4), (-0.10, 52.7)])
def test_leads_of_a_58_foot_attachment_at_one_to_one(fall: float, lead: float) -> None:
    """By hand: 58 / 0.9 = 64.44, 58 / 1.1 = 52.73."""
    assert lead_on_slope(58.0, ratio=1.0, fall=fall) == pytest.approx(lead, abs=0.05)


def test_ground_too_steep_for_the_ratio_is_refused() -> None:
    with pytest.raises(ValueError, match=r"falling 100%.*give a lead"):
        lead_on_slope(58.0, ratio=1.0, fall=1.0)


@settings(max_examples=examples(100))
@given(height=st.floats(5.0, 120.0), ratio=st.floats(0.25, 1.5), fall=st.floats(-0.6, 0.6))
def test_the_anchor_stands_at_the_ratio_below_the_attachment(
    height: float, ratio: float, fall: float
) -> None:
    lead = lead_on_slope(height, ratio=ratio, fall=fall)
    assert lead > 0.0
    assert lead == pytest.approx(ratio * (height + fall * lead))


@pytest.mark.parametrize("kind", GUY_KINDS)
@pytest.mark.parametrize("side", ["", "left", "right"])
@pytest.mark.parametrize("ordinal", [0, 1, 3])
def test_labels_come_back_from_descriptions(kind: GuyKind, side: GuySide, ordinal: int) -> None:
    ordinal = ordinal if side else 0
    label = guy_label(kind, side, ordinal=ordinal)
    for text in (f"12/3 ANC {label}", f"ANC 12/3 {label} ; 2 L OF THE FENCE", f"anc 12-3 {label.lower()}"):
        assert label_of_text(text) == (kind, side, ordinal)
        assert parse_description(text).item == "anchor"
        assert parse_description(text).pole == ""


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("ANC 12/3 AHEAD LEFT", ("ahead", "left", 0)),
        ("GUY 12/3 BACK RT", ("back", "right", 0)),
        ("ANC 3/2 BIS L", ("bisector", "left", 0)),
        ("ANC 3/2", (None, "", 0)),
        ("", (None, "", 0)),
        ("ANC 3/2 RL", (None, "", 0)),
    ],
)
def test_labels_as_crews_write_them(text: str, meaning: tuple[str | None, str, int]) -> None:
    assert label_of_text(text) == meaning


GOOD = Guy(line="North", structure="5/5", id="G1", kind="bisector", lead=45.0)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("kind", "sideways", "not one of bisector, back, ahead, azimuth"),
        ("kind", "azimuth", "an azimuth goes with kind azimuth"),
        ("azimuth_deg", 12.0, "an azimuth goes with kind azimuth"),
        ("lead", 0.0, "lead 0.0 is not above 0"),
        ("height", -1.0, "height -1.0 is not above 0"),
        ("ratio", float("nan"), "ratio nan is not above 0"),
        ("lead", float("inf"), "lead inf is not above 0"),
    ],
)
def test_what_no_guy_can_be_is_refused(field: str, value: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        dataclasses.replace(GOOD, **{field: value})
