"""Photos of records: sent in parts, resumable, and given back whole."""

from __future__ import annotations

import re
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Header, Query, Request
from starlette.responses import Response

from linemap.answers.record import PhotoState
from linemap.errors import InputRefused, NotAllowed
from linemap.service.people.restricted import event_of_photo, may_see_photo
from linemap.service.record.photos import (
    MOST_BYTES,
    Part,
    photo_content,
    photo_state,
    receive_part,
)
from linemap.store.photos import PhotoRow
from linemap.web.cache import json_answer
from linemap.web.recorder import REFUSALS, Recorder, Recording

router = APIRouter(prefix="/api", tags=["record"], responses=REFUSALS)
#: RFC 9110, section 14.4, with a known length.
_RANGE = re.compile(r"bytes (\d{1,10})-(\d{1,10})/(\d{1,10})")
_SUFFIX = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
_PICTURES: dict[str, dict[str, str]] = {kind: {} for kind in _SUFFIX}
_BODY = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


async def _content(request: Request) -> bytes:
    """Return the body as it came, whatever type it is said to have."""
    return await request.body()


@router.put(
    "/photos/{id}",
    response_model=PhotoState,
    openapi_extra=_BODY,
    summary="Send a photo, or the next part of one",
)
def put_photo(
    id: UUID,
    recording: Recording,
    content: Annotated[bytes, Depends(_content)],
    event: Annotated[UUID, Query(description="identifier of the record it belongs to")],
    total: Annotated[int, Query(ge=1, le=MOST_BYTES, description="bytes of the whole photo")],
    sha256: Annotated[
        str, Query(pattern=r"^([0-9A-Fa-f]{64})?$", description="of the whole photo, for its last part")
    ] = "",
    content_range: Annotated[
        str, Header(max_length=100, description="like bytes 0-262143/900000; none = the whole photo")
    ] = "",
) -> Response:
    """Store the next part of at most 256 KiB; a part that is here already changes nothing.

    JPEG, PNG and WebP are taken, told by their content. The answer says how much is here; after a lost
    signal ask with HEAD and go on from there.
    """
    part = Part(
        photo_id=str(id),
        event_id=str(event),
        start=_start(content_range, len(content), total),
        total=total,
        content=content,
        sha256=sha256,
    )
    photo = receive_part(recording.database, part, now=recording.now, person=recording.person)
    return json_answer(_state(photo), headers=_progress(photo))


@router.head("/photos/{id}", summary="How much of a photo is here?")
def head_photo(id: UUID, recording: Recording) -> Response:
    """Answer the bytes that are here in the header Upload-Offset, all of them in Upload-Length."""
    return Response(headers=_progress(photo_state(recording.database, str(id))))


@router.get(
    "/photos/{id}",
    response_class=Response,
    responses={200: {"content": _PICTURES, "description": "The photo"}},
    summary="A photo",
)
def get_photo(id: UUID, request: Request, recording: Recording) -> Response:
    """Return a photo once all of it is here.

    A photo of a restricted place is shown to the manager and to whoever took it.
    """
    photo = photo_state(recording.database, str(id))
    _check_may_see(recording, photo)
    headers = {
        "etag": f'"{photo.sha256}"',
        "cache-control": "private, no-cache",
        "vary": "cookie",
        "content-disposition": f'inline; filename="{id}.{_SUFFIX[photo.media_type]}"',
    }
    if photo.complete and headers["etag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    photo, content = photo_content(recording.database, str(id))
    return Response(content, media_type=photo.media_type, headers=headers)


def _check_may_see(recording: Recorder, photo: PhotoRow) -> None:
    """Refuse whoever may not look at a photo, without saying what is near."""
    event = event_of_photo(recording.database, photo)
    person = recording.person
    if person is None or not may_see_photo(recording.cache.whole_view(), event, person):
        raise NotAllowed(f"photo {photo.id} is shown only to the manager and to whoever took it")


def _start(content_range: str, size: int, total: int) -> int:
    """Return the place of the first byte; a range must say the same as the content and the total."""
    if not content_range:
        return 0
    found = _RANGE.fullmatch(content_range.strip())
    if found is None:
        raise InputRefused.at(
            "content-range", content_range, "is no range", f"write it like bytes 0-{size - 1}/{total}"
        )
    first, last, whole = (int(number) for number in found.groups())
    if last - first + 1 != size or whole != total:
        said = f"does not say the same as {size} bytes of {total}"
        raise InputRefused.at(
            "content-range", content_range, said, "correct the range, the total or the content"
        )
    return first


def _state(photo: PhotoRow) -> PhotoState:
    return PhotoState(
        id=photo.id,
        event=photo.event_id,
        received=photo.received,
        total=photo.total,
        complete=photo.complete,
        media_type=photo.media_type,
        sha256=photo.sha256,
    )


def _progress(photo: PhotoRow) -> dict[str, str]:
    return {
        "upload-offset": str(photo.received),
        "upload-length": str(photo.total),
        "cache-control": "no-store",
    }
