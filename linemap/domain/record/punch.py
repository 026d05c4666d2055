"""The punch list: what an inspector found, who owns it, and its history. An item closes only on evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal, get_args

from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE, STRUCTURE_WORDS

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


def punch_items(entries: Iterable[PunchEntry]) -> tuple[PunchItem, ...]:
    """Fold entries to items, in order of their identifiers' first appearance; any repetition counts once.

    An entry of a later day goes before an earlier one; on one day opened, closed, reopened is the order.
    A closing without evidence closes nothing, and is a finding.
    """
    grouped: dict[str, dict[PunchEntry, None]] = {}
    for entry in entries:
        grouped.setdefault(entry.item, {})[entry] = None
    return tuple(_item(name, found) for name, found in grouped.items())


def _item(name: str, entries: Mapping[PunchEntry, None]) -> PunchItem:
    history = tuple(sorted(entries, key=_order))
    first, is_open, finding = history[0], True, ""
    for entry in history:
        if entry.action != "closed":
            is_open, finding = True, ""
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


def _order(entry: PunchEntry) -> tuple[date, int, tuple[str, ...]]:
    """Sort by day, then by what was done, then by all that is written: no two entries are left to chance."""
    words = (entry.who, entry.text, entry.evidence, entry.severity, entry.owner, str(entry.due or ""))
    return (entry.on, _ACTIONS.index(entry.action), words)


def _last(history: tuple[PunchEntry, ...], name: str) -> str:
    return next((str(getattr(entry, name)) for entry in reversed(history) if getattr(entry, name)), "")
