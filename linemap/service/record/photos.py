"""Photos that phones send in parts: resumable, whole or not at all, and nothing but pictures.

A picture is told from its bytes, never from a name or from what the sender says.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass

from sqlalchemy import Connection

from linemap.domain.record.person import Person
from linemap.domain.record.signing import author_of, may_add_photo
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.store.database import Database
from linemap.store.events import find_events
from linemap.store.photos import (
    PhotoRow,
    add_part,
    begin_photo,
    complete_photo,
    count_photos,
    find_photo,
    forget_photo,
    forget_unfinished,
    parts_of,
    stored_part,
)

#: Bytes of one photo.
MOST_BYTES = 12 * 1024 * 1024
#: Bytes of one part: little is lost when a signal goes in the middle.
PART_BYTES = 256 * 1024
#: Photos of one event.
MOST_OF_EVENT = 20
#: A photo that was begun and not finished for so long has ended; it can be sent again. Our own limit.
UNFINISHED_ENDS = dt.timedelta(days=14)
#: Bytes from which the format of a picture is told.
_HEAD = 12
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_END = b"\x00\x00\x00\x00IEND\xaeB`\x82"
#: Markers of a JPEG frame header, which holds height and width (ITU-T T.81, table B.1).
_FRAMES = frozenset({0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_SCAN = 0xDA


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some bytes of a photo."""

    photo_id: str
    event_id: str
    #: Place of its first byte.
    start: int
    #: Bytes of the whole photo.
    total: int
    content: bytes
    #: What the sender computed of the whole photo, hexadecimal; "" = it says nothing.
    sha256: str = ""


def receive_part(
    database: Database, part: Part, *, now: dt.datetime, person: Person | None = None
) -> PhotoRow:
    """Store the next part of a photo that `person` brings; a part that is there already changes nothing.

    Return the photo as it is now; complete once its last byte came and it proved to be a picture.

    Raises
    ------
    NotFound
        If the job has no such event.
    InputRefused
        If the record names no such photo and is of somebody else, sizes do not fit, the content is no
        picture, or its SHA-256 is not what the sender says. What was there of a picture that proved wrong is
        taken out, so that it can be sent again.
    Conflict
        If a part before it is missing, the identifier belongs to another photo, or the event has too many.
    """
    _check_sizes(part)
    with database.writing() as connection:
        photo = find_photo(connection, part.photo_id) or _begin(connection, part, now, person)
        if (photo.event_id, photo.total) != (part.event_id, part.total):
            raise Conflict(
                f"photo {part.photo_id} is of another event or size; give it an identifier of its own"
            )
        if part.start < photo.received or photo.complete:
            _check_same(connection, part)
            return photo
        if part.start > photo.received:
            raise Conflict(f"{photo.received} bytes of photo {photo.id} are here; go on from there")
        received = add_part(connection, photo, part.content)
        wrong = _complete(connection, photo, part) if received == photo.total else ""
        found = find_photo(connection, photo.id)
    if wrong or found is None:
        raise InputRefused.at("content", part.photo_id, wrong, "send the photo again from its first byte")
    return found


def photo_state(database: Database, identifier: str) -> PhotoRow:
    """Return how much of a photo has arrived; `NotFound` when nothing of it has."""
    with database.reading() as connection:
        photo = find_photo(connection, identifier)
    if photo is None:
        raise NotFound(f"nothing of photo {identifier} has arrived")
    return photo


def photo_content(database: Database, identifier: str) -> tuple[PhotoRow, bytes]:
    """Return a whole photo; `NotFound` when it is not there, or not all of it."""
    with database.reading() as connection:
        photo = find_photo(connection, identifier)
        if photo is None or not photo.complete:
            raise NotFound(f"photo {identifier} is not here, or not all of it")
        return photo, b"".join(parts_of(connection, identifier))


