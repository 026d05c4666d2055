"""Plans: how many structures are to have a step by the end of each week, one row a week."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from linemap.domain.record.workflow import match_step
from linemap.domain.schedule.plan import Baseline
from linemap.io.cells.dates import DateOrder, parse_moments
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable

__all__ = ["read_plans"]

_SERIES = ("line", "step", "revision")


@dataclass(slots=True)
class _Series:
    """The rows of one baseline while they are read."""

    frozen_on: date | None = None
    rows: list[int] = field(default_factory=list)
    weeks: list[date] = field(default_factory=list)
    planned: list[int] = field(default_factory=list)


def read_plans(
    table: RawTable, *, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[Baseline, ...]]:
    """Read a plan.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    line_default : str
        Line of rows that name none.
    order : "mdy" or "dmy", optional
        How dates such as 5/6/2026 are meant where the column does not tell.

    Returns
    -------
    Loaded of tuple of Baseline
        One for each line, step and revision; step "set" and revision "0" where the file names none. A plan
        without any week is kept and noted: it gives no curve.

    Raises
    ------
    InputRefused
        With every count that is no whole number or falls, and every week that is missing, no date, or out
        of order.
    """
    ledger = Ledger(sheet_of(table, "plan"))
    found = _gather(ledger, line_default, order)
    ledger.check_some_left("planned")
    if all(not series.weeks for series in found.values()):
        ledger.note(None, "week", "the plan gives no dates, so there is no curve", "add the week of each row")
    baselines = [_baseline(ledger, key, series) for key, series in found.items()]
    return ledger.finish(tuple(baseline for baseline in baselines if baseline is not None))


def _gather(
    ledger: Ledger, line_default: str, order: DateOrder | None
) -> dict[tuple[str, str, str], _Series]:
    sheet = ledger.sheet
    texts = {
        "line": sheet.texts("line", missing=line_default),
        "step": sheet.texts("step", missing="set"),
        "revision": sheet.texts("revision", missing="0"),
    }
    counts = sheet.numbers("planned")
    dates = {name: parse_moments(sheet.cells(name), order=order) for name in ("week", "frozen_on")}
    found: dict[tuple[str, str, str], _Series] = {}
    for index in range(len(sheet)):
        value = float(counts.values[index])
        if ledger.is_heading(index) or (value != value and index not in counts.faults):
            ledger.leave_out_idle(index)
            continue
        faults = [(name, dates[name].faults[index]) for name in dates if index in dates[name].faults]
        if index in counts.faults or value < 0.0 or value != int(value):
            faults.append(("planned", counts.faults.get(index, "no whole count of structures")))
        for name, reason in faults:
            ledger.refuse(index, name, reason, "correct the cell")
        if faults:
            continue
        step = match_step(texts["step"][index]) or texts["step"][index].casefold()
        key = (texts["line"][index], step, texts["revision"][index])
        week, frozen = (_day(dates[name].values[index]) for name in ("week", "frozen_on"))
        _take(found.setdefault(key, _Series()), index, int(value), week=week, frozen=frozen)
    return found


def _take(series: _Series, index: int, planned: int, *, week: date | None, frozen: date | None) -> None:
    series.rows.append(index)
    series.planned.append(planned)
    series.frozen_on = series.frozen_on or frozen
    if week is not None:
        series.weeks.append(week)


def _day(value: date | None) -> date | None:
    return value.date() if isinstance(value, datetime) else value


def _baseline(ledger: Ledger, key: tuple[str, str, str], series: _Series) -> Baseline | None:
    try:
        return Baseline(
            **dict(zip(_SERIES, key, strict=True)),
            frozen_on=series.frozen_on,
            weeks=tuple(series.weeks),
            planned=tuple(series.planned),
        )
    except ValueError as error:
        ledger.refuse(series.rows[-1], "planned", str(error), "correct the plan")
        return None
