"""What the times of events say of the clocks that stamped them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta

from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event

__all__ = ["CLOCK_LIMIT", "clock_findings"]

#: A device clock this far from the job's is a finding. Common practice, no source.
CLOCK_LIMIT = timedelta(minutes=5)


def clock_findings(events: Iterable[Event], *, line: str, structure: str) -> Iterator[Finding]:
    """Find each device whose clock was wrong, or whose events come from the future.

    Parameters
    ----------
    events : iterable of Event
        Events of one structure.
    line, structure : str
        Named in the findings: "clock fast", "clock slow", "clock ahead".
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
