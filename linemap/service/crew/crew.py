"""What a crew asks: where to next by the records, and where it stands on the line."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from linemap.answers import crew as answer
from linemap.domain.crew.fix import Where, where_on_line
from linemap.domain.crew.next_structure import Next, Workable, crews_of_steps, next_structures, step_of_crew
from linemap.domain.crew.refusal import Asked
from linemap.domain.crew.travel import AccessNetwork, Start, Travel, travel_from, travel_parts
from linemap.domain.design.lengths import length_words
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.workflow import Workflow
from linemap.errors import NotFound
from linemap.geometry.crs import geodesic
from linemap.service.crew.crew_sites import access_network, closed_rows, done_by, sites_of, start_at
from linemap.service.view.view import CAUTION, JobView

_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A place a device gives, WGS 84 degrees."""

    longitude: float
    latitude: float
    #: Metres; None = the device does not say.
    accuracy_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRequest:
    """Who asks where to go, and from where."""

    crew: str
    #: Line whose structures are asked for; "" = all.
    line: str = ""
    #: Number of the structure the crew starts from; "" = by its fix, or its last record.
    structure: str = ""
    fix: Fix | None = None
    #: Step by code or by a crew's word; "" = the one it has done most.
    step: str = ""
    #: Order of the work to look at; None = that of the job.
    workflow: Workflow | None = None
    #: Workable structures that are listed at most; None = all.
    limit: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Begin:
    """Where the crew starts, in words and on the network."""

    words: str
    start: Start
    where: Where | None = field(default=None)


def next_answer(
    view: JobView, request: NextRequest, *, now: dt.datetime, network: AccessNetwork | None = None
) -> answer.NextAnswer:
    """Return where a crew may go next by the records; claims are compared with `now`.

    `network` is made by `access_network` when it is not given. `NotFound` = the job has no such structure,
    crew or step, or the place is off the map's projection.
    """
    workflow = request.workflow or view.workflow
    step = _step(view, request, workflow)
    begin = _begin(view, request, network := network or access_network(view))
    travel = travel_from(network, view.figures, begin.start, closed=closed_rows(view))
    found = next_rows(view, request, step=step, workflow=workflow, travel=travel, now=now)
    listed = found.workable if request.limit is None else found.workable[: request.limit]
    return answer.NextAnswer(
        for_=request.crew,
        step=step,
        as_of=view.as_of.isoformat(),
        when=view.when.words,
        ordered_by="access" if network.has_roads else "line",
        from_=begin.words,
        workable=[_workable_row(view, one, begin, travel, workflow.words(step)) for one in listed],
        refused=[
            answer.RefusedRow(
                line=one.site.line, number=one.site.number, reason=one.reason, sentence=one.sentence
            )
            for one in found.refused
        ],
        workable_count=len(found.workable),
        done_count=len(found.done),
        where=None if begin.where is None else _where_row(begin.where),
        caution=CAUTION,
    )


def next_rows(
    view: JobView,
    request: NextRequest,
    *,
    step: str,
    workflow: Workflow,
    travel: Travel,
    now: dt.datetime,
) -> Next:
    """Judge every structure of the asked line for a step, ordered by the ways of `travel`."""
    at = view.moment(now)
    asked = Asked(
        crew=request.crew,
        step=step,
        workflow=workflow,
        on=view.as_of,
        clock=at.time() if isinstance(at, dt.datetime) else None,
        now=now,
        tickets_kept=bool(view.tickets),
        recorded_by=crews_of_steps(list(done_by(view))),
    )
    return next_structures(sites_of(view, request.line, travel, step=step), asked)


def where_answer(view: JobView, fix: Fix) -> answer.WhereAnswer:
    """Return where a fix lies, told no better than the fix; `NotFound` = off the map's projection."""
    return _where_row(_where(view, fix))


def _step(view: JobView, request: NextRequest, workflow: Workflow) -> str:
    if request.step:
        return _asked_step(request.step, workflow)
    found = step_of_crew(request.crew, done_by(view), workflow)
    if found is None:
        crews = sorted({crew for _, crew in done_by(view) if crew})
        known = f"crews on record: {', '.join(crews)}" if crews else "no crew is on record"
        raise NotFound(
            f"crew {request.crew!r} has no work on record, so its step cannot be told; name the step; {known}"
        )
    return found


