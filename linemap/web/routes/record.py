"""Records of the field, claims and job briefings: taken from phones once each, given back in order."""

from __future__ import annotations

import asyncio
import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import ValidationError
from starlette.responses import Response

from linemap.answers import record as answer
from linemap.answers.record import EventList, EventResults, ListedEvent
from linemap.domain.record.chain import canonical_json, event_values
from linemap.domain.record.claim import Briefed, Claim, StandingClaim
from linemap.domain.record.event import Event
from linemap.domain.record.reading import Reading, make_reading, put_in_order
from linemap.errors import InputRefused
from linemap.service.record.claims import claims_now, record_briefing, record_claim
from linemap.service.record.known import Known
from linemap.service.record.record import Refused
from linemap.store.events import since as events_since
from linemap.web.cache import json_answer
from linemap.web.record_requests import BriefingRequest, ClaimRequest, EventBatch, EventRequest
from linemap.web.recorder import REFUSALS, Recorder, Recording

router = APIRouter(prefix="/api", tags=["record"], responses=REFUSALS)

#: Characters of an identifier that could not be read, for the answer.
_SHOWN = 64


@router.post("/events", response_model=EventResults, summary="Send records of the field")
async def post_events(batch: EventBatch, recording: Recording) -> Response:
    """Store what is new, each record exactly once.

    A record that can be understood is kept: what is odd about it comes back as findings. One that names no
    structure of the job, cannot be read, or has the identifier of another one is refused alone.
    """
    skew = (batch.sent_at - recording.now).total_seconds()

    def prepare() -> tuple[Known, list[Event | Refused]]:
        return recording.known, [_reported(said, recording, skew) for said in batch.events]

    stored = await asyncio.wrap_future(recording.turns.record(prepare))
    body = EventResults(
        received_at=recording.now.astimezone(dt.UTC).isoformat(),
        skew_s=round(skew, 3),
        data_version=stored.data_version,
        results=stored.outcomes,
    )
    return json_answer(body)


@router.get("/events", response_model=EventList, summary="Events in the order of receipt")
def get_events(
    recording: Recording,
    since: Annotated[int, Query(ge=0, le=2**53, description="give events after this place; 0 = all")] = 0,
    limit: Annotated[int, Query(ge=1, le=1000, description="events at most")] = 500,
) -> Response:
    """Return events after a place in the order of receipt, with their links in the chain of hashes."""
    with recording.database.reading() as connection:
        found = events_since(connection, since, limit=limit + 1)
    body = EventList(
        data_version=recording.cache.data_version(),
        events=[
            ListedEvent(seq=each.seq, hash=each.chain_hash, event=event_values(each.event))
            for each in found[:limit]
        ],
        more=len(found) > limit,
    )
    return json_answer(body)


def _reported(said: object, recording: Recorder, skew_s: float) -> Event | Refused:
    try:
        asked = EventRequest.model_validate(said)
        if asked.job not in {"", recording.identity}:
            return Refused(
                id=str(asked.id), why="it was recorded for another job; send it where that is served"
            )
        event = _event(asked, recording, skew_s)
        why = recording.why_not(event)
        return Refused(id=event.id, why=_printable(why)) if why else event
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        return Refused(id=_identifier(said), why=_printable(f"{where}: {first['msg']}".lstrip(": ")))
    except (ValueError, OverflowError) as error:
        return Refused(id=_identifier(said), why=_printable(str(error)))


def _event(said: EventRequest, recording: Recorder, skew_s: float) -> Event:
    position, wind = said.position, said.wind
    signing = recording.signing(said, skew_s=skew_s)
    return Event(
        id=str(said.id),
        line=said.line,
        structure=said.structure,
        pole=said.pole,
        step=said.step.strip(),
        what=said.what,
        part=said.part.strip(),
        result=said.result,
        happened_at=said.happened_at,
        received_at=recording.now,
        crew=said.crew.strip(),
        **signing._asdict(),
        content=canonical_json(said.content) if said.content else "",
        note=said.note,
        longitude=None if position is None else position.longitude,
        latitude=None if position is None else position.latitude,
        accuracy_m=None if position is None else position.accuracy_m,
        revision_seen=said.revision_seen,
        supersedes=str(said.supersedes),
        brand_seen=said.brand_seen,
        wind_speed_mph=None if wind is None else wind.speed_mph,
        wind_gust_mph=None if wind is None else wind.gust_mph,
        photos=tuple(map(str, said.photos)),
        readings=_readings(said),
        skew_s=round(skew_s, 3),
    )


