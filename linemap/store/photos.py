"""Photos, kept in the job's own database in the parts they came in.

In the database and not in a folder beside it: one job stays one thing to copy, move and back up, the rules
that hold for everything else hold for photos, and the same code serves SQLite and PostgreSQL. The price is
a larger file; parts of 256 KiB keep it cheap to write and to send.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, fields

from sqlalchemy import Connection, delete, func, insert, select, update

from linemap.store import schema
from linemap.store.database import bump_record


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRow:
    """A photo as far as it has arrived."""

    id: str
    event_id: str
    #: Bytes of the whole photo, as its first part announced.
    total: int
    #: Bytes that are there, from the first one on without a gap.
    received: int
    #: Told from the content: image/jpeg, image/png or image/webp.
    media_type: str
    #: Of the whole content, hexadecimal; "" while bytes are missing.
    sha256: str
    begun_at: dt.datetime

    @property
    def complete(self) -> bool:
        """True when every byte is there and was looked at."""
        return bool(self.sha256)


_COLUMNS = tuple(field.name for field in fields(PhotoRow))


def find_photo(connection: Connection, identifier: str) -> PhotoRow | None:
    """Return a photo; None when nothing of it has arrived."""
    table = schema.photo
    query = select(*(table.c[name] for name in _COLUMNS)).where(table.c.id == identifier)
    row = connection.execute(query).one_or_none()
    return None if row is None else PhotoRow(**row._mapping)


def count_photos(connection: Connection, event_id: str) -> int:
    """Return how many photos an event has, those still arriving included."""
    query = select(func.count()).select_from(schema.photo).where(schema.photo.c.event_id == event_id)
    return int(connection.execute(query).scalar_one())


def begin_photo(connection: Connection, photo: PhotoRow) -> None:
    """Add a photo of which no part is there yet."""
    connection.execute(insert(schema.photo), [{name: getattr(photo, name) for name in _COLUMNS}])


def add_part(connection: Connection, photo: PhotoRow, content: bytes) -> int:
    """Add the next part; return how many bytes are there now."""
    values = {"photo_id": photo.id, "start": photo.received, "content": content}
    connection.execute(insert(schema.photo_part), [values])
    received = photo.received + len(content)
    connection.execute(update(schema.photo).where(schema.photo.c.id == photo.id).values(received=received))
    return received


def complete_photo(connection: Connection, identifier: str, sha256: str) -> None:
    """Note that a photo is whole; from then on readers are given it."""
    connection.execute(update(schema.photo).where(schema.photo.c.id == identifier).values(sha256=sha256))
    bump_record(connection)


def forget_photo(connection: Connection, identifier: str) -> None:
    """Take out a photo that turned out to be none, so that it can be sent again."""
    connection.execute(delete(schema.photo_part).where(schema.photo_part.c.photo_id == identifier))
    connection.execute(delete(schema.photo).where(schema.photo.c.id == identifier))


def forget_unfinished(connection: Connection, event_id: str, *, before: dt.datetime) -> None:
    """Take out what is there of the photos of an event that were begun before a moment and never finished."""
    table = schema.photo
    old = select(table.c.id).where(
        table.c.event_id == event_id, table.c.sha256 == "", table.c.begun_at < before
    )
    for identifier in connection.scalars(old).all():
        forget_photo(connection, identifier)


def stored_part(connection: Connection, identifier: str, start: int) -> bytes | None:
    """Return the part that begins at a byte; None when none does."""
    table = schema.photo_part
    query = select(table.c.content).where(table.c.photo_id == identifier, table.c.start == start)
    content: bytes | None = connection.execute(query).scalar_one_or_none()
    return content


def parts_of(connection: Connection, identifier: str) -> Iterator[bytes]:
    """Yield the parts of a photo in their order, reading one at a time."""
    table = schema.photo_part
    starts = connection.scalars(
        select(table.c.start).where(table.c.photo_id == identifier).order_by(table.c.start)
    ).all()
    for start in starts:
        content = stored_part(connection, identifier, start)
        if content is not None:
            yield content
