"""The job itself: its name, its data version and its settings."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select, update

from linemap.domain.design.line import Declaration
from linemap.domain.record.workflow import Workflow, workflow_of
from linemap.domain.schedule.plan import Calendar
from linemap.store import schema
from linemap.store.database import bump
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

    def declaration(self, unit: LengthUnit) -> Declaration:
        """Return what is declared about the job's coordinates."""
        return Declaration(unit=unit, **{name: str(self.settings.get(name) or "") for name in DECLARED})


def load_job(connection: Connection) -> JobRecord:
    """Return the job's own record."""
    table = schema.job
    row = connection.execute(select(*(column for column in table.c if column.name != "id"))).one()
    return JobRecord(**row._mapping)


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
