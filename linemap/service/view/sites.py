"""What counting progress takes from a job: its structures, its whole record, and the survey as a record."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StepState, StructureStatus
from linemap.domain.schedule.progress import Site
from linemap.domain.survey.shot import Shot
from linemap.errors import NotFound
from linemap.service.view.view import JobView
from linemap.units import LengthUnit

_SURVEYED = "surveyed"
_NOTHING: Mapping[Key, StructureStatus] = MappingProxyType({})
#: Stands for the crew where shots are the record.
_SURVEY = "survey files"


def all_events(view: JobView) -> list[Event]:
    """Return the whole record of the job."""
    return [event for events in view.events_by_structure.values() for event in events]


def sites_of(
    view: JobView, *, line: str = "", statuses: Mapping[Key, StructureStatus] = _NOTHING
) -> tuple[Site, ...]:
    """Return what counting needs to know of every structure of a line, or of all lines, in line order."""
    if line and line not in {one.name for one in view.figures.lines}:
        raise NotFound(
            f"the job has no line {line}; it has {', '.join(one.name for one in view.figures.lines)}"
        )
    return tuple(site for site in _all_sites(view, statuses) if line in {"", site.line})


def _all_sites(view: JobView, statuses: Mapping[Key, StructureStatus]) -> tuple[Site, ...]:
    figures = view.figures
    named = {(guy.line, guy.structure) for guy in view.guys}
    guyed_known = bool(named) or any(entry.guyed is not None for entry in view.types.values())
    found = []
    for row, code in enumerate(figures.structures.type_code):
        line, number = view.key(row)
        entry = view.types.get(code)
        distance = float(figures.true_distance[row])
        span = float(figures.ahead_span[row])
        found.append(
            Site(
                line=line,
                number=number,
                distance=distance,
                mile=max(math.floor(distance / figures.line_of(row).unit.mile + 1e-9), 0) + 1,
                weight=1.0 if entry is None else entry.weight,
                section_break=bool(figures.structures.section_break[row]),
                guyed=(line, number) in named or (entry is not None and bool(entry.guyed))
                if guyed_known
                else bool(figures.structures.section_break[row] or figures.deflection_deg[row]),
                ahead_span=None if math.isnan(span) else span,
                status=statuses.get((line, number), NOTHING_RECORDED),
            )
        )
    return tuple(found)


def in_kilometres(view: JobView) -> bool:
    """Say whether a job counts kilometres: where its ground unit is the metre."""
    return view.figures.lines[0].unit is LengthUnit.METRE


def with_survey(
    view: JobView, statuses: Mapping[Key, StructureStatus], day: dt.date
) -> dict[Key, StructureStatus]:
    """Count structures that have shots as surveyed, from the day of the first: the survey is a record too."""
    found = dict(statuses)
    if view.workflow.step(_SURVEYED) is None:
        return found
    for key, shots in view.shots_by_structure.items():
        seen = sorted(shot.observed_on for shot in shots if shot.item == "pole" and _is_day(shot))
        status = found.get(key, NOTHING_RECORDED)
        if not seen or seen[0] > day.isoformat() or _SURVEYED in status.done or key not in view.row_of:
            continue
        at = dt.datetime.fromisoformat(seen[0]).replace(tzinfo=dt.UTC)
        state = StepState(at, _SURVEY, "", 1, "")
        found[key] = replace(status, done={**status.done, _SURVEYED: state})
    return found


def _is_day(shot: Shot) -> bool:
    try:
        dt.date.fromisoformat(shot.observed_on)
    except ValueError:
        return False
    return True