def _asked_step(text: str, workflow: Workflow) -> str:
    word = " ".join(text.casefold().split())
    for step in workflow.steps:
        if word in {step.code.casefold(), step.words.casefold()}:
            return step.code
    known = ", ".join(step.code for step in workflow.steps)
    raise NotFound(f"{text!r} is no step of the workflow; use one of {known}")


def _begin(view: JobView, request: NextRequest, network: AccessNetwork) -> _Begin:
    if request.structure:
        row = view.row(request.line, request.structure)
        return _Begin(words=f"from {view.key(row)[1]}", start=start_at(view, row, network))
    if request.fix is not None:
        where = _where(view, request.fix)
        start = Start(line=where.line, along=where.along, easting=where.easting, northing=where.northing)
        return _Begin(words=f"from {where.sentence}", start=start, where=where)
    last = max(
        (
            (state.at, key)
            for key, status in view.statuses.items()
            for state in status.done.values()
            if state.crew.casefold() == request.crew.casefold() and key in view.row_of
        ),
        default=None,
    )
    if last is None and not len(view.figures):
        raise NotFound(view.waits[0].words)
    if last is None:
        words = f"from {view.figures.structures.number[0]}, where the line begins: no place was given"
        return _Begin(words=words, start=start_at(view, 0, network))
    words = f"from {last[1][1]}, the last record of {request.crew}, {date_words(last[0].date())}"
    return _Begin(words=words, start=start_at(view, view.row_of[last[1]], network))


def _where(view: JobView, fix: Fix) -> Where:
    if not view.figures.lines:
        raise NotFound(view.waits[0].words)
    found = where_on_line(
        view.figures,
        view.network,
        view.projection,
        longitude=fix.longitude,
        latitude=fix.latitude,
        accuracy_m=fix.accuracy_m,
        areas=view.context,
    )
    if found is None:
        raise NotFound(
            f"{fix.longitude}, {fix.latitude} lies where the job's projection has no answer; "
            "check the order of longitude and latitude"
        )
    return found


def _workable_row(
    view: JobView, one: Workable, begin: _Begin, travel: Travel, step_words: str
) -> answer.WorkableRow:
    site = one.site
    row = view.row_of[site.line, site.number]
    line = view.figures.line_of(row)
    station = float(view.figures.station[row])
    accuracy_m = begin.where.accuracy_m if begin.where is not None else 0.0
    far = site.travel_m if np.isfinite(site.travel_m) else site.along_m
    distance = length_words(far, line.unit, accuracy_m=accuracy_m) if np.isfinite(far) else "not known"
    bearing = _bearing(view, row, begin, accuracy_m)
    roads, in_all = travel_parts(travel, row, line.unit)
    return answer.WorkableRow(
        line=site.line,
        number=site.number,
        station_text=line.station_text(station),
        why=list(one.why),
        next_step=step_words,
        distance_text=f"{distance}, {begin.where.accuracy_text}" if begin.where is not None else distance,
        length_text=distance,
        bearing_text=", ".join(bearing),
        compass=bearing[0] if bearing else "",
        travel_text=", ".join(filter(None, (roads, in_all))),
        roads_text=roads,
        in_all_text=in_all,
        conditions=list(one.conditions),
    )


def _bearing(view: JobView, row: int, begin: _Begin, accuracy_m: float) -> tuple[str, ...]:
    """Direction in a straight line, as a wind and in degrees; () where the fix cannot tell one."""
    here = view.projection.to_lonlat(begin.start.easting, begin.start.northing)
    there = float(view.figures.longitude[row]), float(view.figures.latitude[row])
    if np.hypot(*(np.asarray(here) - there)) < 1e-7:
        return ()
    metres, azimuth, _ = map(float, geodesic(*here, *there))
    if metres <= 2.0 * accuracy_m:
        return ()
    return _WINDS[round(azimuth / 45.0) % 8], f"{round(azimuth) % 360}° true"


def _where_row(where: Where) -> answer.WhereAnswer:
    return answer.WhereAnswer(
        sentence=where.sentence,
        between=[where.back, where.ahead],
        station_text=where.station_text,
        offset_text=where.offset_text,
        accuracy_text=where.accuracy_text,
    )
