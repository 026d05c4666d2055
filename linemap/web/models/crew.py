"""Shapes of the answers to a crew: where to next by the records, where it stands; texts carry their units."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, Field

__all__ = ["NextAnswer", "WhereAnswer"]


class WhereAnswer(BaseModel):
    """Where a fix lies on the line. It tells which structure, never which pole."""

    sentence: str
    #: Numbers behind and ahead, "" beyond the last one.
    between: list[str] = Field(min_length=2, max_length=2)
    station_text: str
    offset_text: str
    accuracy_text: str


class WorkableRow(BaseModel):
    """A structure that no record keeps the crew from. It permits nothing."""

    line: str
    number: str
    station_text: str
    why: list[str]
    next_step: str
    distance_text: str
    #: Straight direction, "" where the fix cannot tell one.
    bearing_text: str
    travel_text: str
    #: What must be there or seen to for the work to go on.
    conditions: list[str]


class RefusedRow(BaseModel):
    """A structure that some record keeps the crew from, in one sentence."""

    line: str
    number: str
    sentence: str


class NextAnswer(BaseModel):
    """Where a crew may go next by the records, nearest first."""

    for_: str = Field(alias="for")
    step: str
    as_of: str
    ordered_by: Literal["access", "line"]
    from_: str = Field(alias="from")
    workable: list[WorkableRow]
    refused: list[RefusedRow]
    #: All workable structures, those beyond the limit included.
    workable_count: int
    done_count: int
    where: WhereAnswer | None
    caution: str
