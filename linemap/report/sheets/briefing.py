"""The job-briefing sheet on paper: five subjects with what the data know, and lines to write on."""

from __future__ import annotations

from collections.abc import Iterable

from linemap.domain.crew.briefing import Briefing, Subject
from linemap.report.flow import Block, Part, Rules, Words, flow_pdf
from linemap.report.paper import PORTRAIT, Paper, TitleBlock

__all__ = ["briefing_pdf"]

#: Lines to write on under each subject, and rows of two names.
_LINES = 2
_NAMES = 5


def briefing_pdf(
    title_block: TitleBlock, structures: Iterable[Briefing], *, paper: Paper = "letter"
) -> bytes:
    """Return the sheets, each structure on a page of its own.

    Parameters
    ----------
    title_block : TitleBlock
    structures : iterable of Briefing
    paper : {"letter", "a4"}
    """
    return flow_pdf(title_block, map(_block, structures), size=PORTRAIT[paper])


def _block(entry: Briefing) -> Block:
    place = [f"{name}: {text}" for name, text in entry.coordinates]
    return Block(
        new_page=True,
        parts=(
            Words(text=entry.number, size=16.0, bold=True),
            Rules(count=1, columns=2, labels=("date and time", "person in charge")),
            *(Words(text=words, size=8.5) for words in entry.cautions),
            *(part for subject in entry.subjects for part in _subject(subject)),
            Words(text="Where this is, for whoever must be told", size=9.5, bold=True),
            *(Words(text=words, size=8.5) for words in place),
            Words(text=f"road: {entry.road_point or 'not available'}", size=8.5),
            Words(text=f"hospital: {entry.hospital}", size=8.5),
            Words(text="Names of those briefed", size=9.5, bold=True),
            Rules(count=_NAMES, columns=2),
        ),
    )


def _subject(subject: Subject) -> tuple[Part, ...]:
    return (
        Words(text=subject.heading, size=9.5, bold=True),
        *(Words(text=f"- {words}", size=8.5) for words in subject.reminders),
        Rules(count=_LINES),
    )
