"""Answer the monitor: is the server up, is the job readable."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends

from linemap.answers.session import Health
from linemap.web.cache import AnswerCache, answers
from linemap.web.errors import ErrorAnswer

router = APIRouter(tags=["monitor"])


@router.get("/health", responses={503: {"model": ErrorAnswer}}, summary="Is the server up?")
def health(cache: Annotated[AnswerCache, Depends(answers)]) -> Health:
    """Read the job's data version; answers 503 when the job cannot be read."""
    return Health(status="up", data_version=cache.data_version())
