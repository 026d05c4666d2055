"""The progress report on paper: the morning's sentences, counts, sections, miles, crews, the day's record."""

from __future__ import annotations

from collections.abc import Iterable

from linemap.answers.progress import Blocker, Period, Progress, StepCount
from linemap.report.flow import Block, Column, Grid, Words, flow_pdf
from linemap.report.paper import PORTRAIT, Paper, TitleBlock

__all__ = ["report_pdf"]

_COUNTS = (
    Column(name="step", share=1.6),
    Column(name="done", right=True),
    Column(name="open", right=True),
    Column(name="of", right=True),
    Column(name="by count", share=1.4, right=True),
    Column(name="by weight", share=1.4, right=True),
)
_SECTIONS = (
    Column(name="section", share=1.7),
    Column(name="set", share=0.8, right=True),
    Column(name="not ready: lacks", share=3.6),
    Column(name="wire held", share=0.8),
    Column(name="last structure set, 80 % range", share=2.2),
)
_MILES = (
    Column(name="line", share=1.0),
    Column(name="set", right=True),
    Column(name="passed by", share=2.4),
    Column(name="not set", share=3.2),
    Column(name="spans with both structures set", share=2.0, right=True),
)
_CREWS = (Column(name="crew", share=1.0), Column(name="units, each counted once", share=6.0))
_DAY = (
    Column(name="crew", share=1.0),
    Column(name="done", share=1.3),
    Column(name="structures", share=4.0),
    Column(name="to date", share=0.7, right=True),
)
#: Structures named as lacking something, in a row of a section.
_NAMED = 6


def report_pdf(title_block: TitleBlock, standing: Progress, day: Period, *, paper: Paper = "letter") -> bytes:
    """Return the report, each table together where a page can hold it.

    Parameters
    ----------
    title_block : TitleBlock
    standing : Progress
        Where the job stands, as the progress page has it.
    day : Period
        The report of the last day.
    paper : {"letter", "a4"}
    """
    blocks = [_head(standing), _counts(standing), _sections(standing), _miles(standing)]
    return flow_pdf(title_block, [*blocks, *_crews(standing), _day(day)], size=PORTRAIT[paper])


def _title(text: str) -> Words:
    return Words(text=text, size=10.0, bold=True)


def _head(standing: Progress) -> Block:
    known = f", as known by {standing.known_by}" if standing.known_by else ""
    line = f"{standing.line}: " if standing.line else ""
    headline, *rest = standing.forecast
    told = [*rest, *standing.windows, *standing.taken]
    return Block(
        parts=(
            Words(text=f"{line}as of {standing.as_of_text}{known}", size=12.0, bold=True),
            Words(text=standing.plan_text, size=9.0),
            Words(text=f"{standing.physical_text} of the work, by weight of types and steps", size=9.0),
            Words(text=headline, size=9.0, bold=True),
            *(Words(text=f"- {words}", size=8.0) for words in told),
        )
    )


def _counts(standing: Progress) -> Block:
    rows = tuple(
        (
            count.words,
            str(count.done),
            str(count.of - count.done),
            str(count.of),
            count.percent_text,
            count.weighted_text,
        )
        for count in standing.counts
    )
    again = "; ".join(f"{one.number} {one.words}" for one in standing.rework)
    words = [Words(text=text) for text in _claimed(standing.counts)]
    words += [Words(text=f"work made again, no second unit: {again}")] if again else []
    return Block(parts=(_title("Counts by step, each unit once"), Grid(columns=_COUNTS, rows=rows), *words))


def _claimed(counts: Iterable[StepCount]) -> Iterable[str]:
    """Say of each step how many are recorded without the evidence asked for; few are named."""
    for count in counts:
        names = [place.number for place in count.claimed_list]
        if names:
            named = f": {', '.join(names)}" if len(names) <= _NAMED else ""
            yield (
                f"claimed, not verified: {len(names)} of {count.done} {count.words}{named}; "
                f"asked for: {count.evidence_text}"
                + (f"; {len(count.noted_list)} have it in a note alone" if count.noted_list else "")
            )


def _sections(standing: Progress) -> Block:
    rows = tuple(
        (
            section.words,
            f"{section.done} of {section.of}",
            _lacks(section.blockers),
            ", ".join(section.wire_holds),
            section.forecast_text,
        )
        for section in standing.sections
    )
    note = "Recorded steps only: nothing here permits pulling."
    return Block(parts=(_title("Wire sections"), Grid(columns=_SECTIONS, rows=rows), Words(text=note)))


def _lacks(blockers: Iterable[Blocker]) -> str:
    named = [f"{each.number} {', '.join(each.lacks)}" for each in blockers]
    more = f"; and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
    return "; ".join(named[:_NAMED]) + more if named else "every step recorded"


def _miles(standing: Progress) -> Block:
    rows = tuple(
        (
            f"{standing.mile_word} {row.mile}",
            f"{row.done} of {row.of}",
            ", ".join(row.holes),
            ", ".join(place.number for place in row.open_list),
            row.spans_text,
        )
        for row in standing.miles
    )
    return Block(parts=(_title(f"By line {standing.mile_word}"), Grid(columns=_MILES, rows=rows)))


def _crews(standing: Progress) -> list[Block]:
    rows = tuple(
        (one.crew, ", ".join(f"{step.count} {step.words}" for step in one.steps)) for one in standing.crews
    )
    return [Block(parts=(_title("By crew"), Grid(columns=_CREWS, rows=rows)))] if rows else []


def _day(day: Period) -> Block:
    rows = tuple(
        (
            one.crew,
            f"{one.count} {one.words}",
            ", ".join(place.number for place in one.list),
            str(one.to_date),
        )
        for one in day.quantities
    )
    done = Grid(columns=_DAY, rows=rows) if rows else Words(text="nothing is recorded as done")
    told = [*day.rework, *day.repeats, *(f"{note.number} {note.words}" for note in day.notes)]
    return Block(
        parts=(
            _title(f"Recorded on {day.first}"),
            done,
            *(Words(text=words) for words in told),
            Words(text=day.not_recorded),
        )
    )
