"""Decisions on causes, things seen at structures, answers about columns; lengths in the line's unit."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, StringConstraints

from linemap.domain.causes.decision import Answer
from linemap.domain.kind.kind import Code as Kind
from linemap.web.models.record import WrittenMoment

_ONE_LINE = r"^[^\x00-\x1f\x7f]*$"
_NOT_BLANK = r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f\s][^\x00-\x1f\x7f]*$"
_NO_CONTROLS = r"^[^\x00-\x08\x0b-\x1f\x7f]*$"
_Line = Annotated[str, StringConstraints(max_length=200, pattern=_ONE_LINE)]
_Named = Annotated[str, StringConstraints(max_length=200, pattern=_NOT_BLANK)]
_Number = Annotated[str, StringConstraints(max_length=40, pattern=_NOT_BLANK)]
_Note = Annotated[str, StringConstraints(max_length=2000, pattern=_NO_CONTROLS)]
_Way = Literal["ahead", "back", ""]
_Length = Annotated[FiniteFloat, Field(ge=-1e6, le=1e6)]
_Height = Annotated[FiniteFloat, Field(ge=0.0, le=1e5)]


class DecisionRequest(BaseModel):
    """An answer to a cause. Its correction is taken from the server's current cause."""

    model_config = ConfigDict(extra="forbid")

    #: Made by the caller; sending it again records nothing new.
    id: UUID
    cause: _Named
    subject: _Named
    line: _Line = ""
    answer: Answer
    who: _Named
    note: _Note = ""


class AnswerRequest(BaseModel):
    """What the columns of files of this shape are: field -> heading, or number of the column from 1."""

    model_config = ConfigDict(extra="forbid")

    by: _Named
    kind: Kind
    fields: dict[_Named, Annotated[int, Field(ge=1, le=9999)] | _Named]


class FactRequest(BaseModel):
    """One fact; beside structure, person and moment only the fields of its `what` are filled.

    brand: pole, pointed_by, length_ft and pole_class (one of the two will do). ground wire: pole, pointed_by.
    arm face: face. tag (a photo with a known direction): pole, looking, side. plumb: pole, three lower and
    three upper values, pole_height. arm level: left_height, right_height, arm_length.
    """

    model_config = ConfigDict(extra="forbid")

    #: May be "" when the job has one line.
    line: _Line = ""
    structure: _Number
    what: Literal["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]
    pole: Literal["A", "B", "C", ""] = ""
    #: The pole that stands in that place, or the one whose tag or shot bears that letter.
    pointed_by: Literal["place", "label", ""] = ""
    length_ft: Annotated[FiniteFloat, Field(gt=0.0, le=300.0)] | None = None
    pole_class: Annotated[str, StringConstraints(max_length=20, pattern=_ONE_LINE)] = ""
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
    who: _Named
    at: WrittenMoment = Field(examples=[dt.datetime(2026, 5, 15, 9, 12, tzinfo=dt.UTC)])
    note: Annotated[str, StringConstraints(max_length=1000, pattern=_NO_CONTROLS)] = ""
