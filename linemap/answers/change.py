"""What files, an undo or a declaration would change: read, reviewed, accepted or dropped by a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from linemap.answers.lists import FileColumn, FileProblem

#: How much a consequence weighs: "harm" takes something away that holds people back or that people recorded,
#: "look" is what a person should see before they accept, "note" is what was meant.
Weight = Literal["harm", "look", "note"]
State = Literal["waiting", "reading", "ready", "refused", "accepted"]
LonLat = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class UnreadColumn:
    """A column that nothing took: its heading, how many rows fill it, the fields that may be meant."""

    heading: str
    filled: int
    near: Sequence[str]
    #: All of it in one line, with what the rows hold.
    words: str


@dataclass(frozen=True, kw_only=True)
class ReadFile:
    """How one file of a proposal was understood; `kind` is "" where that cannot be told."""

    name: str
    size: int
    kind: str
    #: What it may be, when it cannot be told: to be chosen from.
    may_be: Sequence[str]
    #: What a file of this kind does to the rows there are, in words; "" = not known.
    does: str
    read_as: str
    #: Coordinate reference and distance to the lines, in words.
    evidence: Sequence[str]
    columns: Sequence[FileColumn]
    #: Fields that a column of such a file may be named for; none while it is not known what the file is.
    fields: Sequence[str]
    unread: Sequence[UnreadColumn]
    rows_in: int
    rows_used: int
    problems: Sequence[FileProblem]


@dataclass(frozen=True, kw_only=True)
class Effect:
    """What one consequence does at one place. `before` and `after` are positions in degrees, null = none."""

    words: str
    line: str
    structure: str
    before: LonLat | None
    after: LonLat | None


@dataclass(frozen=True, kw_only=True)
class Consequence:
    """What would follow, gathered by its code: how many places, the gravest or the largest first.

    `effects` are the first of `count`.
    """

    code: str
    weight: Weight
    words: str
    count: int
    effects: Sequence[Effect]


@dataclass(frozen=True, kw_only=True)
class NeededWord:
    """What is taken away and must be accepted by its own word: "holds", "structures", "centreline"..."""

    word: str
    count: int
    words: str


@dataclass(frozen=True, kw_only=True)
class NotNamed:
    """A list kept by key of which files do not name some records: they stay, unless they are to end."""

    kind: str
    count: int
    #: Names of the records, the first of them.
    names: Sequence[str]
    #: True = they end with this proposal.
    ends: bool


@dataclass(frozen=True, kw_only=True)
class LineShape:
    """The centreline of a line as longitude and latitude; `moved` when before and after differ."""

    line: str
    before: Sequence[LonLat]
    after: Sequence[LonLat]
    moved: bool


@dataclass(frozen=True, kw_only=True)
class Place:
    """A structure or a held place on the map of a proposal; null where it was not, or would not be."""

    name: str
    what: Literal["structure", "hold"]
    change: Literal["", "added", "removed", "moved", "renumbered"]
    before: LonLat | None
    after: LonLat | None


@dataclass(frozen=True, kw_only=True)
class ProposalMap:
    """Before and after on the map. Of many structures that stay as they are only some are there."""

    lines: Sequence[LineShape]
    places: Sequence[Place]


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What was said about the files of a proposal, as `POST /api/proposals/{id}/read` takes it."""

    #: What the files are; "" = as their headings tell.
    kind: str = ""
    #: Name of a file -> what it is, before what is said of all.
    kinds: Mapping[str, str] = field(default_factory=dict)
    label: str = ""
    shot_order: str = ""
    date_order: str = ""
    #: Coordinate reference that goes before what the files declare; "" = as they declare, "job" = the job's.
    crs_of_file: str = ""
    #: Day from which the lists are true; "" = from now.
    true_from: str = ""
    #: Lists kept by key of which records that the files do not name end.
    ends: Sequence[str] = ()


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """What would change, for a person to accept or drop; accepting it names `digest`.

    While `state` is "waiting" for files or "reading" them, only `step` and `share` (0 to 1) say anything. A
    "refused" one has files with problems of severity "refused" and can be read again after other choices.
    """

    id: str
    what: Literal["load", "undo"]
    state: State
    step: str
    share: float
    who: str
    made_at: str
    choices: Choices
    files: Sequence[ReadFile]
    #: Refusals that are of no one file, in words.
    refused: Sequence[str]
    consequences: Sequence[Consequence]
    needs: Sequence[NeededWord]
    not_named: Sequence[NotNamed]
    map: ProposalMap | None
    #: What accepting does: "Load 12 holds, end 0"; "" = it cannot be accepted as it is.
    button: str
    #: Fingerprint of what is shown here; another one means that the job changed meanwhile.
    digest: str
    data_version: int
    #: Day it was worked out on; "" = not yet.
    day: str


@dataclass(frozen=True, kw_only=True)
class ProposalId:
    """Which proposal was begun, brought a file, sent to be read, or dropped."""

    id: str


@dataclass(frozen=True, kw_only=True)
class Accepted:
    """What became of a proposal: the change it made, or the proposal as it stands after the job changed.

    `change` is "" when nothing was stored because `proposal` now shows something else than was accepted.
    """

    change: str
    words: Sequence[str]
    data_version: int
    proposal: Proposal | None


@dataclass(frozen=True, kw_only=True)
class ChangeEntry:
    """One accepted change: who, when, why, and what it did. `undone_by` is "" while it stands."""

    id: str
    what: Literal["load", "undo"]
    who: str
    at: str
    reason: str
    files: Sequence[str]
    words: Sequence[str]
    undoes: str
    undone_by: str
    #: Why it cannot be undone now; "" = it can.
    kept_by: str


@dataclass(frozen=True, kw_only=True)
class ChangeList:
    """All accepted changes, the latest first, and the proposals that wait for somebody."""

    data_version: int
    changes: Sequence[ChangeEntry]
    waiting: Sequence[Proposal]
