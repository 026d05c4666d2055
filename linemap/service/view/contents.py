"""Records of the field that are no step: each kind once, with its noun, how its content is read and said."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from linemap.domain.crew_check.record import CrewCheck
from linemap.domain.finding.phrase import Called, pole_names
from linemap.domain.record.case import act_words, read_act
from linemap.domain.record.event import Event, What
from linemap.domain.record.moved import moved_words, read_moved
from linemap.domain.record.punch import punch_words, read_punch


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """One kind of record."""

    #: "crew check".
    noun: str
    #: Reads the content of an event; `ValueError` = it cannot be read, in words.
    read: Callable[[Event], object]
    #: What it says, without pole, crew and remarks.
    words: Callable[[Event, Called], str]


def _check_words(event: Event, _called: Called) -> str:
    if not event.content:
        return "crew check"
    check = CrewCheck.read(event.content)
    return f"crew check by {check.method}, the phone found: {check.said.value}"


CONTENTS: Mapping[What, Content] = MappingProxyType(
    {
        "check": Content(
            noun="crew check", read=lambda event: CrewCheck.read(event.content), words=_check_words
        ),
        "case": Content(noun="answer to a case", read=read_act, words=act_words),
        "moved": Content(noun="move of a record", read=read_moved, words=moved_words),
        "punch": Content(noun="punch item", read=read_punch, words=punch_words),
    }
)


def check_content(event: Event) -> None:
    """Raise `ValueError` when the content of an event cannot be read, or a step brings any."""
    if event.what == "step":
        if event.content:
            raise ValueError("the record of a step has no content; leave it out")
        return
    kind = CONTENTS.get(event.what)
    if kind is None:
        raise ValueError(f"records of the kind {event.what!r} are not taken; record a step")
    kind.read(event)


def event_line(event: Event, called: Called) -> str:
    """Say an event in one line of a history: 'framed pole A by HF-2 (wind 12 mph; rock at 7 ft)'.

    A guy or span follows its step: 'clipped 9/2 to 9/3 by Swift'.
    """
    kind, remarks = CONTENTS.get(event.what), event.remarks(called)
    parts = (
        f"{event.step} {event.part}".rstrip() if kind is None else kind.words(event, called),
        pole_names(event.pole, called) if event.pole else "",
        "" if event.result == "done" else str(event.result),
        f"by {event.crew}" if event.crew else "",
        f"({remarks})" if remarks else "",
    )
    return " ".join(part for part in parts if part)
