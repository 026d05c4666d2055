"""The job itself: its name, its data version and its settings."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from sqlalchemy import Connection, insert, select, update

from linemap.domain.design.line import Declaration
from linemap.domain.kind.when import Asked
from linemap.domain.record.declared_work import workflow_of
from linemap.domain.record.workflow import Workflow
from linemap.domain.schedule.plan import Calendar
from linemap.store import schema
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump
from linemap.store.lines import OF_LINES, declare_lines
from linemap.store.states import check_true_from
from linemap.units import LengthUnit

#: Settings that are declarations about the job's coordinates.
DECLARED = ("crs", "combined_factor", "base_point", "vertical_datum", "source")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """What the job says about itself."""

    name: str
    #: Random identifier of the job; copies of it have the same.
    identity: str
    #: Random identifier of this life of the job; one brought back from a kept copy has a new one.
    incarnation: str
    created_at: dt.datetime
    #: Grows by one with every transaction that changed something.
    data_version: int
    #: Data version of the last change to anything but the record of the field.
    base_version: int
    #: JSON values by name; "data_date" has a meaning here, others to those who save them.
    settings: Mapping[str, Any]

    @property
    def data_date(self) -> dt.date | None:
        """Day whose end the job is shown for; None = not set, or set to ""."""
        written = self.settings.get("data_date")
        return dt.date.fromisoformat(written) if written else None

    @property
    def calendar(self) -> Calendar | None:
        """Return the worked days declared for the job ("work_week", "holidays"); None = not declared."""
        week = str(self.settings.get("work_week") or "")
        days = frozenset(map(dt.date.fromisoformat, self.settings.get("holidays") or ()))
        return Calendar.from_text(week, holidays=days) if week else None

    @property
    def workflow(self) -> Workflow:
        """Return the order of the work, with the weights declared for its steps."""
        return workflow_of(self.settings)

    @property
    def emergency(self) -> tuple[str, ...]:
        """Say which hospital is declared the nearest and who is told of it, as written; () = neither is."""
        names = {"hospital": "nearest hospital", "hospital_told": "told of it"}
        written = {name: str(self.settings.get(name) or "") for name in names}
        return tuple(f"{names[name]}, as declared: {text}" for name, text in written.items() if text)

    def declaration(self, unit: LengthUnit) -> Declaration:
        """Return what is declared about the job's coordinates."""
        named: Mapping[str, Any] = {name: str(self.settings.get(name) or "") for name in DECLARED}
        return Declaration(unit=unit, **named)


def load_job(connection: Connection, settings: Mapping[str, Any] | None = None) -> JobRecord:
    """Return the job's own record; `settings` are those of another time (`declared_when`), None = now's."""
    table = schema.job
    row = connection.execute(select(*(column for column in table.c if column.name != "id"))).one()
    return JobRecord(**{**row._mapping, **({} if settings is None else {"settings": settings})})


def renew_incarnation(connection: Connection) -> None:
    """Give the job a new life, for one that was brought back from a kept copy.

    What phones and browsers kept of the days after the copy is then known to be of another life of the job.
    """
    connection.execute(update(schema.job).values(incarnation=str(uuid.uuid4())))
    bump(connection)


def rename_job(connection: Connection, name: str) -> None:
    """Give the job another name."""
    connection.execute(update(schema.job).values(name=name))
    bump(connection)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclarationRecord:
    """All that was declared of a job after one declaration."""

    #: With the time zone it was declared in.
    at: dt.datetime
    #: "" = not known.
    who: str
    #: Day from which it is true; None = from when it was declared.
    true_from: dt.date | None
    settings: Mapping[str, Any]
    #: Line name -> what the line keeps of them, by column.
    lines: Mapping[str, Mapping[str, Any]]


