"""Lists as they are declared and kept, and files as they were loaded and understood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.errors import Severity

#: A value of a record; days are written like 2026-05-15, None = not given.
Value = str | int | float | bool | Sequence[str] | None


@dataclass(frozen=True, kw_only=True)
class ListField:
    """One field of a list; `unit` is "" where the value has none."""

    name: str
    label: str
    type: str
    unit: str


@dataclass(frozen=True, kw_only=True)
class StateOfList:
    """One state of a list, or of one part (line, layer) of it; the current ones make the list."""

    id: int
    part: str
    #: The file it came from; None = entered by hand.
    file: int | None
    source_file: str
    label: str
    loaded_at: str
    #: Day from which it is true: the day it came in, unless its loader said another.
    true_from: str
    #: Who loaded its file; "" = not known.
    loaded_by: str
    current: bool
    rows: int
    #: Records it took away, added and changed against the state of its part before it; 0 for the first.
    removed: int
    added: int
    changed: int


@dataclass(frozen=True, kw_only=True)
class ListAnswer:
    """A list with what its fields are; `rows` hold values in the order of `fields`."""

    data_version: int
    #: The other time it is of, in words; "" = now.
    when: str
    kind: str
    noun: str
    fields: Sequence[ListField]
    rows: Sequence[Sequence[Value]]
    #: By fields that hold letters of poles: what the owner calls the pole of each row; none where the same.
    called: Mapping[str, Sequence[str]]
    #: Every state there was, oldest first; empty for lists that only grow.
    states: Sequence[StateOfList]
    #: What the state that was asked for changed against the one before, in words.
    changes: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class StatesOfList:
    """The states of one list that is replaced or kept by key, whole or by parts, oldest first."""

    kind: str
    #: What a new file of it does to the rows there are, in words.
    does: str
    states: Sequence[StateOfList]


@dataclass(frozen=True, kw_only=True)
class ListedField:
    """A field of a record in words, its unit among them."""

    label: str
    text: str


@dataclass(frozen=True, kw_only=True)
class ListedRecord:
    """What a list says at a structure beside what rules say of the record: "ticket LT-45" and its fields."""

    kind: str
    name: str
    fields: Sequence[ListedField]


@dataclass(frozen=True, kw_only=True)
class FileProblem:
    """One thing wrong, or worth a look, in one place of a file; `row` null = the whole file.

    `structure` is the one that the row names, "" = none. `code` and `asks` are those of its finding, which
    stands until another file takes the place of this one.
    """

    row: int | None
    column: str
    value: str
    reason: str
    remedy: str
    severity: Severity
    structure: str
    code: str
    asks: str
    standing: bool


@dataclass(frozen=True, kw_only=True)
class FileColumn:
    """A field and the heading it was read from, with its unit; `named` is the heading alone, "" = none."""

    field: str
    heading: str
    named: str


@dataclass(frozen=True, kw_only=True)
class StandingAnswer:
    """What a person said about the columns of files of one shape."""

    by: str
    at: str
    kind: str
    fields: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class LoadedFile:
    """One file as it was loaded. `size` is in bytes."""

    id: int
    name: str
    kind: str
    size: int
    sha256: str
    loaded_at: str
    loaded_by: str
    #: How the kept bytes are read: encoding, delimiter, sheet and heading row, in words; "" = not known.
    read_as: str
    headings: Sequence[str]
    mapping: Sequence[FileColumn]
    #: Rows of the job that came from this file.
    rows_kept: int
    problems: Sequence[FileProblem]
    #: What stands for the next file of the same shape.
    answer: StandingAnswer | None


@dataclass(frozen=True, kw_only=True)
class AnswerKept:
    """Whether the answer was new; the next file of the same shape is read by it, nothing is read again."""

    recorded: bool
    data_version: int


@dataclass(frozen=True, kw_only=True)
class FileList:
    """Every file ever loaded, the latest first, and the states that files gave the lists of the job."""

    name: str
    data_version: int
    files: Sequence[LoadedFile]
    lists: Sequence[StatesOfList]
