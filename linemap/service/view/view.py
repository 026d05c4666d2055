"""A job as it stands: everything loaded from the database and computed once, for one data version."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np

from linemap import __version__
from linemap.answers.line import Waiting
from linemap.domain.causes.cause import Cause, CorrectionNote, DecisionKey
from linemap.domain.causes.session_verdict import Solution
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.in_force import InForce
from linemap.domain.crew.wind import WindLimit
from linemap.domain.crew_check.record import StandingCheck
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Catenary, Declaration
from linemap.domain.design.naming import AmbiguousNumber, Naming
from linemap.domain.design.revision import Revised
from linemap.domain.design.structure import Pole, StructureType
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.ledger import Ledger
from linemap.domain.framing.framing_type import FramingType
from linemap.domain.guying.anchor_check import AnchorCheck
from linemap.domain.kind.when import When
from linemap.domain.record.case import Case
from linemap.domain.record.claim import Claim
from linemap.domain.record.event import Event
from linemap.domain.record.moved import Moved
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.record.workflow import Workflow
from linemap.domain.schedule.plan import MON_THU, Calendar
from linemap.domain.staking.stakeout import StakePlan
from linemap.domain.survey.control_check import CheckIn
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.proof import EvidenceRule
from linemap.domain.survey.session import CheckIns
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks
from linemap.errors import NotFound
from linemap.geometry.alignment import Network
from linemap.geometry.crs import zone_at
from linemap.geometry.projection import Projection
from linemap.service.job.job import waits_for
from linemap.service.job.stored import Kept
from linemap.units import LengthUnit

#: Printed wherever positions, holds or crossings are shown.
CAUTION = (
    "Positions and records only. Treat every wire as energized. The stamped drawing, the owner's "
    "specification, local codes and the person in charge govern; a licensed surveyor or engineer decides."
)

#: Framing stages in order, as shown on the map: code and words.
STAGES: tuple[tuple[str, str], ...] = (
    ("none", "nothing recorded"),
    ("staked", "staked"),
    ("spotted", "poles spotted"),
    ("dug", "dug"),
    ("framed", "framed"),
    ("set", "set"),
    ("inspected", "inspected"),
)


def zone_of(declared: str, figures: Figures) -> str:
    """Return the time zone of a job, by its IANA name: as declared, else where its structures stand."""
    if declared or not len(figures):
        return declared
    return zone_at(*(round(float(np.nanmean(each)), 3) for each in (figures.longitude, figures.latitude)))


def in_zone(moment: dt.datetime, zone: str) -> dt.datetime:
    """Return a moment by the clock of a time zone; "" leaves it as it is."""
    return moment.astimezone(ZoneInfo(zone)) if zone else moment


@dataclass(frozen=True, slots=True, weakref_slot=True, kw_only=True, eq=False)
class JobView(Kept):
    """One data version of a job, computed. Rows are rows of `figures`."""

    name: str
    #: Random identifiers of the job, and of this life of it.
    identity: str
    incarnation: str
    data_version: int
    #: Data version of the last change to anything but the record of the field.
    base_version: int
    #: Day whose end the status is shown for, and the one that was asked for, which may be later than known.
    as_of: dt.date
    asked_for: dt.date
    #: Time zone that is declared, by its IANA name; "" = that of the place.
    zone_declared: str
    #: The time it is of, where that was asked for; then nothing may be recorded or declared from it.
    when: When
    projection: Projection
    network: Network
    figures: Figures
    #: How the job names its structures and poles.
    naming: Naming
    set_poles: SetPoles
    checks: Checks
    #: What the surveyed anchors say of the guy schedule.
    anchor_checks: tuple[AnchorCheck, ...]
    #: Shots on control points, with what they say of the survey.
    check_ins: tuple[CheckIn, ...]
    tolerances: Tolerances
    declaration: Declaration
    #: Explanations of the survey's exceptions, in line order; none is applied unasked.
    causes: Sequence[Cause]
    #: One sentence for each correction that is applied.
    correction_notes: tuple[CorrectionNote, ...]
    workflow: Workflow
    #: All findings: on the figures, the shots, the checks, the anchors and the record.
    ledger: Ledger
    statuses: Mapping[tuple[str, str], StructureStatus]
    holds_by_row: Mapping[int, list[Hold]]
    events_by_structure: Mapping[tuple[str, str], list[Event]]
    #: Identifiers of the events that others, of whichever structure, correct by the day shown.
    corrected: frozenset[str]
    #: Record -> where it belongs, of those that were moved; `events_by_structure` has them there.
    moved: Mapping[str, Moved]
    #: What records went against, by structure, closed cases included; also of structures in no list.
    cases: Mapping[tuple[str, str], tuple[Case, ...]]
    #: All claims in the order of receipt, those that have ended included.
    claims_by_structure: Mapping[tuple[str, str], list[Claim]]
    poles_by_structure: Mapping[tuple[str, str], list[Pole]]
    shots_by_structure: Mapping[tuple[str, str], list[Shot]]
    #: What revisions of the lists changed, in words, oldest first.
    changes_by_structure: Mapping[tuple[str, str], list[Revised]]
    types: Mapping[str, StructureType]
    row_of: Mapping[tuple[str, str], int]
    #: Names of the guys of each structure, where the workflow has a step of each guy; else none.
    guy_names: Mapping[tuple[str, str], tuple[str, ...]]
    #: The owner's framing table by type code.
    framing: Mapping[str, FramingType] = field(default_factory=dict)
    #: Stringing blocks the job owns; None = not declared.
    blocks_owned: int | None = None
    #: What was seen or measured by the end of the day shown, in the order recorded.
    facts_by_structure: Mapping[tuple[str, str], list[RecordedFact]] = field(default_factory=dict)
    #: What is declared of the nearest hospital and who is told of it, in sentences; shown as declared.
    emergency: tuple[str, ...] = ()
    #: Roles whose closing of a punch item counts; () = of whoever records.
    punch_roles: tuple[str, ...] = ()
    #: Limits of wind that the employer entered.
    wind_limits: tuple[WindLimit, ...] = ()
    #: Day on which the job began: its first structure list came. None = it has none.
    begun: dt.date | None = None
    #: Revision of the plan that slip is measured against; "" = the first that came.
    baseline_declared: str = ""
    #: Worked days of the job.
    calendar: Calendar = MON_THU
    #: False when the work week is taken, not declared.
    calendar_declared: bool = False
    #: Step -> what verifies its record, and where that is written.
    evidence_rules: Mapping[str, EvidenceRule] = field(default_factory=dict)
    #: Catenary constant declared for the job; None = not declared, and there is no weight span then.
    catenary: Catenary | None = None
    #: Crew checks that stand by the end of the day shown, the oldest first.
    crew_checks: Mapping[tuple[str, str], Sequence[StandingCheck]] = field(default_factory=dict)
    #: Offset stakes that are set out at every structure.
    stake_plan: StakePlan = field(default_factory=StakePlan)

    @property
    def mark(self) -> str:
        """Return what tells everything made of this job, in this life, by this linemap from all else."""
        made_by = f"{self.identity} {self.incarnation} {__version__}"
        return hashlib.sha256(made_by.encode()).hexdigest()[:16]

    @property
    def zone(self) -> str:
        """Return the time zone whose calendar and clock the job goes by, by its IANA name; "" = not known."""
        return zone_of(self.zone_declared, self.figures)

    def moment(self, now: dt.datetime) -> dt.date:
        """Return what holds and tickets are held against: the moment by the job's clock.

        Of a job that is shown for another day than that of `now`, that whole day.
        """
        local = in_zone(now, self.zone)
        return local.replace(tzinfo=None) if local.date() == self.as_of else self.as_of

    @property
    def unit(self) -> LengthUnit:
        """Return the ground unit of the job's lines."""
        return self.projection.unit

    @property
    def waits(self) -> tuple[Waiting, ...]:
        """Return what is not loaded or declared yet, and what waits for it."""
        return waits_for(
            lines=len(self.figures.lines), structures=len(self.figures), declaration=self.declaration
        )

    @property
    def source(self) -> str:
        """Return what files and paper say of the job they were made from, and by which linemap."""
        made = f"job {self.identity}, life {self.incarnation}, linemap {__version__}"
        return f"{made}, {self.when.words}" if self.when.words else made

    def key(self, row: int) -> tuple[str, str]:
        """Return (line name, structure number) of a row."""
        return self.figures.key(row)

    def named(self, key: tuple[str, str]) -> str:
        """Return what names a structure, on paper and in a search: its number, after its line of several."""
        return key[1] if self.figures.only_line else " ".join(key)

    def row(self, line: str, number: str) -> int:
        """Return the row of a structure, its number written in any way; the line may be "" when there is one.

        Raises
        ------
        NotFound
            If there is none, or several that the number may mean.
        """
        line = line or self.figures.only_line
        row = self.row_of.get((line, number))
        if row is None:
            meant = self.naming.listed.meant(number, line) if line else ()
            if len(meant) > 1:
                raise NotFound(str(AmbiguousNumber(number, meant)))
            row = self.row_of.get((line, meant[0])) if meant else None
        if row is None:
            raise NotFound(f"the job has no structure {number} on line {line or '(not named)'}")
        return row

    def keys_of(self, cause: Cause) -> list[tuple[str, str]]:
        """Return (line, structure number) of what a cause explains; one without a line is of all lines."""
        lines = [line.name for line in self.figures.lines if cause.line in ("", line.name)]
        keys = ((line, number) for line in lines for number in cause.structures)
        return [key for key in keys if key in self.row_of]

    def causes_at(self, row: int) -> list[Cause]:
        """Return the causes proposed for the structure of a row, in the order of all causes."""
        line, number = self.key(row)
        return [cause for cause in self.causes if number in cause.structures and cause.line in ("", line)]

    def stage_at(self, key: tuple[str, str]) -> str:
        """Return the stage code of a structure by (line, number), "none" when nothing is recorded."""
        return self.statuses.get(key, NOTHING_RECORDED).shown_stage


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Computed:
    """A view with what it takes to bring new records into it; never shown to anyone."""

    view: JobView
    #: Place of the last event in the order of receipt.
    last_seq: int
    #: What records are held against.
    in_force: InForce
    #: Checks of each frame by itself, what its session shares, and the shots after accepted corrections.
    judged: Checks
    solution: Solution
    #: Check-ins of the shots after accepted corrections.
    on_control: CheckIns
    shots: tuple[Shot, ...]
    rejected: tuple[DecisionKey, ...]
