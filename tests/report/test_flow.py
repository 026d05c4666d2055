"""Blocks over pages."""

from __future__ import annotations

import io

from pypdf import PdfReader

from linemap.report.flow import Block, Column, Grid, Rules, Words, flow_pdf
from linemap.report.paper import PORTRAIT, TitleBlock

TITLE_BLOCK = TitleBlock(title="S", job="J", lines=(), version="v", cautions=("c",))


def pages_of(*blocks: Block) -> list[str]:
    content = flow_pdf(TITLE_BLOCK, blocks, size=PORTRAIT["letter"])
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


def lines(count: int, name: str) -> Block:
    return Block(parts=tuple(Words(text=f"{name}{row}", size=10.0) for row in range(count)))


def test_a_block_that_fits_on_a_page_is_not_parted() -> None:
    first, second = pages_of(lines(30, "a"), lines(30, "b"))
    assert "a29" in first
    assert "b0" not in first
    assert "b0" in second
    assert "b29" in second


def test_a_block_longer_than_a_page_goes_on() -> None:
    texts = pages_of(lines(150, "a"))
    assert len(texts) == 4
    assert sum(text.count("a149") for text in texts) == 1


def test_a_new_page_is_begun_when_asked() -> None:
    assert len(pages_of(lines(1, "a"), Block(parts=(Words(text="b"),), new_page=True))) == 2


def test_a_first_new_page_leaves_no_empty_one() -> None:
    assert len(pages_of(Block(parts=(Words(text="b"),), new_page=True))) == 1


def test_a_cell_is_wrapped_and_loses_nothing() -> None:
    columns = (Column(name="n", right=True), Column(name="words"))
    grid = Grid(columns=columns, rows=(("1", " ".join(f"w{n}" for n in range(100))),))
    (text,) = pages_of(Block(parts=(grid, Rules(count=2, columns=2))))
    assert all(f"w{n}" in text.split() for n in range(100))


def test_the_head_of_a_table_is_repeated_where_it_runs_on() -> None:
    rows = tuple((f"row {n}", "x") for n in range(120))
    grid = Grid(columns=(Column(name="HEADING"), Column(name="")), rows=rows)
    texts = pages_of(Block(parts=(grid,)))
    assert len(texts) > 1
    assert all(text.count("HEADING") == 1 for text in texts)
    assert sum(text.count("row ") for text in texts) == 120


def test_lines_to_write_on_are_labelled() -> None:
    rules = Rules(count=1, columns=2, labels=("spacing", "by, on"))
    (text,) = pages_of(Block(parts=(rules,)))
    assert {"spacing", "by, on"} <= set(text.splitlines())


def test_letters_of_other_alphabets_are_printed() -> None:
    name = "Říčka – Łąka Ωμέγα Đường"
    title_block = TitleBlock(title="S", job=name, lines=(f"{name}: Rev C",), version="v", cautions=(name,))
    grid = Grid(columns=(Column(name=name),), rows=((f"cell {name}",),))
    words = Words(text=f"r\u030c in two parts, {name}", bold=True)
    content = flow_pdf(title_block, [Block(parts=(words, grid))], size=PORTRAIT["letter"])
    text = PdfReader(io.BytesIO(content)).pages[0].extract_text()
    assert {name, f"{name}: Rev C", f"ř in two parts, {name}", f"cell {name}"} <= set(text.splitlines())
    assert "?" not in text


def test_a_table_that_is_longer_than_a_page_begins_under_what_stands_before_it() -> None:
    grid = Grid(columns=(Column(name="n"),), rows=tuple((f"row {n}",) for n in range(120)))
    (first, *_) = pages_of(lines(2, "a"), Block(parts=(grid,)))
    assert "a1" in first
    assert "row 0" in first


def test_a_heading_never_stands_alone_under_a_page() -> None:
    """Whatever stands before it: the heading of a long table has its first row on the same page."""
    grid = Grid(columns=(Column(name="n"),), rows=tuple((f"row {n}.",) for n in range(120)))
    for before in range(30, 50):
        texts = pages_of(lines(before, "a"), Block(parts=(Words(text="TABLE"), grid)))
        (page,) = [text for text in texts if "TABLE" in text]
        assert "row 0." in page, before


def test_a_cell_higher_than_a_page_goes_on() -> None:
    words = " ".join(f"w{n}" for n in range(4000))
    texts = pages_of(
        Block(parts=(Grid(columns=(Column(name="n"), Column(name="words")), rows=(("1", words),)),))
    )
    assert len(texts) > 1
    assert set(words.split()) <= set(" ".join(texts).split())
