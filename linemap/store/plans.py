"""Plans: baselines are added, each under its revision, and never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, insert, select

from linemap.domain.schedule.plan import Baseline
from linemap.errors import Conflict
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["add_baselines", "load_baselines"]

_PLAIN = ("line", "step", "revision", "frozen_on")


def add_baselines(
    connection: Connection, baselines: Iterable[Baseline], *, file_id: int | None = None
) -> None:
    """Add baselines; one that is there with the same content is left as it is.

    Raises
    ------
    Conflict
        If a line, step and revision has another plan already: a baseline is frozen, and a plan made anew is
        a revision of its own.
    """
    known = {_key(baseline): baseline for baseline in load_baselines(connection)}
    fresh = []
    for baseline in baselines:
        there = known.setdefault(_key(baseline), baseline)
        if there is baseline:
            fresh.append(_row(baseline, file_id))
        elif there != baseline:
            raise Conflict(f"{there.words}, is frozen; give the new plan a revision of its own")
    if fresh:
        connection.execute(insert(schema.plan), fresh)
        bump(connection)


def load_baselines(connection: Connection) -> tuple[Baseline, ...]:
    """Return all baselines in the order they were added."""
    rows = connection.execute(select(schema.plan).order_by(schema.plan.c.seq))
    return tuple(_baseline(dict(row._mapping)) for row in rows)


def _key(baseline: Baseline) -> tuple[str, str, str]:
    return (baseline.line, baseline.step, baseline.revision)


def _row(baseline: Baseline, file_id: int | None) -> dict[str, Any]:
    return {
        **{name: getattr(baseline, name) for name in _PLAIN},
        "file_id": file_id,
        "weeks": [week.isoformat() for week in baseline.weeks],
        "planned": list(baseline.planned),
    }


def _baseline(row: dict[str, Any]) -> Baseline:
    return Baseline(
        **{name: row[name] for name in _PLAIN},
        weeks=tuple(map(dt.date.fromisoformat, row["weeks"])),
        planned=tuple(row["planned"]),
    )
