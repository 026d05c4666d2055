"""Claims of structures by crews, and job briefings."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.responses import Response

from linemap.answers import record as answer
from linemap.domain.record.claim import Briefed, Claim, StandingClaim
from linemap.errors import InputRefused
from linemap.service.record.claims import claims_now, record_briefing, record_claim
from linemap.web.cache import json_answer
from linemap.web.models.record import BriefingRequest, ClaimRequest
from linemap.web.recorder import REFUSALS, Recorder, recorder

router = APIRouter(prefix="/api", tags=["record"], responses=REFUSALS)
_Recorder = Annotated[Recorder, Depends(recorder)]


@router.post(
    "/claims",
    response_model=answer.ClaimAnswer,
    responses={201: {"model": answer.ClaimAnswer, "description": "Recorded"}},
    summary="Claim a structure for a crew",
)
def post_claim(said: ClaimRequest, recording: _Recorder) -> Response:
    """Record a claim. Claims of other crews for the same structure come back with it; none is taken out."""
    standing, new = record_claim(recording.database, recording.known, _claim(said, recording))
    body = answer.ClaimAnswer(
        id=str(said.id),
        recorded=new,
        data_version=recording.cache.data_version(),
        claim=None if standing is None else _shape(standing),
    )
    return json_answer(body, status=201 if new else 200)


@router.get("/claims", response_model=answer.ClaimList, summary="Claims that have not ended")
def get_claims(recording: _Recorder) -> Response:
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
def post_briefing(said: BriefingRequest, recording: _Recorder) -> Response:
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
