"""What a crew needs that calls for help: what is declared for the job, and the nearest hospital listed."""

from __future__ import annotations

from weakref import WeakKeyDictionary

from linemap.domain.crew.access import build_access
from linemap.domain.crew.emergency import Hospitals, is_hospital
from linemap.service.view.view import JobView

_MEASURED: WeakKeyDictionary[JobView, Hospitals] = WeakKeyDictionary()


def help_words(view: JobView, row: int) -> tuple[str, ...]:
    """Return what is known of help for a structure, in sentences; () = nothing is declared or listed."""
    return (*view.emergency, *_hospitals(view).words(row))


def hospital_words(view: JobView, row: int) -> tuple[str, ...]:
    """Return what the lists of a job say of the nearest hospital of a structure; () = they have none."""
    return _hospitals(view).words(row)


def _hospitals(view: JobView) -> Hospitals:
    if (known := _MEASURED.get(view)) is None:
        found = [feature for feature in view.context if is_hospital(feature)]
        network = (
            build_access(view.figures, view.context, view.crossings, projection=view.projection)
            if found
            else None
        )
        known = Hospitals.of(found, view.figures, projection=view.projection, network=network)
        _MEASURED[view] = known
    return known
