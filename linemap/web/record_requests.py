"""Records that phones send, read and limited: events with readings, claims, briefings; units in the names."""

from __future__ import annotations

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import (
    Field,
    FiniteFloat,
    SkipValidation,
    StrictBool,
    StringConstraints,
    ValidationError,
    ValidatorFunctionWrapHandler,
    WrapValidator,
)

from linemap.domain.record.event import What
from linemap.domain.record.reading_type import READINGS
from linemap.web.requests import (
    ONE_LINE,
    Named,
    Note,
    Numbered,
    OneLine,
    PoleLetter,
    Strict,
    WrittenMoment,
)

_Counted = Annotated[float, Field(strict=True, allow_inf_nan=False)]
_Measure = Annotated[FiniteFloat, Field(ge=0.0, le=1e6)]


class Position(Strict):
    """A fix of the device, WGS 84 degrees, and the radius it gives it in metres (null = none)."""

    longitude: Annotated[FiniteFloat, Field(ge=-180.0, le=180.0)]
    latitude: Annotated[FiniteFloat, Field(ge=-90.0, le=90.0)]
    accuracy_m: _Measure | None = None


class Wind(Strict):
    """Wind as the recorder entered it, miles an hour; nothing is decided by it."""

    speed_mph: _Measure
    gust_mph: _Measure | None = None


def _one_value(value: object, check: ValidatorFunctionWrapHandler) -> object:
    """Say once what a value must be, not once for each type it may have."""
    try:
        return check(value)
    except ValidationError:
        shown = repr(value)[:60]
        raise ValueError(f"{shown} is no number, no yes or no (true or false) and no line of text") from None


class ReadingRequest(Strict):
    """One thing measured or seen: a number with its unit, a yes or no, or a text.

    `name` is one of those the field index declares under `readings`, with its units, limits and poles.
    """

    name: Annotated[str, Field(json_schema_extra={"enum": list(READINGS)})]
    value: Annotated[StrictBool | _Counted | OneLine, WrapValidator(_one_value)]
    #: "" = the first of its units.
    unit: Annotated[str, StringConstraints(max_length=20, pattern=ONE_LINE)] = ""
    #: Of which pole; "" = what the record is about.
    pole: PoleLetter = ""


class EventRequest(Strict):
    """One record. `id` is made where it is recorded; sending it again changes nothing."""

    id: UUID
    #: Identity of the job it was recorded for; "" = it does not say.
    job: OneLine = ""
    #: May be "" when the job has one line.
    line: OneLine = ""
    structure: Numbered
    #: "" = the whole structure.
    pole: PoleLetter = ""
    #: Code of a step of the workflow; "" = none, of what is no step.
    step: Annotated[str, StringConstraints(max_length=80, pattern=ONE_LINE)] = ""
    what: What = "step"
    #: Guy, span or item within the structure; "" = none.
    part: OneLine = ""
    result: Literal["done", "rejected", "withdrawn"] = "done"
    #: By the clock of the device.
    happened_at: WrittenMoment
    crew: OneLine = ""
    actor: OneLine = ""
    device: OneLine = ""
    #: Who was signed in on the device when it was recorded; "" = it does not say.
    signed_by: OneLine = ""
    #: Mark of the sign-in it was made under, as `/api/session` gives it: proves `signed_by`. "" = nobody was
    #: signed in there; null = it does not say, so whoever sends it made it.
    mark: Annotated[str, StringConstraints(max_length=60, pattern=ONE_LINE)] | None = None
    position: Position | None = None
    #: Revision of the structure list the recorder was looking at.
    revision_seen: OneLine = ""
    #: Identifier of the record this one corrects; "" = none.
    supersedes: UUID | Literal[""] = ""
    #: Same as the reading "brand" of the record's own pole; "" = none.
    brand_seen: OneLine = ""
    #: Same as the readings "wind" and "gust" in mph; null = none.
    wind: Wind | None = None
    #: Proves nothing: what was measured or seen belongs into `readings`.
    note: Note = ""
    #: Each reading once a pole.
    readings: list[ReadingRequest] = Field(default=[], max_length=40)
    #: What only this kind of record has.
    content: dict[str, Any] = Field(default={})
    #: Identifiers of photos that follow.
    photos: list[UUID] = Field(default=[], max_length=20)


class EventBatch(Strict):
    """Records of one device. Each is judged alone: one that cannot be read does not stop the others."""

    #: The device's clock when it sends, by which the error of that clock is told.
    sent_at: WrittenMoment
    events: Annotated[list[SkipValidation[EventRequest]], Field(min_length=1, max_length=1000)]


class ClaimRequest(Strict):
    """A crew says that it will work at a structure. It ends by itself, at most 14 days later."""

    id: UUID
    line: OneLine = ""
    structure: Numbered
    crew: Named
    made_at: WrittenMoment
    expires_at: WrittenMoment
    device: OneLine = ""


class Subjects(Strict):
    """What was said of the five subjects of 29 CFR 1926.952(b); "" = nothing written down."""

    hazards: Note = ""
    procedures: Note = ""
    precautions: Note = ""
    energy_sources: Note = ""
    ppe: Note = ""


class BriefingRequest(Strict):
    """That a job briefing was held. The record approves nothing and its absence stops nothing."""

    id: UUID
    line: OneLine = ""
    structure: Numbered
    at: WrittenMoment
    person_in_charge: Named
    subjects: Subjects
