"""The punch items of a job: what its lists say of them and what the field recorded, joined."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from weakref import WeakKeyDictionary

from linemap.answers.structure import StructurePunch
from linemap.domain.record.punch import PunchEntry, PunchItem, entries_of, punch_items
from linemap.domain.record.status import Key
from linemap.service.view.view import JobView

_BY_KEY: WeakKeyDictionary[JobView, dict[Key, tuple[PunchItem, ...]]] = WeakKeyDictionary()


def punch_entries(view: JobView) -> Iterable[PunchEntry]:
    """Give every entry up to the day shown: those of lists, then those of the field."""
    events = (group for group in view.events_by_structure.values() if any(e.what == "punch" for e in group))
    recorded = chain.from_iterable(entries_of(group, corrected=view.corrected) for group in events)
    return (entry for entry in chain(view.punch, recorded) if entry.on <= view.as_of)


def punch_by_structure(view: JobView) -> dict[Key, tuple[PunchItem, ...]]:
    """Return all items, closed ones included, by line and structure; of one line where a list names none."""
    if (found := _BY_KEY.get(view)) is None:
        found = {}
        for item in punch_items(punch_entries(view), closers=view.punch_roles):
            key = (item.line or view.figures.only_line, item.structure)
            found[key] = (*found.get(key, ()), item)
        _BY_KEY[view] = found
    return found


def open_punch(view: JobView, key: Key) -> tuple[PunchItem, ...]:
    """Return the open items of a structure."""
    return tuple(item for item in punch_by_structure(view).get(key, ()) if item.open)


def punch_at(view: JobView, row: int) -> list[StructurePunch]:
    """Return the items of the structure of a row as surfaces show them: open ones first, in their order."""
    called = view.figures.called(row)
    items = sorted(punch_by_structure(view).get(view.key(row), ()), key=lambda item: not item.open)
    return [
        StructurePunch(
            item=item.id,
            part=called.get(item.part, item.part),
            text=item.text,
            severity=item.severity,
            owner=item.owner,
            due="" if item.due is None else item.due.isoformat(),
            open=item.open,
            overdue=item.open and item.due is not None and item.due < view.as_of,
            sentence=item.sentence(called),
            finding=item.finding,
            history=[entry.sentence for entry in item.history],
        )
        for item in items
    ]