def add_declaration(
    connection: Connection,
    changes: Mapping[str, Any],
    *,
    at: dt.datetime,
    who: str = "",
    true_from: dt.date | None = None,
    lines: Mapping[str, Any] = MappingProxyType({}),
) -> None:
    """Declare some settings, as `change_settings` does, and keep what was declared before and is now.

    Parameters
    ----------
    at : datetime
        When it is declared, with its time zone.
    true_from : date, optional
        Day from which it is true, not after `at`; None = from now.
    lines : mapping of str to value
        What every line keeps of it, as `declare_lines` takes it.

    Raises
    ------
    ValueError
        As `change_settings` and `declare_lines` do.
    InputRefused
        If `true_from` lies ahead.
    """
    check_true_from(true_from, at)
    record, history, standing = load_job(connection), list_declarations(connection), _declared(connection)
    before = history[-1] if history else None
    if standing != ((before.settings, before.lines) if before else ({}, {})):
        since = before.at if before else record.created_at
        _keep(connection, standing, at=since, who=before.who if before else "")
    if lines:
        declare_lines(connection, **lines)
    change_settings(connection, changes)
    _keep(connection, _declared(connection), at=at, who=who, true_from=true_from)


def _declared(connection: Connection) -> tuple[Mapping[str, Any], Mapping[str, Mapping[str, Any]]]:
    table = schema.line.c
    rows = connection.execute(select(table.name, *(table[name] for name in OF_LINES)).order_by(table.id))
    lines = {row.name: {name: getattr(row, name) for name in OF_LINES} for row in rows}
    return load_job(connection).settings, lines


def _keep(
    connection: Connection, standing: tuple[Any, Any], *, at: dt.datetime, who: str, **more: dt.date | None
) -> None:
    settings, lines = standing
    values = {"who": who, "true_from": None, **more, "settings": settings, "lines": lines}
    connection.execute(insert(schema.declaration), [{**with_clock("at", at), **values}])


def list_declarations(connection: Connection) -> tuple[DeclarationRecord, ...]:
    """Return what stood declared after each declaration, in their order; none for a job of 0.1.0."""
    query = select(schema.declaration).order_by(schema.declaration.c.seq)
    return tuple(record_of(DeclarationRecord, row) for row in connection.execute(query))


def declared_when(
    connection: Connection, asked: Asked
) -> tuple[Mapping[str, Any], Mapping[str, Mapping[str, Any]]]:
    """Return the settings that answer a question, and by its name what each line kept of them.

    Each declaration changes what differs from the one before it, from the day it is true. Of days before the
    job began, what was declared first of each setting is taken as declared.
    """
    history = list_declarations(connection)
    if not history:
        return load_job(connection).settings, {}
    found: dict[tuple[str, str], Any] = {}
    before: dict[tuple[str, str], Any] = {}
    for each in history:
        own = {("", name): value for name, value in each.settings.items()}
        own |= {(line, name): kept[name] for line, kept in each.lines.items() for name in kept}
        if asked.holds(each.at.date(), each.true_from, first=True):
            changed = {key: value for key, value in own.items() if key not in before or before[key] != value}
            found |= {
                key: value for key, value in changed.items() if not (asked.is_before and found.get(key))
            }
            found = {key: value for key, value in found.items() if key in own or key not in before}
        before = own
    lines: dict[str, dict[str, Any]] = {}
    for (line, name), value in found.items():
        lines.setdefault(line, {})[name] = value
    return lines.pop("", {}), lines


def change_settings(connection: Connection, changes: Mapping[str, Any]) -> None:
    """Change some settings; the others stay. A value of None takes a setting out.

    Parameters
    ----------
    changes : mapping of str to JSON value or None
        "data_date" is an ISO date.

    Raises
    ------
    ValueError
        If the data date is no ISO date.
    """
    if changes.get("data_date"):
        dt.date.fromisoformat(changes["data_date"])
    merged = {**load_job(connection).settings, **changes}
    kept = {name: value for name, value in merged.items() if value is not None}
    connection.execute(update(schema.job).values(settings=kept))
    bump(connection)
