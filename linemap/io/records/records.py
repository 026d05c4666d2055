"""Records of work from lists: who did which step at which structure, and when."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from functools import cache, partial
from types import MappingProxyType
from typing import NamedTuple
from uuid import UUID, uuid5

from linemap.domain.design.naming import UNNAMED, ListedNumbers, Naming
from linemap.domain.kind.kind import FieldError
from linemap.domain.record.chain import canonical_json
from linemap.domain.record.declared_work import span_ends, span_name
from linemap.domain.record.event import Event, Result
from linemap.domain.record.reading import Reading
from linemap.domain.record.step_words import match_part_step, match_step
from linemap.domain.record.workflow import PartPer
from linemap.io.cells.dates import DateOrder, Moments, at_noon, parse_clock, parse_moments
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_numbers import parse_set
from linemap.io.records.readings import ReadingColumns

#: Own name space for identifiers made from the words of a row, so that loading it again changes nothing.
_NAMESPACE = UUID("6d0b0f0c-52a4-4f5b-9a5e-3f1d7d6f2b11")
_NO_STEPS: Mapping[str, PartPer] = MappingProxyType({})
_LISTED = re.compile(r"[,;&]|\band\b")
_SPAN = "write the structure at its back end in the row, and the span as 9/2 to 9/3"
#: An identifier as `str(UUID(...))` writes it.
_SPELLED = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_RESULTS: dict[str, Result] = {
    "": "done", "done": "done", "ok": "done", "complete": "done", "completed": "done", "yes": "done",
    "rejected": "rejected", "reject": "rejected", "failed": "rejected", "redo": "rejected",
    "withdrawn": "withdrawn", "withdraw": "withdrawn", "cancelled": "withdrawn", "canceled": "withdrawn",
}  # fmt: skip


def read_records(
    table: RawTable,
    *,
    received_at: datetime,
    zone: tzinfo = UTC,
    line_default: str = "",
    order: DateOrder | None = None,
    naming: Naming = UNNAMED,
    part_steps: Mapping[str, PartPer] = _NO_STEPS,
) -> Loaded[tuple[Event, ...]]:
    """Read records of work.

    Parameters
    ----------
    received_at : datetime
        When the job receives the file, with a time zone; used where the rows do not say.
    zone : tzinfo
        Time zone of moments written without one. A date without a time is taken at noon, and noted.
    part_steps : mapping
        Steps of guys and spans that the job declares, by code: what each is of. The cell of the part counts
        for them alone.

    Returns
    -------
    Loaded of tuple of Event
        One event for each structure, pole and guy a row names. Its identifier is that of the row when it is a
        UUID, else it is made from the words of the row: loading the list twice changes nothing. A row
        that cannot be used is listed as left out; a reading that cannot be used is noted, and the record
        stands without it.

    Raises
    ------
    InputRefused
        If no row can be used.
    """
    ledger = Ledger(sheet_of(table, "records"), naming=naming)
    sheet = ledger.sheet
    rows = _Rows(
        ledger=ledger,
        lines=sheet.texts("line", missing=line_default),
        dates=parse_moments(sheet.cells("date"), order=order),
        received=parse_moments(sheet.cells("received"), order=order),
        received_at=received_at,
        zone=zone,
        steps=cache(lambda text: match_part_step(text, part_steps) or match_step(text)),
        part_steps=part_steps,
        structures=cache(partial(_structures, naming.listed)),
        letters=cache(partial(_letters, naming)),
        readings=ReadingColumns(ledger),
    )
    events: list[Event] = []
    for index, texts in enumerate(zip(*(sheet.texts(name) for name in _Texts._fields), strict=True)):
        events.extend(_events(rows, index, _Texts(*texts)))
    ledger.check_some_left("structure")
    clocks = sheet.texts("time")
    untimed = [i for i in ledger.kept() if not isinstance(rows.dates.values[i], datetime) and not clocks[i]]
    if untimed:
        ledger.note(untimed[0], "date", f"no time of day, taken at noon, in {len(untimed):,} rows")
    return ledger.finish(tuple(events))


class _Texts(NamedTuple):
    """The cells of a row that are texts, by field."""

    structure: str
    pole: str
    step: str
    result: str
    time: str
    crew: str
    actor: str
    device: str
    note: str
    id: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    ledger: Ledger
    lines: list[str]
    dates: Moments
    received: Moments
    received_at: datetime
    zone: tzinfo
    #: What the words of the rows mean, each read once.
    steps: Callable[[str], str | None]
    part_steps: Mapping[str, PartPer]
    structures: Callable[[str, str], tuple[str, ...]]
    letters: Callable[[str, str, str], tuple[str, ...]]
    readings: ReadingColumns


def _events(rows: _Rows, index: int, text: _Texts) -> list[Event]:
    ledger = rows.ledger
    if (
        ledger.is_heading(index)
        or not (text.structure or text.step)
        or (not text.step and ledger.is_total(index))
    ):
        ledger.leave_out_idle(index)
        return []
    try:
        return _read(rows, index, text)
    except FieldError as error:
        ledger.leave_out(index, error.field, error.reason, error.remedy)
        return []


def _read(rows: _Rows, index: int, text: _Texts) -> list[Event]:
    step = rows.steps(text.step)
    if step is None:
        raise FieldError("step", "no step linemap knows", "use a step of the workflow, such as framed or set")
    result = _RESULTS.get(text.result.casefold())
    if result is None:
        raise FieldError("result", "no result", "write done, rejected or withdrawn")
    line = rows.lines[index]
    numbers = rows.structures(line, text.structure)
    letters = rows.letters(line, numbers[0], text.pole)
    happened, received = _moments(rows, index, text.time)
    parts = _parts(rows, step, numbers, text.part, line)
    own = _own_identifier(text.id) if len(numbers) * len(letters) * len(parts) == 1 else ""
    form = rows.ledger.naming.listed.form
    readings = rows.readings.of_row(index, letters, place=(line, numbers[0]))
    words = () if own else (line, step, result, happened.isoformat(), text.crew, text.actor, text.note)
    return [
        Event(
            id=own
            or _made_identifier(
                text.id, *words, *_spelled(readings[letter]), form(number), letter, *filter(None, (part,))
            ),
            line=line,
            structure=number,
            pole=letter,
            step=step,
            part=part,
            result=result,
            happened_at=happened,
            received_at=received,
            crew=text.crew,
            actor=text.actor,
            device=text.device,
            note=text.note,
            readings=readings[letter],
            file=rows.ledger.sheet.table.file,
            row=rows.ledger.sheet.table.row_numbers[index],
        )
        for number in numbers
        for letter in letters
        for part in parts
    ]


def _spelled(readings: tuple[Reading, ...]) -> list[str]:
    return [canonical_json(reading.to_values()) for reading in readings]


def _parts(rows: _Rows, step: str, numbers: Sequence[str], text: str, line: str) -> tuple[str, ...]:
    """Return the guys a row names, or its span in one spelling; ("",) = all of them, or a step of neither."""
    per = rows.part_steps.get(step)
    if per is None or not text or text.casefold() in {"all", "-"}:
        return ("",)
    if per == "guy":
        return tuple(part for each in _LISTED.split(text) if (part := each.strip())) or ("",)
    ends = span_ends(text)
    listed = rows.ledger.naming.listed
    back, ahead = (listed.find(end, line) for end in ends or (text, ""))
    if len(numbers) > 1 or back != numbers[0]:
        raise FieldError("part", f"the span {text} is not the one ahead of {', '.join(numbers)}", _SPAN)
    return (span_name(back, ahead),)


def _structures(listed: ListedNumbers, line: str, text: str) -> tuple[str, ...]:
    if not text:
        raise FieldError("structure", "the structure number is missing", "fill it in")
    try:
        named = parse_set(text, listed, line=line)
    except ValueError as error:
        raise FieldError("structure", str(error), "") from None
    if named.first:
        raise FieldError("structure", "a range says not which structures were done", "name each structure")
    return named.numbers


def _letters(naming: Naming, line: str, number: str, text: str) -> tuple[str, ...]:
    """Poles a row names; ("",) is the whole structure."""
    if not text or text.casefold() in {"both", "all", "-"}:
        return ("",)
    letters = naming.letters(text, number, line)
    if not letters:
        choice = naming.poles.choice(naming.listed.poles(number, line))
        raise FieldError("pole", f"no pole {choice}", f"write {choice}, or leave it blank for all")
    return tuple(letters)


def _moments(rows: _Rows, index: int, clock: str) -> tuple[datetime, datetime]:
    for name, moments in (("date", rows.dates), ("received", rows.received)):
        if index in moments.faults:
            raise FieldError(name, moments.faults[index], "")
    day = rows.dates.values[index]
    if day is None:
        raise FieldError("date", "the date is missing", "fill it in")
    try:
        happened = at_noon(day, clock=parse_clock(clock) if clock else None, zone=rows.zone)
    except ValueError as error:
        raise FieldError("time", str(error), "") from None
    received: date | None = rows.received.values[index]
    return happened, rows.received_at if received is None else at_noon(received, clock=None, zone=rows.zone)


def _own_identifier(given: str) -> str:
    """Return the identifier a row has in its one spelling; "" when it has none."""
    if _SPELLED.fullmatch(given):
        return given
    try:
        return str(UUID(given))
    except ValueError:
        return ""


def _made_identifier(*words: str) -> str:
    return str(uuid5(_NAMESPACE, "\x1f".join(words)))
