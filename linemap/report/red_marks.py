"""The as-set table with red marks as plain texts, and as a workbook of them.

Every number is text as it is to be read, so that no program rounds it, takes it for a date or a formula, or
shows a mean as if it were a measurement.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from linemap.report.palette import OFFICE


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedPole:
    """One pole: design, as set, and the difference in the structure's own frame. "" = not available."""

    letter: str
    #: Grid coordinates, CRS unit.
    design_north: str
    design_east: str
    set_north: str
    set_east: str
    #: As set minus design, ground unit: ahead +, right +.
    ahead: str
    right: str
    #: Standard deviation of one shot, per axis, ground unit.
    sigma: str
    #: "1 shot", "mean of 2 shots", "2 shots, not used", "not shot".
    measured: str
    #: As observed, and what accepted corrections added to it; as set is both together. CRS unit.
    observed_north: str = ""
    observed_east: str = ""
    correction_north: str = ""
    correction_east: str = ""
    #: Elevation of the shots, and of the ground as the pole schedule gives it; ground unit.
    elevation: str = ""
    design_elevation: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedStructure:
    """One structure, surveyed or not."""

    line: str
    number: str
    station: str
    verdict: str
    #: True when a person must look: anything but a pass or a structure nobody surveyed.
    marked: bool
    #: (name, value with sigma) of the frame's residuals.
    residuals: tuple[tuple[str, str], ...]
    #: What was found there, in sentences.
    findings: tuple[str, ...]
    #: The likely cause in words, "" = none.
    cause: str
    #: Answer that stands, with its note; "" = none.
    decision: str
    #: Person and day of the answer.
    decided_by: str
    #: Instrument or method as recorded; "" = not known.
    method: str
    #: Day or days of the shots.
    surveyed_on: str
    #: Files and rows of the shots.
    source: str
    poles: tuple[MarkedPole, ...]
    #: "by control" or "against its own base", with the check-ins; "" = no shot, or no control is listed.
    held: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedShot:
    """One shot as observed, before any correction; who said what it is of, or set it aside, and why."""

    line: str
    structure: str
    pole: str
    point: str
    north: str
    east: str
    elevation: str
    sigma: str
    observed_on: str
    file: str
    row: str
    description: str
    #: "" = nobody decided about this shot by itself.
    decided: str = ""
    #: Where it counts after accepted corrections; "" = it was set aside.
    corrected_north: str = ""
    corrected_east: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedDecision:
    """One decision as it was taken; later ones may undo it."""

    at: str
    who: str
    answer: str
    cause: str
    subject: str
    note: str

    @property
    def words(self) -> str:
        """Say it on one line."""
        note = f" ({self.note})" if self.note else ""
        return f"{self.at}  {self.who}: {self.answer}: {self.cause}, {self.subject}{note}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSheet:
    """Everything on the sheets of one job at one data version."""

    job: str
    #: Which job it is, in which life, and by which linemap.
    source: str
    #: Line with its ends and its revisions, one text a line.
    lines: tuple[str, ...]
    data_version: int
    #: Day whose end the data are shown for, ISO.
    data_date: str
    #: What is declared about the coordinates, in one sentence.
    declared: str
    #: Ground unit of differences, "ft" or "m".
    unit: str
    caution: str
    #: Counts by verdict in words.
    counts: str
    structures: tuple[MarkedStructure, ...]
    shots: tuple[MarkedShot, ...]
    decisions: tuple[MarkedDecision, ...]
    #: One sentence for each correction in force.
    corrections: tuple[str, ...]
    #: One sentence for each check-in on a control point.
    check_ins: tuple[str, ...] = ()


_RESIDUALS = ("rotation", "along", "across", "spacing", _BOW := "middle pole off line A-C")
#: Headings of a pole, those that paper has no room for last.
POLE_COLUMNS = ("pole", "design N", "design E", "set N", "set E", "ahead", "right", "sigma", "measured")
_POLES = (
    *POLE_COLUMNS, "observed N", "observed E", "correction N", "correction E", "elevation", "listed ground",
)  # fmt: skip
#: Headings of the first sheet and what stands under them, before and after residuals and findings.
_FIRST = {"line": "line", "structure": "number", "station": "station", "verdict": "verdict"}
_LAST = {
    "likely cause": "cause",
    "decision": "decision",
    "decided by": "decided_by",
    "surveyed by": "method",
    "surveyed on": "surveyed_on",
    "files and rows": "source",
    "held": "held",
}
#: Headings of the first sheet, in order.
STRUCTURE_COLUMNS: tuple[str, ...] = (*_FIRST, *_RESIDUALS, "findings", *_LAST)
_WIDE = {
    "findings": 60,
    "likely cause": 60,
    "decision": 40,
    "files and rows": 44,
    "note": 60,
    "decided": 60,
    "held": 44,
    "description": 26,
    "subject": 34,
}
#: What no document's own clock may change. Spreadsheet programs show it as the day of making.
_MADE = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - the file format has no zone
#: Longest text of a cell.
_MOST_SIGNS = 32_767


