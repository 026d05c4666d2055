"""What is asked about sessions and holds."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

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


class ReleaseRequest(BaseModel):
    """The release of a hold: who releases it, what shows that it is over, from when it no longer holds."""

    model_config = ConfigDict(extra="forbid")

    who: _Line
    evidence: _Evidence
    at: AwareDatetime = Field(examples=[dt.datetime(2026, 5, 29, 7, 30, tzinfo=dt.UTC)])
