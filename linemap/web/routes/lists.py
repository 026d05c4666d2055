"""Lists as they are declared, for programs."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from linemap.answers.lists import ListAnswer
from linemap.domain.kind.kind import Code
from linemap.domain.record.person import Audience, Person, Role
from linemap.errors import NotAllowed, NotFound
from linemap.kinds.registry import KINDS
from linemap.service.view.lists import list_answer, stored_list
from linemap.store.lists import list_states
from linemap.web.cache import AnswerCache, answers, cached_response, json_answer
from linemap.web.errors import ErrorAnswer
from linemap.web.session import person

router = APIRouter(tags=["lists"], responses={status: {"model": ErrorAnswer} for status in (403, 404, 422)})
_Cache = Annotated[AnswerCache, Depends(answers)]
_Person = Annotated[Person, Depends(person)]
_Kind = Annotated[Code, Query(description="what files of the list are called")]
_State = Annotated[
    int | None, Query(ge=1, le=2**63 - 1, description="an earlier state, by its identifier; for the manager")
]


@router.get("/api/list", response_model=ListAnswer, summary="A list with its fields and its states")
def whole_list(
    request: Request, cache: _Cache, asking: _Person, kind: _Kind, state: _State = None
) -> Response:
    """Return every record of a list with what its fields are, as the reader may see it."""
    if kind not in KINDS:
        raise NotFound(f"{kind} are not kept as a list; lists are {', '.join(KINDS)}")
    if state is not None and asking.audience is not Audience.OWNER:
        raise NotAllowed("earlier states of lists are read by the manager; ask for the list as it stands")
    with cache.database.reading() as connection:
        # names of files and labels are free words
        states = list_states(connection, KINDS[kind]) if asking.role is Role.MANAGER else ()
        records = stored_list(connection, kind, states, state=state)
    if state is not None:
        return json_answer(list_answer(cache.view(), kind, states, records))
    answer = cache.answer(
        f"list {kind} {bool(states)}", lambda view: list_answer(view, kind, states, records)
    )
    return cached_response(request, answer)
