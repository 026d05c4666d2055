"""What the office does in the browser: what is declared, and who may sign in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.change import ReadFile
from linemap.answers.line import Waiting
from linemap.domain.record.person import Role


@dataclass(frozen=True, kw_only=True)
class DeclaredPart:
    """One thing declared: a setting, or one part (a tolerance, a step) of one that has parts.

    `written` is how a person would write it, "" = not declared; `declared` is false for what is taken where
    nobody declares it. `who`, `at` (ISO, "" = not known) and `source` are of the last declaration.
    """

    #: "" = the setting has no parts.
    part: str
    label: str
    written: str
    declared: bool
    who: str
    at: str
    #: Document it comes from, or that it has none.
    source: str


@dataclass(frozen=True, kw_only=True)
class DeclaredSetting:
    """One setting of the job with what is declared of it now.

    `choices` are all that can be written, () = free text; `roles` may declare it, `may` says whether whoever
    asks is among them, `locked` why it cannot be declared any more, "" = it can.
    """

    name: str
    label: str
    noun: str
    means: str
    example: str
    unit: str
    shows: str
    choices: Sequence[str]
    roles: Sequence[Role]
    may: bool
    locked: str
    parts: Sequence[DeclaredPart]


@dataclass(frozen=True, kw_only=True)
class SettingNoun:
    """A noun that settings are gathered by, and its words."""

    key: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Declarations:
    """Everything the job declares, in the order of the page, and what waits for a declaration."""

    data_version: int
    #: The other time it is of, in words; "" = now.
    when: str
    #: True for whoever sits at the machine of a job without people: they say their name.
    local: bool
    waits: Sequence[Waiting]
    nouns: Sequence[SettingNoun]
    settings: Sequence[DeclaredSetting]


#: How a device stands: "ended" = its password's time is over.
DeviceState = Literal["in use", "link waits", "link too old", "ended", "kept out"]


@dataclass(frozen=True, kw_only=True)
class DeviceAnswer:
    """One phone or browser of a person; moments are ISO texts, "" = never."""

    id: int
    label: str
    #: "link" for a phone signed in by a link, "password" for a browser.
    kind: str
    state: DeviceState
    made_at: str
    last_seen: str


@dataclass(frozen=True, kw_only=True)
class PersonAnswer:
    """One person of the job with every device they had."""

    name: str
    role: Role
    #: Offices they hold when holds are released, in the words of the holds.
    releases: Sequence[str]
    #: Crew they claim structures for; "" = any.
    crew: str
    password: bool
    kept_out: bool
    devices: Sequence[DeviceAnswer]


@dataclass(frozen=True, kw_only=True)
class PeopleAnswer:
    """Everybody of the job, and the offices that holds of the job name."""

    #: Address the links of new devices are made for.
    address: str
    #: True while the job has nobody: the first person must be a manager.
    open: bool
    roles: Sequence[Role]
    offices: Sequence[str]
    people: Sequence[PersonAnswer]


@dataclass(frozen=True, kw_only=True)
class SignInLink:
    """What a new device is signed in with, shown once.

    `link` is the page alone where a password was given and no device. `square` is the link as a square code,
    an SVG text; "" where there is no code to scan.
    """

    name: str
    link: str
    once: bool
    square: str


@dataclass(frozen=True, kw_only=True)
class Selection:
    """How many structures a choice is of, and which in words."""

    count: int
    words: str


#: Easting and northing of a drawing: as the files write them, or of the chosen coordinate reference.
Spot = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class DrawnFile:
    """What of a file is drawn: lines by their vertices, and named places; of many places only some.

    `words` say the same: how many points, from where to where, and whether they lie far from other files.
    """

    name: str
    lines: Sequence[Sequence[Spot]]
    places: Sequence[tuple[str, Spot]]
    words: str


@dataclass(frozen=True, kw_only=True)
class LookedAt:
    """The files brought for a job to be made, as they read, and where their coordinates lie.

    While `state` is "reading" only `share` (0 to 1) says anything. `drawn` are the files with points.
    """

    state: Literal["reading", "ready"]
    share: float
    files: Sequence[ReadFile]
    drawn: Sequence[DrawnFile]
    #: Projected coordinate reference that a file declares, "" = none.
    crs: str
    #: Sign of the unit of the drawing; "" = the files do not say it.
    unit: str
    #: Where on earth the chosen reference puts them, and whether it is made for that place.
    where: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Start:
    """What stands at the place where a job may be made: jobs to open, what can be declared."""

    place: str
    #: True when the place is a folder, where a job is named after itself.
    folder: bool
    jobs: Sequence[str]
    settings: Sequence[DeclaredSetting]


@dataclass(frozen=True, kw_only=True)
class FoundReference:
    """One projected coordinate reference by the words of its name."""

    crs: str
    name: str
    #: Where it puts the files brought; "" = there is nothing to put.
    lies: str


@dataclass(frozen=True, kw_only=True)
class Opened:
    """The job that is served now; `proposal` holds the files brought, "" = there were none."""

    name: str
    proposal: str


@dataclass(frozen=True, kw_only=True)
class NumberPreview:
    """How a listed number is read ("" = not built as the numbering says), its place by number, its poles."""

    line: str
    number: str
    read: str
    place: int
    poles: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class NamingAnswer:
    """What a numbering and words for poles come to: the first numbers of `count`, and what stays unclear."""

    count: int
    numbers: Sequence[NumberPreview]
    #: Cells of other lists, records and shots by which several structures, or none, may be meant.
    unclear: Sequence[str]
