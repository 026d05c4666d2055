"""One structure on one side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from pypdf import PdfReader

from linemap.answers.structure import Frame
from linemap.report.paper import TitleBlock
from linemap.report.sheets.card import Card, card_pdf

CARD = Card(
    number="9/2",
    code="9/2",
    facts=("station 433+81.00 (R1)", "type H-TRN"),
    back="9/1",
    ahead="9/3",
    frame=Frame(back_deg=180.0, ahead_deg=0.0, to_scale=True, poles=[("A", -7.0, 0.0), ("B", 7.0, 0.0)]),
    poles={"A": "85 ft", "B": "85 ft"},
    notes=(("HOLDS", ("no setting at 9/2",)), ("Crossings", ())),
)
Read = Callable[[bytes], PdfReader]


def test_each_card_is_one_side_of_half_a_sheet(title_block: TitleBlock, read: Read) -> None:
    pages = read(card_pdf(title_block, [CARD, replace(CARD, number="9/3")])).pages
    assert len(pages) == 2
    assert [float(part) for part in pages[0].mediabox] == pytest.approx([0, 0, 396, 612])
    assert "9/3" in pages[1].extract_text()


def test_a5_is_a5(title_block: TitleBlock, read: Read) -> None:
    box = read(card_pdf(title_block, [CARD], paper="a4")).pages[0].mediabox
    assert [float(part) * 25.4 / 72 for part in box] == pytest.approx([0, 0, 148, 210], abs=0.1)


def test_pole_a_is_drawn_on_its_side(title_block: TitleBlock, read: Read) -> None:
    """The letters stand left to right as somebody facing ahead sees the poles."""
    mirrored = [(letter, -right, ahead) for letter, right, ahead in CARD.frame.poles]
    turned = replace(CARD, frame=replace(CARD.frame, poles=mirrored))
    places = {}
    for name, card in (("left", CARD), ("right", turned)):
        at: dict[str, float] = {}

        def visit(text: str, _cm: object, tm: list[float], _font: object, _size: object) -> None:
            if text.strip() in ("A", "B"):
                at[text.strip()] = tm[4]  # noqa: B023 - read before the loop goes on

        read(card_pdf(title_block, [card])).pages[0].extract_text(visitor_text=visit)
        places[name] = at
    assert places["left"]["A"] < places["left"]["B"]
    assert places["right"]["A"] > places["right"]["B"]


def test_what_does_not_fit_is_counted(title_block: TitleBlock, read: Read) -> None:
    many = tuple(f"sentence {n}" for n in range(100))
    pages = read(card_pdf(title_block, [replace(CARD, notes=(("HOLDS", many),))])).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    shown = text.count("sentence ")
    assert 10 < shown < 60
    assert f"{100 - shown} more sentences" in text


def test_no_sentence_stands_without_its_heading(title_block: TitleBlock, read: Read) -> None:
    """Under another heading "dug, framed" would say the opposite of "steps not recorded"."""
    for many in range(60):
        filler = tuple(f"mark {n}" for n in range(many))
        notes = (("MARKS", filler), ("STEPS NOT RECORDED", ("dug, framed",)))
        text = read(card_pdf(title_block, [replace(CARD, notes=notes)])).pages[0].extract_text()
        assert ("STEPS NOT RECORDED" in text) == ("dug, framed" in text)
        assert ("on the page of the structure" in text) == ("dug, framed" not in text)


def test_unknown_spacing_is_said(title_block: TitleBlock, read: Read) -> None:
    text = (
        read(card_pdf(title_block, [replace(CARD, frame=replace(CARD.frame, to_scale=False))]))
        .pages[0]
        .extract_text()
    )
    assert "spacing not known, not to scale" in text
