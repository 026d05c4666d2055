"""Claims and briefings that phones send, and the job-briefing sheet of one structure."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from linemap.domain.crew.briefing import Briefing, briefing
from linemap.domain.crew.emergency import NO_HOSPITAL
from linemap.domain.crew.wind import wind_words
from linemap.domain.record.claim import Briefed, Claim, StandingClaim, standing_claims, why_not_claimed
from linemap.domain.record.person import Person
from linemap.errors import InputRefused
from linemap.service.record.known import Known, locate_record
from linemap.service.view.help import help_words
from linemap.service.view.recorded import in_kilometres
from linemap.service.view.structure import dated_holds
from linemap.service.view.view import JobView
from linemap.store.crew import add_briefing, add_claim, load_claims
from linemap.store.database import Database


def record_claim(
    database: Database, known: Known, claim: Claim, *, person: Person | None = None
) -> tuple[StandingClaim | None, bool]:
    """Store a claim that `person` brings; return it as it stands now, None = ended, and whether it was new.

    A structure the job has not is refused, and so is a crew that is not the person's own; an
    identifier of another claim is a `Conflict`.
    """
    why = why_not_claimed(claim, person)
    if why:
        raise InputRefused.at("crew", claim.crew, why)
    line, structure = _located(known, claim.line, claim.structure)
    claim = replace(claim, line=line, structure=structure)
    with database.writing() as connection:
        new = add_claim(connection, claim)
        claims = load_claims(connection)
    standing = standing_claims(claims, now=claim.received_at)
    return next((each for each in standing if each.claim.id == claim.id), None), new


def claims_now(database: Database, *, now: dt.datetime) -> tuple[StandingClaim, ...]:
    """Return the claims that have not ended, each with those it meets."""
    with database.reading() as connection:
        claims = load_claims(connection)
    return standing_claims(claims, now=now)


def record_briefing(database: Database, known: Known, briefed: Briefed) -> tuple[Briefed, bool]:
    """Store a briefing; return it with the structure in its one spelling, and whether it was new.

    A structure the job has not is refused; an identifier of another briefing is a `Conflict`.
    """
    line, structure = _located(known, briefed.line, briefed.structure)
    briefed = replace(briefed, line=line, structure=structure)
    with database.writing() as connection:
        return briefed, add_briefing(connection, briefed)


def _located(known: Known, line: str, structure: str) -> tuple[str, str]:
    try:
        return locate_record(known, line, structure)[0]
    except ValueError as error:
        raise InputRefused.at("structure", structure, str(error)) from None


def briefing_sheet(view: JobView, line: str, number: str) -> Briefing:
    """Return the content of the sheet; the lines to write on are the page's."""
    row = view.row(line, number)
    return briefing(
        view.figures,
        row,
        crossings=view.crossings,
        features=view.context,
        holds=dated_holds(view, row),
        poles=view.poles_by_structure.get(view.key(row), ()),
        wind=wind_words(view.wind_limits, metric=in_kilometres(view)),
        help=help_words(view, row) or NO_HOSPITAL,
    )
