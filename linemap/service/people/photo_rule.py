"""Who may look at a photo: a picture of a restricted place shows what no redaction can take out.

At a structure near a nest or a cultural site, or under a hold whose reason is kept, a photo is shown to the
manager and to whoever took it. How near is near is common practice, no source: the outer radius that such
buffers have, a quarter of a mile.
"""

from __future__ import annotations

import numpy as np

from linemap.domain.crew.briefing import apart
from linemap.domain.design.number import same_number
from linemap.domain.record.event import Event
from linemap.domain.record.person import Audience, Person
from linemap.errors import NotFound
from linemap.service.people.restricted import is_secret_feature
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.events import find_events
from linemap.store.photos import PhotoRow

#: Ground metres: a quarter of a mile.
NEAR_M = 402.336


def event_of_photo(database: Database, photo: PhotoRow) -> Event:
    """Return the record a photo belongs to.

    Raises
    ------
    NotFound
        If the job has no such record.
    """
    with database.reading() as connection:
        found = find_events(connection, [photo.event_id]).get(photo.event_id)
    if found is None:
        raise NotFound(f"the job has no record {photo.event_id} for photo {photo.id}")
    return found


def may_see_photo(view: JobView, event: Event, person: Person) -> bool:
    """Say whether a person may look at the photos of a record.

    Parameters
    ----------
    view : JobView
        The whole job, with everything restricted in it.
    event : Event
        The record the photo belongs to.
    person : Person
        The machine of a job without people has taken every photo itself.
    """
    if person.local or person.audience is Audience.OWNER or event.actor == person.name:
        return True
    return person.audience is Audience.CREW and not shows_restricted_place(view, event)


def shows_restricted_place(view: JobView, event: Event) -> bool:
    """Say whether a record was made at a restricted place, by its structure or by the fix of its device."""
    number = same_number(event.structure)
    if any(hold.restricted and hold.reach.covers(event.line, number) for hold in view.holds):
        return True
    secret = [feature for feature in view.context if is_secret_feature(feature)]
    places = list(_places(view, event, number))
    return any(apart(feature.geometry, place)[0] <= NEAR_M for feature in secret for place in places)


def _places(view: JobView, event: Event, number: str) -> list[tuple[float, float]]:
    row = view.row_of.get((event.line, number))
    found = []
    if row is not None:
        found.append((float(view.figures.longitude[row]), float(view.figures.latitude[row])))
    if event.longitude is not None and event.latitude is not None:
        found.append((event.longitude, event.latitude))
    return [place for place in found if np.isfinite(place).all()]
