"""The punch list: what was found, who owns it, and its history. An item closes only on evidence.

Entries come with lists and as records of the field; both are entries of the same items.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any, Literal, get_args

from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE, STRUCTURE_WORDS
from linemap.domain.record.event import Event
from linemap.domain.record.replay import first_copies, without_corrected

PunchAction = Literal["opened", "closed", "reopened"]
_ACTIONS = get_args(PunchAction)


@dataclass(frozen=True, slots=True, kw_only=True)
class PunchEntry:
    """One thing written down about one item: it was opened, closed or opened again.

    Raises
    ------
    ValueError
        If the item or structure is blank, or the action is none of the three.
    """

    #: Identifier of the item, as the owner writes it.
    item: Annotated[str, Cell("item id punch punchno punchid punchitem no number", named="id")]
    line: Annotated[str, LINE] = ""
    #: Structure number in its one spelling.
    structure: Annotated[str, Cell(STRUCTURE_WORDS, way="structure")]
    #: Pole, guy or part: "A", "brace"; "" = the structure.
    part: Annotated[str, Cell("part component pole")] = ""
    action: Annotated[PunchAction, Cell()]
    on: Annotated[date, Cell(label="day", column="day")]
    #: What is wrong, or what was done.
    text: Annotated[str, Cell("text description what defect deficiency issue", free=True)] = ""
    severity: Annotated[str, Cell("severity priority class")] = ""
    #: Who must do it.
    owner: Annotated[str, Cell("owner responsible assignedto for", free=True)] = ""
    due: Annotated[date | None, Cell("due duedate")] = None
    who: Annotated[str, Cell("closedby by who verifiedby", free=True)] = ""
    #: What shows that it is done: a photo, a reading, a name; "" = nothing.
    evidence: Annotated[str, Cell("evidence closeevidence closingevidence proof photoafter", free=True)] = ""
    #: When it was recorded in the field; None = a list says the day alone.
    at: datetime | None = None
    #: Identifier of the record of the field it comes from, "" = a list.
    event: str = ""
    #: Identifiers of the photos taken with that record.
    photos: tuple[str, ...] = ()
    #: Role of who recorded it in the field, "" = not known.
    role: str = ""

    @property
    def sentence(self) -> str:
        """Say what was done: "closed 2026-05-08 by Ada on photo 118: tightened"."""
        by = f" by {self.who}" if self.who else ""
        on = f" on {self.evidence}" if self.evidence and self.action == "closed" else ""
        return f"{self.action} {self.on.isoformat()}{by}{on}" + (f": {self.text}" if self.text else "")

    def __post_init__(self) -> None:
        if not (self.item.strip() and self.structure.strip()):
            raise ValueError("a punch entry names no item or no structure; write both")
        if self.action not in _ACTIONS:
            raise ValueError(f"punch item {self.item} was {self.action!r}; write {', '.join(_ACTIONS)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PunchItem:
    """One item as its entries leave it."""

    id: str
    line: str
    structure: str
    part: str
    text: str
    severity: str
    owner: str
    due: date | None
    #: False only while its last closing, with evidence, has not been followed by a reopening.
    open: bool
    #: Every entry, oldest first; nothing is ever taken out.
    history: tuple[PunchEntry, ...]
    #: What a person should look at, "" = nothing.
    finding: str

    def sentence(self, called: Called = BY_LETTER) -> str:
        """Say what is open or was closed, by whom and since when; a pole as the owner calls it."""
        last = self.history[-1]
        where = f"{self.structure} {called.get(self.part, self.part)}".strip()
        state = "open" if self.open else f"closed {last.on.isoformat()} on {last.evidence}"
        owner = f", for {self.owner}" if self.owner else ""
        due = f", due {self.due.isoformat()}" if self.due and self.open else ""
        again = ", opened again" if any(entry.action == "reopened" for entry in self.history) else ""
        return f"{self.id} at {where}: {self.text} ({state}{again}{owner}{due})"


def punch_items(entries: Iterable[PunchEntry], *, closers: Collection[str] = ()) -> tuple[PunchItem, ...]:
    """Fold entries to items, in order of their identifiers' first appearance; any repetition counts once.

    An entry of a later day goes before an earlier one. On one day those of lists come first, in the order
    opened, closed, reopened, then those of the field by their time. A closing without evidence closes
    nothing, and is a finding; so is one in the field by a role that is not among `closers`, () = any may.
    """
    grouped: dict[str, dict[PunchEntry, None]] = {}
    for entry in entries:
        grouped.setdefault(entry.item, {})[entry] = None
    return tuple(_item(name, found, closers) for name, found in grouped.items())


def _item(name: str, entries: Mapping[PunchEntry, None], closers: Collection[str]) -> PunchItem:
    history = tuple(sorted(entries, key=_order))
    first, is_open, finding = history[0], True, ""
    for entry in history:
        if entry.action != "closed":
            is_open, finding = True, ""
        elif closers and entry.role and entry.role not in closers:
            finding = f"said to be done {entry.on.isoformat()}: to be closed by {' or '.join(closers)}"
        elif entry.evidence.strip():
            is_open, finding = False, ""
        else:
            finding = f"closed {entry.on.isoformat()} without evidence: still open"
    return PunchItem(
        id=name,
        line=first.line,
        structure=first.structure,
        part=first.part,
        text=_last(history, "text") if first.action != "opened" else first.text,
        severity=_last(history, "severity"),
        owner=_last(history, "owner"),
        due=next((entry.due for entry in reversed(history) if entry.due), None),
        open=is_open,
        history=history,
        finding=finding,
    )


def _order(entry: PunchEntry) -> tuple[date, float, int, tuple[str, ...]]:
    """Sort by day and time, then by what was done, then by all that is written: nothing is left to chance."""
    words = (entry.who, entry.text, entry.evidence, entry.severity, entry.owner, str(entry.due or ""))
    at = -1.0 if entry.at is None else entry.at.timestamp()
    return (entry.on, at, _ACTIONS.index(entry.action), words)


def _last(history: tuple[PunchEntry, ...], name: str) -> str:
    return next((str(getattr(entry, name)) for entry in reversed(history) if getattr(entry, name)), "")


#: What the content of a record of the field may say of an item.
_SAID = ("item", "action", "text", "severity", "owner", "due", "evidence", "part")
_LONGEST = 2000


def read_punch(event: Event) -> PunchEntry:
    """Read the entry that a record of the field is.

    Raises
    ------
    ValueError
        If its content is no object, names something unknown, is no text or too long, has no item or action,
        or opens an item without saying what is wrong.
    """
    said = json.loads(event.content or "{}")
    unknown = sorted(set(said) - {*_SAID})
    if unknown:
        raise ValueError(f"a punch entry says {', '.join(unknown)}, which it does not have; leave it out")
    given = {name: _text(said, name) for name in _SAID}
    if given["action"] == "opened" and not given["text"]:
        raise ValueError("the punch item says not what is wrong; write it")
    due = given.pop("due")
    return PunchEntry(
        **{**given, "part": event.pole or given["part"], "evidence": _evidence(given["evidence"], event)},  # type: ignore[arg-type]
        line=event.line,
        structure=event.structure,
        on=event.moment.date(),
        due=_day(due),
        who=event.actor or event.crew,
        at=event.moment,
        event=event.id,
        photos=event.photos,
        role=event.role,
    )


def _text(said: Mapping[str, Any], name: str) -> str:
    value = said.get(name, "")
    if not isinstance(value, str) or len(value) > _LONGEST:
        raise ValueError(f"the {name} of a punch entry is no text of at most {_LONGEST} letters; shorten it")
    return value.strip()


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise ValueError(
            f"the punch item is due {text!r}, which is no date; write it like 2026-05-15"
        ) from None


def _evidence(words: str, event: Event) -> str:
    """Return what shows that it is done: the words, and the photos by their number."""
    count = len(event.photos)
    photos = f"{count} photo{'s' if count > 1 else ''}" if count else ""
    return ", ".join(filter(None, (words, photos)))


def entries_of(events: Iterable[Event], *, corrected: Collection[str] = frozenset()) -> Iterable[PunchEntry]:
    """Give the punch entries among the records of a structure that still count.

    Those whose content was taken out for a reader give none. `corrected` names events that others correct.
    """
    mine = [event for event in events if event.what == "punch"]
    for event in without_corrected(first_copies(mine), corrected) if mine else ():
        if event.content and event.result == "done":
            yield read_punch(event)


def punch_words(event: Event, called: Called = BY_LETTER) -> str:
    """Say a record of the field in one line: 'punch item P-7 closed: brace tight, on 1 photo'."""
    if not event.content:
        return "punch item"
    entry = read_punch(event)
    part = called.get(entry.part, entry.part)
    said = "".join(
        (
            f" at {part}" if part and not event.pole else "",
            f": {entry.text}" if entry.text else "",
            f", on {entry.evidence}" if entry.action == "closed" and entry.evidence else "",
        )
    )
    return f"punch item {entry.item} {entry.action}{said}"
