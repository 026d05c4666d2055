"""What the times of events say of the clocks that stamped them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta

from linemap.domain.record.event import Event

__all__ = ["CLOCK_LIMIT", "clock_findings", "lead_words"]

#: A device clock this far from the job's is a finding. Common practice, no source.
CLOCK_LIMIT = timedelta(minutes=5)


def clock_findings(events: Iterable[Event]) -> Iterator[tuple[str, str]]:
    """Yield (code, sentence) for each device whose clock was wrong, or whose events come from the future.

    Parameters
    ----------
    events : iterable of Event
        Events of one structure.
    """
    errors: dict[str, timedelta] = {}
    leads: dict[str, timedelta] = {}
    for event in events:
        error, lead = event.clock_error, event.happened_at - event.clock_error - event.received_at
        if abs(error) > CLOCK_LIMIT:
            errors[_device(event)] = max(error, errors.get(_device(event), error), key=abs)
        if lead > CLOCK_LIMIT:
            leads[_device(event)] = max(lead, leads.get(_device(event), lead))
    for device, error in sorted(errors.items()):
        way = "fast" if error > timedelta() else "slow"
        words = f"the clock of {device} was {lead_words(error)} {way}; its times are put right by that"
        yield (f"clock {way}", words)
    for device, lead in sorted(leads.items()):
        fast = f"the clock of {device} was at least {lead_words(lead)} fast"
        yield ("clock fast", f"{fast}; its events are taken to have happened when they arrived")


def lead_words(lead: timedelta) -> str:
    """Print a difference of clocks in hours and minutes, without its sign.

    >>> lead_words(timedelta(minutes=-135))
    '2 h 15 min'
    """
    hours, minutes = divmod(round(abs(lead).total_seconds() / 60.0), 60)
    return f"{hours} h {minutes} min"


def _device(event: Event) -> str:
    return f"{event.device or 'a device'} of {event.who}"
