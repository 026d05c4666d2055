"""The holds of a job and their release by whom they name."""

from __future__ import annotations

import datetime as dt

from linemap.answers import crew as answer
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease, apply_releases, may_release, same_hold
from linemap.domain.record.person import Person
from linemap.errors import Conflict, InputRefused, NotAllowed, NotFound
from linemap.kinds.registry import HOLDS
from linemap.service.view.view import CAUTION, JobView
from linemap.store.crew import add_release, load_releases
from linemap.store.database import Database
from linemap.store.lists import load_list

#: A device's clock may run ahead by so much; a later release would lift the hold before its time.
_AHEAD = dt.timedelta(minutes=5)


def holds_answer(view: JobView, person: Person) -> answer.HoldList:
    """Return all holds in the order of their list, each with its releases and whether it is this person's."""
    return answer.HoldList(
        data_version=view.data_version,
        as_of=view.as_of.isoformat(),
        when=view.when.words,
        caution=CAUTION,
        holds=[_hold(view, hold, person) for hold in view.holds],
    )


def release_hold(
    database: Database,
    hold_id: str,
    *,
    person: Person,
    who: str,
    evidence: str,
    at: dt.datetime,
    now: dt.datetime,
) -> HoldRelease:
    """Record that a hold is released, for good, by the one it names ("release by").

    `who` signs, `evidence` shows that the hold is over, from `at` on it no longer holds.

    Raises
    ------
    NotFound, Conflict
        If the job has no such hold, several with this identifier, or it is released already.
    NotAllowed
        If the hold names somebody else than `person`.
    InputRefused
        If the time lies ahead.
    """
    if at > now + _AHEAD:
        raise InputRefused.at("at", at.isoformat(), "lies in the future", "release the hold when it is over")
    with database.writing() as connection:
        releases = load_releases(connection)
        hold = _only(apply_releases(load_list(connection, HOLDS), releases), hold_id)
        _check_may(hold, person)
        if hold.released_on is not None:
            raise Conflict(
                f"hold {hold_id} was released on {hold.released_on.isoformat()}; look at its history"
            )
        release = HoldRelease(
            hold=hold,
            who=who,
            role=person.role,
            device=person.device,
            evidence=evidence,
            at=at,
            recorded_at=now,
        )
        add_release(connection, release)
    return release


def _only(holds: tuple[Hold, ...], hold_id: str) -> Hold:
    found = [hold for hold in holds if hold.id == hold_id]
    if not found:
        raise NotFound(f"the job has no hold {hold_id}")
    if len(found) > 1:
        raise Conflict(f"the list has {len(found)} holds {hold_id}; give each an identifier of its own")
    return found[0]


def _check_may(hold: Hold, person: Person) -> None:
    if may_release(hold, person):
        return
    named = hold.release_by.strip() or "the manager"
    raise NotAllowed(
        f"hold {hold.id} is to be released by {named}, and {person.name} ({person.role}) is not; "
        f"who is: linemap user JOB add NAME --role ROLE --releases {named!r}"
    )


def _hold(view: JobView, hold: Hold, person: Person) -> answer.HoldRecord:
    return answer.HoldRecord(
        id=hold.id,
        line=hold.line,
        sentence=hold.sentence(),
        conditional=hold.conditional,
        in_force=hold.active(view.as_of),
        release_by=hold.release_by,
        yours_to_release=hold.released_on is None and may_release(hold, person),
        releases=[_release(each) for each in view.releases if same_hold(each.hold, hold)],
    )


def _release(release: HoldRelease) -> answer.Release:
    return answer.Release(
        who=release.who,
        role=release.role.value,
        evidence=release.evidence,
        at=release.at.isoformat(),
        recorded_at=release.recorded_at.isoformat(),
    )
