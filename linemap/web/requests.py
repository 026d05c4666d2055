"""What is sent to the server, read and limited: texts, moments, what decides; units in the names."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from pydantic import (
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    FiniteFloat,
    StringConstraints,
)

from linemap.domain.causes.cause import Answer
from linemap.domain.kind.kind import Code as Kind

#: No control signs: databases cannot store some of them, and nobody can see them; a text may have lines.
_OF_LINE, _OF_TEXT = r"[^\x00-\x1f\x7f]*", r"[^\x00-\x08\x0b-\x1f\x7f]*"
#: A sign that is no blank.
_SIGN = r"[^\x00-\x20\x7f\s]"
ONE_LINE, _NOT_BLANK = rf"^{_OF_LINE}$", rf"^{_OF_LINE}{_SIGN}{_OF_LINE}$"
_NO_CONTROLS = rf"^{_OF_TEXT}$"
OneLine = Annotated[str, StringConstraints(max_length=200, pattern=ONE_LINE)]
Named = Annotated[str, StringConstraints(max_length=200, pattern=_NOT_BLANK)]
Numbered = Annotated[str, StringConstraints(max_length=40, pattern=_NOT_BLANK)]
Note = Annotated[str, StringConstraints(max_length=2000, pattern=_NO_CONTROLS)]
PoleLetter = Literal["", "A", "B", "C"]
_Way = Literal["ahead", "back", ""]
_Length = Annotated[FiniteFloat, Field(ge=-1e6, le=1e6)]
_Height = Annotated[FiniteFloat, Field(ge=0.0, le=1e5)]


def _written(value: object) -> object:
    """Take moments as text only, in years that the arithmetic with time zones bears."""
    if not isinstance(value, str):
        raise ValueError("write the moment as text, like 2026-05-15T07:30:00-06:00")
    if not "1970" <= value[:4] <= "2199":
        raise ValueError("the year must lie between 1970 and 2199")
    return value


WrittenMoment = Annotated[AwareDatetime, BeforeValidator(_written, json_schema_input_type=AwareDatetime)]


class Strict(BaseModel):
    """What is sent holds what is asked for and nothing else."""

    model_config = ConfigDict(extra="forbid")


class DecisionRequest(Strict):
    """An answer to a cause. Its correction is taken from the server's current cause."""

    #: Made by the caller; sending it again records nothing new.
    id: UUID
    cause: Named
    subject: Named
    line: OneLine = ""
    answer: Answer
    who: Named
    note: Note = ""


class AnswerRequest(Strict):
    """What the columns of files of this shape are: field -> heading, or number of the column from 1."""

    by: Named
    kind: Kind
    fields: dict[Named, Annotated[int, Field(ge=1, le=9999)] | Named]


class SignedRequest(Strict):
    """Who begins to bring files, or to undo a change; "" = whoever is signed in."""

    by: OneLine = ""


class ChoicesRequest(Strict):
    """What is said about the files of a proposal; see `Choices`."""

    kind: Kind | Literal[""] = ""
    #: Name of a file -> what it is.
    kinds: Annotated[dict[Named, Kind], Field(max_length=200)] = {}
    label: Annotated[str, StringConstraints(max_length=40, pattern=ONE_LINE)] = ""
    #: Column order of point files without headings: "pnezd" or "penzd".
    shot_order: Annotated[str, StringConstraints(pattern=r"^[a-z]{0,12}$")] = ""
    date_order: Literal["", "mdy", "dmy"] = ""
    crs_of_file: Annotated[str, StringConstraints(max_length=4000, pattern=_NO_CONTROLS)] = ""
    #: A day like 2026-05-15.
    true_from: Annotated[str, StringConstraints(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    ends: Annotated[list[Kind], Field(max_length=50)] = []


class ColumnsRequest(AnswerRequest):
    """What columns of one file of a proposal are; the file is named as it was brought."""

    file: Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=ONE_LINE)]


class AcceptRequest(Strict):
    """A named person's acceptance of what they were shown, which `digest` stands for.

    `removes` are the words of `needs` that they accept one by one.
    """

    digest: Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=ONE_LINE)]
    reason: Annotated[str, StringConstraints(max_length=2000, pattern=rf"^{_OF_TEXT}{_SIGN}{_OF_TEXT}$")]
    removes: Annotated[list[Annotated[str, StringConstraints(max_length=40)]], Field(max_length=50)] = []
    by: Named


class FactRequest(Strict):
    """One fact; beside structure, person and moment only the fields of its `what` are filled.

    brand: pole, pointed_by, length_ft and pole_class (one of the two will do). ground wire: pole, pointed_by.
    arm face: face. tag (a photo with a known direction): pole, looking, side. plumb: pole, three lower and
    three upper values, pole_height. arm level: left_height, right_height, arm_length.
    """

    #: May be "" when the job has one line.
    line: OneLine = ""
    structure: Numbered
    what: Literal["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]
    pole: PoleLetter = ""
    #: The pole that stands in that place, or the one whose tag or shot bears that letter.
    pointed_by: Literal["place", "label", ""] = ""
    length_ft: Annotated[FiniteFloat, Field(gt=0.0, le=300.0)] | None = None
    pole_class: Annotated[str, StringConstraints(max_length=20, pattern=ONE_LINE)] = ""
    face: _Way = ""
    looking: _Way = ""
    side: Literal["left", "right", ""] = ""
    lower_height: _Height | None = None
    lower_along: _Length | None = None
    lower_across: _Length | None = None
    upper_height: _Height | None = None
    upper_along: _Length | None = None
    upper_across: _Length | None = None
    pole_height: _Height | None = None
    left_height: _Length | None = None
    right_height: _Length | None = None
    arm_length: _Height | None = None
    who: Named
    at: WrittenMoment = Field(examples=[dt.datetime(2026, 5, 15, 9, 12, tzinfo=dt.UTC)])
    note: Annotated[str, StringConstraints(max_length=1000, pattern=_NO_CONTROLS)] = ""


class ByLink(Strict):
    """Sign in with the one-time code of a link."""

    code: str = Field(min_length=1, max_length=100)


class ByPassword(Strict):
    """Sign in with name and password, for twelve hours."""

    name: str = Field(min_length=1, max_length=100)
    password: str = Field(min_length=1, max_length=200)


class ReleaseRequest(Strict):
    """The release of a hold: who releases it, what shows that it is over, from when it no longer holds."""

    who: Named
    evidence: Annotated[str, StringConstraints(max_length=2000, pattern=rf"^{_OF_TEXT}{_SIGN}{_OF_TEXT}$")]
    at: AwareDatetime = Field(examples=[dt.datetime(2026, 5, 29, 7, 30, tzinfo=dt.UTC)])