def red_marks_xlsx(sheet: MarkSheet) -> bytes:
    """Return the workbook: structures, poles, shots as observed, decisions, and what the job declares.

    Every cell is text, so a spreadsheet program shows what stands here and computes nothing of its own.
    The same `sheet` gives the same bytes.
    """
    into = io.BytesIO()
    options = dict.fromkeys(("strings_to_formulas", "strings_to_numbers", "strings_to_urls"), False)
    with xlsxwriter.Workbook(into, {"in_memory": True, **options}) as book:
        book.set_properties({"title": f"{sheet.job}: as-set table and red marks", "created": _MADE})
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        text = {"num_format": "@", "valign": "top", "text_wrap": True}
        red = book.add_format({**text, "font_color": OFFICE["verdict-fail"].day.upper()})
        formats = (head, book.add_format(text), red)
        poles = (row for each in sheet.structures for row in _poles(each))
        pages: dict[str, tuple[Sequence[str], Iterable[tuple[Sequence[str], bool]]]] = {
            "structures": (STRUCTURE_COLUMNS, ((_structure(each), each.marked) for each in sheet.structures)),
            "poles": (("line", "structure", *_POLES), poles),
            "shots as observed": (_names(MarkedShot), _plain(sheet.shots)),
            "decisions": (_names(MarkedDecision), _plain(sheet.decisions)),
            "job": (("what", "text"), _job(sheet)),
        }
        for name, (headings, rows) in pages.items():
            _write(book.add_worksheet(name), headings, rows, formats, sheet)
    return into.getvalue()


def _write(
    page: Worksheet,
    headings: Sequence[str],
    rows: Iterable[tuple[Sequence[str], bool]],
    formats: tuple[Format, Format, Format],
    sheet: MarkSheet,
) -> None:
    head, plain, red = formats
    for column, heading in enumerate(headings):
        page.write_string(0, column, heading, head)
        page.set_column(column, column, _WIDE.get(heading, 15))
    for row, (texts, marked) in enumerate(rows, start=1):
        for column, text in enumerate(texts):
            page.write_string(row, column, text[:_MOST_SIGNS], red if marked else plain)
    page.freeze_panes(1, 2)
    page.repeat_rows(0)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    job = sheet.job.replace("&", "&&")[:80]
    page.set_footer(
        f"&L{job}, data version {sheet.data_version} as of {sheet.data_date}\n{sheet.source}&R&P of &N"
    )


def _structure(each: MarkedStructure) -> tuple[str, ...]:
    # the last one bears the owner's words for the poles
    found = {name if name in _RESIDUALS else _BOW: value for name, value in each.residuals}
    return (
        *(getattr(each, name) for name in _FIRST.values()),
        *(found.get(name, "") for name in _RESIDUALS),
        "; ".join(each.findings),
        *(getattr(each, name) for name in _LAST.values()),
    )


def texts_of(record: MarkedPole | MarkedShot | MarkedDecision) -> tuple[str, ...]:
    """Return the texts of a record in the order of its fields."""
    return tuple(getattr(record, field.name) for field in fields(record))


def _poles(each: MarkedStructure) -> list[tuple[tuple[str, ...], bool]]:
    return [((each.line, each.number, *texts_of(pole)), each.marked) for pole in each.poles]


def _names(record: type[MarkedShot] | type[MarkedDecision]) -> tuple[str, ...]:
    return tuple(field.name.replace("_", " ") for field in fields(record))


def _plain(records: Iterable[MarkedShot | MarkedDecision]) -> list[tuple[tuple[str, ...], bool]]:
    return [(texts_of(record), False) for record in records]


def _job(sheet: MarkSheet) -> list[tuple[tuple[str, str], bool]]:
    statements = [
        ("job", sheet.job),
        ("made from", sheet.source),
        *(("line", words) for words in sheet.lines),
        ("data version", str(sheet.data_version)),
        ("data date", sheet.data_date),
        ("declared", sheet.declared),
        ("unit of differences", sheet.unit),
        (
            "differences",
            "as set minus design in the structure's frame: ahead +, right +, rotation clockwise +",
        ),
        ("verdicts", sheet.counts),
        *(("correction in force", words) for words in sheet.corrections),
        *(("check-in", words) for words in sheet.check_ins),
        ("caution", sheet.caution),
    ]
    return [(row, False) for row in statements]
