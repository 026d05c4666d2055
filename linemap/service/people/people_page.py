"""The page of people: everybody with their devices, and whom nobody may keep out from there."""

from __future__ import annotations

import datetime as dt

from linemap.answers.office import DeviceAnswer, DeviceState, PeopleAnswer, PersonAnswer
from linemap.domain.record.person import Role, same_words
from linemap.errors import Conflict
from linemap.kinds.registry import HOLDS
from linemap.service.people.people import CODE_LIFE, list_people
from linemap.store.database import Database
from linemap.store.job import load_job
from linemap.store.lists import load_list
from linemap.store.people import DeviceRecord


def people_answer(database: Database, *, here: str, now: dt.datetime) -> PeopleAnswer:
    """Return everybody as the page of people shows them; `here` is the address the page was asked at."""
    people = list_people(database)
    with database.reading() as connection:
        known = str(load_job(connection).settings.get("address") or here)
        offices = {hold.release_by.strip() for hold in load_list(connection, HOLDS)}
    return PeopleAnswer(
        address=known,
        open=not people,
        roles=list(Role),
        offices=sorted(offices - {""}),
        people=[
            PersonAnswer(
                name=person.name,
                role=person.role,
                releases=person.releases,
                crew=person.crew,
                password=person.password_hash is not None,
                kept_out=person.revoked_at is not None,
                devices=[_device_answer(device, now=now) for device in person.devices],
            )
            for person in people
        ],
    )


def _device_answer(device: DeviceRecord, *, now: dt.datetime) -> DeviceAnswer:
    return DeviceAnswer(
        id=device.id,
        label=device.label,
        kind=device.kind,
        state=_state(device, now=now),
        made_at=device.made_at.isoformat(timespec="minutes"),
        last_seen="" if device.last_seen is None else device.last_seen.isoformat(timespec="minutes"),
    )


def _state(device: DeviceRecord, *, now: dt.datetime) -> DeviceState:
    if device.revoked_at is not None:
        return "kept out"
    if device.signed_in_at is None:
        return "link waits" if now - device.made_at < CODE_LIFE else "link too old"
    return "ended" if device.expires_at is not None and device.expires_at <= now else "in use"


def require_manager_left(database: Database, words: str) -> None:
    """Refuse to keep out the last manager who is let in, by name or by number of a device (`Conflict`).

    Who sits at the server can always let somebody in again; who sits at the page could not.
    """
    managers = [
        each for each in list_people(database) if each.role is Role.MANAGER and each.revoked_at is None
    ]
    if len(managers) == 1 and same_words(words) == same_words(managers[0].name):
        raise Conflict(
            f"{managers[0].name} is the only manager who is let in: add another first, or keep them out "
            "by linemap user at the server"
        )
