"""What the office sends: declarations, a job to be made, people and whom to keep out; read and limited."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field, StringConstraints

from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.person import Role
from linemap.web.requests import ONE_LINE, Named, Note, OneLine, Strict


class DeclaredChange(Strict):
    """One setting, or one part of one that has parts, and what is declared of it; "" takes it back."""

    name: Named
    part: OneLine = ""
    text: Note


class DeclareRequest(Strict):
    """What somebody declares, and the document it comes from; all of it or nothing is kept."""

    changes: Annotated[list[DeclaredChange], Field(min_length=1, max_length=200)]
    who: Named
    source: OneLine = ""
    #: Day from which it is true, not one that lies ahead; null = from now.
    true_from: dt.date | None = None


class MakeRequest(Strict):
    """A job to be made: what is declared of it by the names of its settings, and by whom."""

    declared: Annotated[dict[Named, Note], Field(max_length=100)]
    who: Named


class LookRequest(Strict):
    """How the files brought for a job to be made are looked at."""

    #: Coordinate reference that is tried; "" = none, the coordinates are drawn as they are written.
    crs: Note = ""
    #: Name of a file -> what it is.
    kinds: Annotated[dict[Named, Kind], Field(max_length=200, default_factory=dict)]


class OpenRequest(Strict):
    """A job of the folder to be opened."""

    job: Named


class PersonRequest(Strict):
    """Somebody who may sign in, or a new device, role or password of somebody who may."""

    name: Named
    role: Role
    #: Label of the phone; "" with a password = no new device.
    device: Annotated[str, StringConstraints(max_length=100, pattern=ONE_LINE)] = ""
    #: Offices they hold when holds are released; none given = as before.
    releases: Annotated[tuple[Named, ...], Field(max_length=20)] = ()
    #: Crew they claim structures for; "" = any, or as before.
    crew: Annotated[str, StringConstraints(max_length=100, pattern=ONE_LINE)] = ""
    #: For a desktop; "" = none, or as before.
    password: Annotated[str, StringConstraints(max_length=200)] = ""
    #: Address the phones reach the server at; "" = as before. It is remembered.
    address: Annotated[str, StringConstraints(max_length=200, pattern=r"^(https?://[^\s/#?]+/?)?$")] = ""


class KeepOutRequest(Strict):
    """A person by name, or one device by its number, who is let in no longer."""

    name: OneLine = ""
    device: Annotated[int, Field(ge=1, le=2**63 - 1)] | None = None
