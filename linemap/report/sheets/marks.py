"""Framing marks on paper: one page for each structure, a table for each pole, room for what was found."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from linemap.answers.structure import PanelMark, PanelMarkedPole, PanelMarks
from linemap.report.flow import Block, Column, Grid, Part, Rules, Words, flow_pdf
from linemap.report.paper import PORTRAIT, Paper, TitleBlock

__all__ = ["marks_pdf"]

_COLUMNS = (
    Column(name="mark", share=1.6),
    Column(name="from the top", right=True),
    Column(name="", right=True),
    Column(name="from the butt", right=True),
    Column(name="", right=True),
    Column(name="above ground", right=True),
    Column(name="drawing", share=1.2),
    Column(name="checked", share=1.0),
)


def marks_pdf(
    title_block: TitleBlock,
    structures: Iterable[tuple[PanelMarks, Sequence[str]]],
    *,
    paper: Paper = "letter",
) -> bytes:
    """Return the marks, each structure on a page of its own.

    Parameters
    ----------
    title_block : TitleBlock
    structures : iterable of (PanelMarks, sequence of str)
        The marks of each, and its holds as sentences.
    paper : {"letter", "a4"}
    """
    return flow_pdf(title_block, map(_block, structures), size=PORTRAIT[paper])


def _block(structure: tuple[PanelMarks, Sequence[str]]) -> Block:
    entry, holds = structure
    drawings = ", ".join(entry.drawings) or "none named"
    told = [
        *(f"HOLD: {hold}" for hold in holds),
        f"type {entry.type or 'not given'}, spacing {entry.spacing_text}, drawings {drawings}",
        *entry.sentences,
        *(f"not available: {why}" for why in entry.unavailable),
    ]
    material = [*([f"bundle: {', '.join(entry.bundle)}"] if entry.bundle else []), *entry.material]
    return Block(
        new_page=True,
        parts=(
            Words(text=entry.number, size=16.0, bold=True),
            *(Words(text=words, size=8.0) for words in told),
            *(part for pole in entry.poles for part in _pole(pole)),
            *(Words(text=words, size=8.0) for words in material),
            Words(text="measured here", size=8.0),
            _measured([pole.letter for pole in entry.poles]),
        ),
    )


def _measured(letters: Sequence[str]) -> Rules:
    """Return a line for the spacing, one for each pole's length, and one for the name."""
    labels = ("spacing", *(f"length of pole {letter}" for letter in letters), "by, on")
    return Rules(count=1, columns=len(labels), labels=labels)


def _pole(pole: PanelMarkedPole) -> tuple[Part, ...]:
    brand = f", brand {pole.brand_text} above ground" if pole.brand_text else ""
    least = f" (at least {pole.least_depth_text})" if pole.least_depth_text else ""
    depth = f"dig {pole.depth_wood} = {pole.depth_text}{least}"
    return (
        Words(text=f"Pole {pole.letter}: {pole.length_text}, {depth}{brand}", size=9.0, bold=True),
        Grid(columns=_COLUMNS, rows=tuple(_mark(mark) for mark in pole.marks)),
    )


def _mark(mark: PanelMark) -> tuple[str, ...]:
    names = ("name", "drop_wood", "drop_text", "butt_wood", "butt_text", "above_text", "drawing")
    return (*(getattr(mark, name) for name in names), "")
