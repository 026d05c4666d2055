"""What is sent about shots: what they are of, that they are not to be used, what is described alike."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints

from linemap.domain.survey.open_shots import Deed
from linemap.domain.survey.shot import ShotItem
from linemap.web.requests import ONE_LINE, Named, Note, OneLine, PoleLetter, Strict


class ShotRequest(Strict):
    """A shot by file and row; where it is assigned, what it is of."""

    file: Annotated[str, StringConstraints(max_length=200, pattern=ONE_LINE)]
    row: Annotated[int, Field(ge=0, le=2**31 - 1)]
    #: Point; may be "" where one shot alone is in that row of files of that name.
    point: OneLine = ""
    #: May be "" when the job has one line.
    line: OneLine = ""
    #: "" = of no structure; in any spelling.
    structure: Annotated[str, StringConstraints(max_length=40, pattern=ONE_LINE)] = ""
    pole: PoleLetter = ""
    item: ShotItem = "pole"


class AlikeRequest(ShotRequest):
    """A pattern, or a shot with what it is said to be of, by which others are read alike."""

    file: Annotated[str, StringConstraints(max_length=200, pattern=ONE_LINE)] = ""
    row: Annotated[int, Field(ge=0, le=2**31 - 1)] = 0
    #: "" = that of the shot's description.
    pattern: OneLine
    #: Only shots of this file; "" = of all.
    only: OneLine = ""


class ShotsRequest(Strict):
    """What a person says of shots: what they are of, that they are not to be used, or neither any more."""

    #: Made by the caller; sending it again records nothing new.
    id: UUID
    what: Deed
    shots: Annotated[list[ShotRequest], Field(max_length=400, default_factory=list)]
    #: Instead of shots: how those that are assigned are described, later ones too; "" = none.
    pattern: OneLine = ""
    #: Only of this file; "" = of all.
    file: OneLine = ""
    #: Identifiers of the decisions that are taken back.
    decisions: Annotated[list[UUID], Field(max_length=400, default_factory=list)]
    who: Named
    #: Why; whoever sets shots aside says it.
    note: Note = ""
