"""What the surveyor's page and the page of files ask."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from linemap.domain.causes.decision import Answer
from linemap.io.cells.table import Kind

__all__ = ["AnswerRequest", "DecisionRequest"]

#: One line of text that holds more than blanks and no control signs.
_Named = Annotated[
    str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f\s][^\x00-\x1f\x7f]*$")
]
_Line = Annotated[str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]
_Note = Annotated[str, StringConstraints(max_length=2000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*$")]


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