def _readings(said: EventRequest) -> tuple[Reading, ...]:
    made = [make_reading(one.name, one.value, unit=one.unit, pole=one.pole) for one in said.readings]
    in_order = put_in_order(made, pole=said.pole)
    names = {reading.name for reading in in_order}
    if said.wind is not None and names & {"wind", "gust"}:
        raise ValueError("the wind is given twice, as wind and among the readings; leave one out")
    if said.brand_seen and "brand" in names:
        raise ValueError("the brand is given twice, as brand_seen and among the readings; leave one out")
    return in_order


def _identifier(said: object) -> str:
    found = said.get("id") if isinstance(said, dict) else None
    return _printable(found)[:_SHOWN] if isinstance(found, str) else ""


def _printable(text: str) -> str:
    """Return text that can be written as UTF-8, whatever came in."""
    return text.encode("utf-8", "replace").decode("utf-8")


@router.post(
    "/claims",
    response_model=answer.ClaimAnswer,
    responses={201: {"model": answer.ClaimAnswer, "description": "Recorded"}},
    summary="Claim a structure for a crew",
)
def post_claim(said: ClaimRequest, recording: Recording) -> Response:
    """Record a claim. Claims of other crews for the same structure come back with it; none is taken out."""
    standing, new = record_claim(
        recording.database, recording.known, _claim(said, recording), person=recording.person
    )
    body = answer.ClaimAnswer(
        id=str(said.id),
        recorded=new,
        data_version=recording.cache.data_version(),
        claim=None if standing is None else _shape(standing),
    )
    return json_answer(body, status=201 if new else 200)


@router.get("/claims", response_model=answer.ClaimList, summary="Claims that have not ended")
def get_claims(recording: Recording) -> Response:
    """Return the claims that have not ended, each with those it meets."""
    body = answer.ClaimList(
        data_version=recording.cache.data_version(),
        server_time=_text(recording.now),
        claims=[_shape(each) for each in claims_now(recording.database, now=recording.now)],
    )
    return json_answer(body, headers={"cache-control": "no-store"})


@router.post(
    "/briefings",
    response_model=answer.BriefingAnswer,
    responses={201: {"model": answer.BriefingAnswer, "description": "Recorded"}},
    summary="Record that a job briefing was held",
)
def post_briefing(said: BriefingRequest, recording: Recording) -> Response:
    """Record a briefing. It approves nothing; subjects of which nothing is written down come back."""
    briefed = Briefed(
        id=str(said.id),
        line=said.line,
        structure=said.structure,
        at=said.at,
        received_at=recording.now,
        person_in_charge=said.person_in_charge.strip(),
        **said.subjects.model_dump(),
    )
    briefed, new = record_briefing(recording.database, recording.known, briefed)
    body = answer.BriefingAnswer(
        id=briefed.id,
        line=briefed.line,
        structure=briefed.structure,
        recorded=new,
        data_version=recording.cache.data_version(),
        not_covered=list(briefed.not_covered),
    )
    return json_answer(body, status=201 if new else 200)


def _claim(said: ClaimRequest, recording: Recorder) -> Claim:
    try:
        return Claim(
            id=str(said.id),
            line=said.line,
            structure=said.structure,
            crew=said.crew.strip(),
            device=recording.device(said.device.strip()),
            who=recording.sender,
            made_at=said.made_at,
            expires_at=said.expires_at,
            received_at=recording.now,
        )
    except ValueError as error:
        raise InputRefused.at("expires_at", "", str(error)) from None


def _shape(standing: StandingClaim) -> answer.StandingClaim:
    claim = standing.claim
    return answer.StandingClaim(
        id=claim.id,
        line=claim.line,
        structure=claim.structure,
        crew=claim.crew,
        device=claim.device,
        made_at=_text(claim.made_at),
        expires_at=_text(claim.ends),
        received_at=_text(claim.received_at),
        made_offline=claim.made_offline,
        others=[
            answer.OtherClaim(
                id=other.id, crew=other.crew, made_at=_text(other.made_at), expires_at=_text(other.ends)
            )
            for other in standing.others
        ],
        sentence=standing.sentence,
    )


def _text(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat()
