"""The events of one structure in the order they happened, and what their times say of the clocks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from operator import attrgetter

from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.signing import why_not_taken_back
from linemap.domain.record.workflow import Per

#: A device clock this far from the job's is a finding. Common practice, no source.
CLOCK_LIMIT = timedelta(minutes=5)


def clock_findings(events: Iterable[Event], *, line: str, structure: str) -> Iterator[Finding]:
    """Find each device whose clock was wrong at one structure, or whose events come from the future.

    They are "clock fast", "clock slow" and "clock ahead".
    """
    errors: dict[str, timedelta] = {}
    leads: dict[str, timedelta] = {}
    for event in events:
        error, lead = event.clock_error, event.happened_at - event.clock_error - event.received_at
        if abs(error) > CLOCK_LIMIT:
            errors[_device(event)] = max(error, errors.get(_device(event), error), key=abs)
        if lead > CLOCK_LIMIT:
            leads[_device(event)] = max(lead, leads.get(_device(event), lead))
    for off_by, ahead in ((errors, False), (leads, True)):
        for device, off in sorted(off_by.items()):
            code = "clock ahead" if ahead else "clock fast" if off > timedelta() else "clock slow"
            values = {"device": device, "minutes": off.total_seconds() / 60.0}
            yield Finding(line=line, structure=structure, code=code, part=device, values=values)


def _device(event: Event) -> str:
    return f"{event.device or 'a device'} of {event.who}"


@dataclass(slots=True)
class Part:
    """One step of one pole or guy, or of the whole structure, as the events taken in so far leave it."""

    #: Done events that still stand, the earliest first.
    standing: list[Event] = field(default_factory=list)
    #: The rejection that nothing done has followed.
    rejection: Event | None = None

    def take(self, event: Event) -> None:
        """Take in the next event in the order of happening.

        A rejection ends whatever stood before it. A withdrawal takes back the standing records of its own
        crew, or everyone's when it names no crew, but none that is not its recorder's to take back: such a
        record came after it. It does not take back a rejection.
        """
        if event.result == "done":
            self.standing.append(event)
            self.rejection = None
        elif event.result == "rejected":
            self.standing.clear()
            self.rejection = event
        else:
            self.standing = [
                other
                for other in self.standing
                if event.crew not in {"", other.crew} or why_not_taken_back(event, [other])
            ]


def replay(
    events: Iterable[Event], *, letters: Sequence[str], named: Callable[[Event], str] = attrgetter("pole")
) -> dict[str, Part]:
    """Replay the events of one step, in any order, once for each pole or guy.

    Parameters
    ----------
    events : iterable of Event
        Each identifier once. One without a pole or guy is for every one.
    letters : sequence of str
        Poles of the structure, "AB", or names of its guys; () for a step per structure, whose events count
        whatever they name. Events for a pole or guy that is not among them are passed over.
    named : callable
        Gives the pole, or the guy, that an event is for.

    Returns
    -------
    dict of str to Part
        By pole letter or guy; the one key "" for a step per structure. Those that no event tells apart
        share one part.
    """
    ordered = sorted(events, key=attrgetter("order_key"))
    if not letters or not any(map(named, ordered)):
        whole = Part()
        for event in ordered:
            whole.take(event)
        return dict.fromkeys(letters or ("",), whole)
    parts = {letter: Part() for letter in letters}
    for event in ordered:
        name = named(event)
        for each in (name,) if name else letters:
            if each in parts:
                parts[each].take(event)
    return parts


def parts_of(events: Iterable[Event], per: Per, *, letters: str, guys: tuple[str, ...]) -> dict[str, Part]:
    """Replay the events of one step by what it is of: its poles, its guys, or the structure and its span.

    How a guy is written, in large or small letters, does not matter. Where none are known, the step is one of
    the structure.
    """
    if per != "guy" or not guys:
        return replay(events, letters=letters if per == "pole" else "")
    spelled = {name.casefold(): name for name in guys}
    return replay(events, letters=guys, named=lambda event: spelled.get(event.part.casefold(), event.part))


def standing_events(parts: Mapping[str, Part]) -> list[Event]:
    """Return the done events of the parts of a step that still stand, each once, the earliest first."""
    standing = {event.id: event for part in parts.values() for event in part.standing}
    return sorted(standing.values(), key=attrgetter("order_key"))


def first_copies(events: Iterable[Event]) -> list[Event]:
    """Return one copy of each event: of those sent several times the one received first."""
    copies = list(events)
    first = {event.id: event for event in copies}
    if len(first) < len(copies):
        first.clear()
        for event in copies:
            other = first.setdefault(event.id, event)
            if other is not event and _copy_key(event) < _copy_key(other):
                first[event.id] = event
    return list(first.values())


def corrected_ids(events: Iterable[Event]) -> frozenset[str]:
    """Return the identifiers of the events that some event of these corrects."""
    return frozenset(event.supersedes for event in events if event.supersedes)


def without_corrected(events: list[Event], corrected: Collection[str]) -> list[Event]:
    """Return the events that still count.

    An event that another one corrects does not count, be the correction itself corrected or not. Neither
    does a withdrawal that names what it corrects: it takes back that one record and nothing else.
    """
    if not corrected:
        return events
    return [
        event
        for event in events
        if event.id not in corrected and not (event.supersedes and event.result == "withdrawn")
    ]


def _copy_key(event: Event) -> tuple[object, ...]:
    """Order the copies of one event: by arrival, then by content so that the choice never depends on luck."""
    return (event.received_at, repr(event))
