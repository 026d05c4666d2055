"""Shapes of the answers about people, sessions and holds."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

from linemap.domain.record.person import Role

__all__ = ["ByLink", "ByPassword", "HoldList", "ReleaseAnswer", "ReleaseRequest", "Session"]

#: One line of text without control characters that holds more than blanks.
_Line = Annotated[
    str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f\s][^\x00-\x1f\x7f]*$")
]
_Evidence = Annotated[
    str,
    StringConstraints(
        max_length=2000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*[^\x00-\x20\x7f\s][^\x00-\x08\x0b-\x1f\x7f]*$"
    ),
]


class ByLink(BaseModel):
    """Sign in with the one-time code of a link."""

    model_config = ConfigDict(extra="forbid")

    code: str = Field(min_length=1, max_length=100)


class ByPassword(BaseModel):
    """Sign in with name and password, for twelve hours."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(min_length=1, max_length=100)
    password: str = Field(min_length=1, max_length=200)


class Session(BaseModel):
    """Who asks. `name`, `role` and `device` are "" or null when nobody is signed in."""

    signed_in: bool
    name: str
    role: Role | None
    device: str
    #: True at the machine of a job that has no people yet.
    local: bool


class Release(BaseModel):
    """One release of a hold. `at` and `recorded_at` are ISO 8601 with offset."""

    who: str
    role: str
    evidence: str
    at: str
    recorded_at: str


class HoldRecord(BaseModel):
    """One hold with its history."""

    id: str
    line: str
    sentence: str
    conditional: bool
    #: True when it is in force on the day the job is shown for.
    in_force: bool
    release_by: str
    #: True when whoever asks is the one who releases it.
    yours_to_release: bool
    releases: list[Release]


class HoldList(BaseModel):
    """All holds of the job, released ones included."""

    data_version: int
    as_of: str
    caution: str
    holds: list[HoldRecord]


class ReleaseRequest(BaseModel):
    """The release of a hold: who releases it, what shows that it is over, from when it no longer holds."""

    model_config = ConfigDict(extra="forbid")

    who: _Line
    evidence: _Evidence
    at: AwareDatetime = Field(examples=[dt.datetime(2026, 5, 29, 7, 30, tzinfo=dt.UTC)])


class ReleaseAnswer(BaseModel):
    """What was recorded."""

    id: str
    sentence: str
    data_version: int