def _check_sizes(part: Part) -> None:
    size = len(part.content)
    if not 0 < part.total <= MOST_BYTES:
        most = f"a photo has at most {MOST_BYTES // (1024 * 1024)} MiB"
        raise InputRefused.at("total", str(part.total), most, "send a smaller one")
    if not 0 < size <= PART_BYTES:
        limits = f"a part has 1 to {PART_BYTES:,} bytes"
        raise InputRefused.at("content-range", str(size), limits, "send it in parts")
    if part.start < 0 or part.start + size > part.total:
        place = f"{part.start}-{part.start + size - 1}/{part.total}"
        raise InputRefused.at(
            "content-range", place, "the part does not lie in the photo", "correct the range"
        )


def _begin(connection: Connection, part: Part, now: dt.datetime, person: Person | None) -> PhotoRow:
    if part.start:
        raise Conflict(f"0 bytes of photo {part.photo_id} are here; go on from there")
    event = find_events(connection, [part.event_id]).get(part.event_id)
    if event is None:
        raise NotFound(f"no event {part.event_id} in this job; send the record first, then its photos")
    if not may_add_photo(event, part.photo_id, person):
        words = f"the record is of {author_of(event)} and names no such photo"
        raise InputRefused.at("event", part.event_id, words, "record it with a record of your own")
    forget_unfinished(connection, part.event_id, before=now - UNFINISHED_ENDS)
    if count_photos(connection, part.event_id) >= MOST_OF_EVENT:
        raise Conflict(f"event {part.event_id} has {MOST_OF_EVENT} photos already; record another event")
    kind = picture_type(part.content[:_HEAD])
    if not kind:
        raise InputRefused.at("content", part.photo_id, "is no photo", "send JPEG, PNG or WebP")
    photo = PhotoRow(
        id=part.photo_id,
        event_id=part.event_id,
        total=part.total,
        received=0,
        media_type=kind,
        sha256="",
        begun_at=now,
    )
    begin_photo(connection, photo)
    return photo


def _check_same(connection: Connection, part: Part) -> None:
    if stored_part(connection, part.photo_id, part.start) != part.content:
        raise Conflict(
            f"other bytes of photo {part.photo_id} are here from {part.start} on; ask what is here"
        )


def _complete(connection: Connection, photo: PhotoRow, part: Part) -> str:
    """Look at the whole photo; return what is wrong with it, "" = nothing."""
    content = b"".join(parts_of(connection, photo.id))
    found = hashlib.sha256(content).hexdigest()
    if part.sha256 and part.sha256.lower() != found:
        wrong = f"has the SHA-256 {found}, not {part.sha256.lower()}"
    elif not is_whole_picture(content):
        wrong = "is no whole photo"
    else:
        complete_photo(connection, photo.id, found)
        return ""
    forget_photo(connection, photo.id)
    return wrong


def picture_type(head: bytes) -> str:
    r"""Return the media type of a picture by its first bytes; "" when it is none that is taken.

    >>> picture_type(b"\xff\xd8\xff\xe1...."), picture_type(b"GIF89a")
    ('image/jpeg', '')
    """
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(_PNG):
        return "image/png"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "image/webp"
    return ""


def is_whole_picture(content: bytes) -> bool:
    """Say whether the bytes are a picture from its first to its last byte.

    Only the frame of the format is looked at, the picture itself is not decoded: JPEG segments up to the
    scan and its end mark (ITU-T T.81), PNG header and end chunk (RFC 2083), WebP length (RFC 9649).
    """
    looks = {"image/jpeg": _whole_jpeg, "image/png": _whole_png, "image/webp": _whole_webp}
    look = looks.get(picture_type(content))
    return look is not None and look(content)


def _whole_jpeg(content: bytes) -> bool:
    at, sized = 2, False
    while at + 4 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker == _SCAN:
            # phones append their own data after the end mark
            return sized and b"\xff\xd9" in content[at:]
        if marker in _FRAMES:
            height, width = content[at + 5 : at + 7], content[at + 7 : at + 9]
            sized = any(height) and any(width)
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        at += 2 + max(length, 2)
    return False


def _whole_png(content: bytes) -> bool:
    sized = content[12:16] == b"IHDR" and any(content[16:20]) and any(content[20:24])
    return sized and content.endswith(_PNG_END)


def _whole_webp(content: bytes) -> bool:
    length = int.from_bytes(content[4:8], "little")
    return length + 8 in (len(content), len(content) - 1) and content[12:15] == b"VP8"
