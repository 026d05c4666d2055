"""The surveyor's page and what was seen at structures: exceptions, decisions, facts, red marks."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Query, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.shots import OpenShots, ShotsAlike, ShotsAnswer
from linemap.answers.survey import DecisionAnswer, FactAnswer, Survey
from linemap.service.survey.alike import alike_answer, pattern_like, read_pattern
from linemap.service.survey.bench import AskedOfShots, decide_shots, shots_changed
from linemap.service.survey.chosen_shot import ChosenShot
from linemap.service.survey.open_shots import open_shots_answer
from linemap.service.survey.survey import Observation, fact_changes, record_fact
from linemap.service.survey.survey_page import Asked, decide, survey_answer, verdict_changes
from linemap.web.cache import Answers, AtTime, answered, json_answer
from linemap.web.errors import refusals
from linemap.web.page import render_page
from linemap.web.requests import DecisionRequest, FactRequest
from linemap.web.session import Asking, Now, signed_as
from linemap.web.shot_requests import AlikeRequest, ShotsRequest

router = APIRouter(tags=["survey"], responses=refusals(404, 422))
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_REFUSALS = refusals(400, 403, 404, 409, 413, 422)


@router.get("/survey", response_class=HTMLResponse, summary="The surveyor's page")
def survey_page(request: Request, cache: Answers) -> Response:
    """Return the page of exceptions, causes and decisions."""
    view = cache.view()
    return render_page(request, "survey.html", title=view.name, waits=view.waits)


@router.get("/api/survey", response_model=Survey, summary="Exceptions of the survey under their causes")
def survey(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return the declared datum, causes, exceptions, decisions that stand, and the history."""
    return answered(request, cache, when, "survey", survey_answer)


@router.post(
    "/api/decisions",
    status_code=201,
    response_model=DecisionAnswer,
    responses={200: {"model": DecisionAnswer}, **_REFUSALS},
    summary="Accept, reject, ask evidence for, or withdraw a cause",
)
def decisions(cache: Answers, asking: Asking, asked: Annotated[DecisionRequest, Body()]) -> Response:
    """Record a named person's answer; sent again under its id it answers 200 and records nothing."""
    before = cache.view()
    who = signed_as(asking, asked.who)
    given = Asked(**{**asked.model_dump(), "id": str(asked.id), "who": who})
    recorded = decide(cache.database, before, given, at=dt.datetime.now().astimezone())
    after = cache.view()
    body = DecisionAnswer(
        id=given.id,
        recorded=recorded,
        data_version=after.data_version,
        **vars(verdict_changes(before, after)),
    )
    return json_answer(body, status=201 if recorded else 200)


@router.get(
    "/api/survey/shots", response_model=OpenShots, summary="Shots that nothing uses as they were read"
)
def shots(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return the bench for shots: what became of each, the poles near it, and what was decided about it."""
    return answered(request, cache, when, "open shots", open_shots_answer)


@router.get(
    "/api/survey/shots/alike",
    response_model=ShotsAlike,
    responses=refusals(404, 422),
    summary="What a pattern would read, or the pattern of one shot's description",
)
def shots_alike(cache: Answers, asked: Annotated[AlikeRequest, Query()]) -> Response:
    """Return the shots that nothing else reads and a pattern would, before anybody decides."""
    view = cache.view()
    if asked.pattern:
        pattern = read_pattern(asked.pattern)
    else:
        example = asked.model_dump(exclude={"pattern", "only"})
        pattern = pattern_like(view, ChosenShot(**example))
    return json_answer(alike_answer(view, pattern, file=asked.only), headers={"cache-control": "no-store"})


@router.post(
    "/api/survey/shots",
    status_code=201,
    response_model=ShotsAnswer,
    responses={200: {"model": ShotsAnswer}, **_REFUSALS},
    summary="Assign shots, set them aside, or take that back",
)
def decide_about_shots(cache: Answers, asking: Asking, asked: Annotated[ShotsRequest, Body()]) -> Response:
    """Record what a person says of shots; sent again under its id it answers 200 and records nothing."""
    before = cache.view()
    given = AskedOfShots(
        id=str(asked.id),
        what=asked.what,
        shots=tuple(ChosenShot(**shot.model_dump()) for shot in asked.shots),
        pattern=asked.pattern,
        file=asked.file,
        decisions=tuple(map(str, asked.decisions)),
        who=signed_as(asking, asked.who),
        note=asked.note,
    )
    decisions, recorded = decide_shots(cache.database, before, given, at=dt.datetime.now().astimezone())
    after = cache.view()
    body = ShotsAnswer(
        id=given.id,
        recorded=recorded,
        data_version=after.data_version,
        **vars(shots_changed(before, after, decisions)),
    )
    return json_answer(body, status=201 if recorded else 200)


_SAID = frozenset({"line", "structure", "what", "who", "at", "note"})


@router.post(
    "/api/facts",
    status_code=201,
    response_model=FactAnswer,
    responses={200: {"model": FactAnswer}, **_REFUSALS},
    summary="Record one thing seen at a structure",
)
def record(cache: Answers, asking: Asking, now: Now, given: Annotated[FactRequest, Body()]) -> Response:
    """Record a fact for good and say what it changes; the very same one again answers 200."""
    before = cache.view()
    seen = Observation(
        line=given.line,
        structure=given.structure,
        what=given.what,
        values=given.model_dump(exclude=set(_SAID)),
        who=signed_as(asking, given.who),
        at=given.at,
        note=given.note,
    )
    fact, recorded = record_fact(cache.database, before, seen, now=now)
    after = cache.view()
    body = FactAnswer(
        recorded=recorded, data_version=after.data_version, **vars(fact_changes(before, after, fact))
    )
    return json_answer(body, status=201 if recorded else 200)
