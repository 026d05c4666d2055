"""A job as it stands: everything loaded from the database and computed once, for one data version."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from linemap.domain.anchor_check import AnchorCheck, AnchorTolerances, check_anchors
from linemap.domain.briefed import Briefed
from linemap.domain.cause import Cause
from linemap.domain.causes import find_causes
from linemap.domain.claim import Claim
from linemap.domain.context import ContextFeature
from linemap.domain.crossing import Crossing
from linemap.domain.decision import Decision, DecisionKey, corrected_shots, standing
from linemap.domain.declaration import Declaration
from linemap.domain.event import Event
from linemap.domain.fact import RecordedFact, facts_by_structure
from linemap.domain.figures import Figures, figures, network_of
from linemap.domain.finding import Finding
from linemap.domain.framing_type import FramingType, framing_types
from linemap.domain.guy import Guy
from linemap.domain.hold import Hold, holds_by_structure
from linemap.domain.hold_release import HoldRelease, apply_releases
from linemap.domain.line import Line
from linemap.domain.material import Receipt
from linemap.domain.orientation import Checks, check, withhold
from linemap.domain.plan import Baseline
from linemap.domain.punch import PunchEntry
from linemap.domain.replay import corrected_ids
from linemap.domain.review import review
from linemap.domain.set_poles import SetPoles, cluster_poles
from linemap.domain.shot import Shot
from linemap.domain.status import StructureStatus, fold
from linemap.domain.structure import Pole, Structures
from linemap.domain.structure_type import StructureType
from linemap.domain.ticket import Ticket
from linemap.domain.tolerance import Tolerances
from linemap.domain.workdays import MON_THU, Calendar
from linemap.domain.workflow import Workflow
from linemap.errors import NotFound
from linemap.geometry.alignment import Network
from linemap.geometry.geodesy import Projection
from linemap.service.columns import findings_by_row
from linemap.service.factor import mean_factor
from linemap.service.rules import AUTO, read_blocks_owned
from linemap.store.claims import load_briefings, load_claims
from linemap.store.context import load_crossings, load_features
from linemap.store.database import Database
from linemap.store.decisions import load_decisions
from linemap.store.events import since
from linemap.store.facts import load_facts
from linemap.store.framing import load_framing
from linemap.store.guys import load_guys
from linemap.store.hold_releases import load_releases
from linemap.store.holds import load_holds
from linemap.store.job import load_job
from linemap.store.lines import load_lines
from linemap.store.plans import load_baselines
from linemap.store.punch import load_punch
from linemap.store.receipts import load_receipts
from linemap.store.revisions import RecordedChange, changes
from linemap.store.shots import load_shots
from linemap.store.structures import load_poles, load_structures
from linemap.store.tickets import load_tickets
from linemap.store.types import load_types

_Record = TypeVar("_Record", Briefed, Claim, Event, Pole, Shot)

__all__ = [
    "CAUTION",
    "STAGES",
    "Computed",
    "JobView",
    "build_view",
    "by_structure",
    "compute_view",
    "pole_letters",
    "recorded_findings",
    "shown_events",
]

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JobView:
    """One data version of a job, computed. Rows are rows of `figures`."""

    name: str
    data_version: int
    #: Data version of the last change to anything but the record of the field.
    base_version: int
    #: Day whose end the status is shown for.
    as_of: dt.date
    tile_url: str
    tile_attribution: str
    projection: Projection
    network: Network
    figures: Figures
    set_poles: SetPoles
    checks: Checks
    #: The guy schedule, and what the surveyed anchors say of it.
    guys: tuple[Guy, ...]
    anchor_checks: tuple[AnchorCheck, ...]
    tolerances: Tolerances
    declaration: Declaration
    #: Shots as observed, before accepted corrections.
    observed_shots: tuple[Shot, ...]
    #: All decisions ever taken on causes, withdrawn ones included.
    decisions: tuple[Decision, ...]
    #: Explanations of the survey's exceptions, in line order; none is applied unasked.
    causes: Sequence[Cause]
    #: One sentence for each correction that is applied.
    correction_notes: tuple[str, ...]
    workflow: Workflow
    #: All findings: on the figures, the shots and the checks.
    findings: tuple[Finding, ...]
    findings_by_row: Mapping[int, list[Finding]]
    statuses: Mapping[tuple[str, str], StructureStatus]
    #: Every hold of the job, released ones included, and the record of releases.
    holds: tuple[Hold, ...]
    releases: tuple[HoldRelease, ...]
    holds_by_row: Mapping[int, list[Hold]]
    events_by_structure: Mapping[tuple[str, str], list[Event]]
    #: All claims and briefings in the order of receipt, those that have ended included.
    claims_by_structure: Mapping[tuple[str, str], list[Claim]]
    briefings_by_structure: Mapping[tuple[str, str], list[Briefed]]
    poles_by_structure: Mapping[tuple[str, str], list[Pole]]
    shots_by_structure: Mapping[tuple[str, str], list[Shot]]
    #: What revisions of the lists changed, in words, oldest first.
    changes_by_structure: Mapping[tuple[str, str], list[str]]
    crossings: tuple[Crossing, ...]
    context: tuple[ContextFeature, ...]
    types: Mapping[str, StructureType]
    row_of: Mapping[tuple[str, str], int]
    #: The owner's framing table by type code.
    framing: Mapping[str, FramingType] = field(default_factory=dict)
    #: Stringing blocks the job owns; None = not declared.
    blocks_owned: int | None = None
    #: What was seen or measured by the end of the day shown, in the order recorded.
    facts_by_structure: Mapping[tuple[str, str], list[RecordedFact]] = field(default_factory=dict)
    #: Frozen plans, in the order they were loaded.
    baselines: tuple[Baseline, ...] = ()
    #: Worked days of the job.
    calendar: Calendar = MON_THU
    #: False when the work week is taken, not declared.
    calendar_declared: bool = False
    #: Locate tickets and the yard's list, in the order of their files.
    tickets: tuple[Ticket, ...] = ()
    receipts: tuple[Receipt, ...] = ()
    #: Everything written on the punch list.
    punch: tuple[PunchEntry, ...] = ()

    def key(self, row: int) -> tuple[str, str]:
        """Return (line name, structure number) of a row."""
        return self.figures.lines[self.figures.line_index[row]].name, self.figures.structures.number[row]

    def row(self, line: str, number: str) -> int:
        """Return the row of a structure; the line may be "" when the job has one line.

        Raises
        ------
        NotFound
            If the job has no such structure.
        """
        if not line and len(self.figures.lines) == 1:
            line = self.figures.lines[0].name
        row = self.row_of.get((line, number))
        if row is None:
            raise NotFound(f"the job has no structure {number} on line {line or '(not named)'}")
        return row

    def stage(self, row: int) -> str:
        """Return the stage code of a row, "none" when nothing is recorded."""
        return self.stage_at(self.key(row))

    def stage_at(self, key: tuple[str, str]) -> str:
        """Return the stage code of a structure by (line, number)."""
        status = self.statuses.get(key)
        if status is None or not status.stage:
            return "none"
        return "inspected" if status.stage == "set" and "inspected" in status.done else status.stage


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Computed:
    """A view with what it takes to bring new records into it; never shown to anyone."""

    view: JobView
    #: Place of the last event in the order of receipt.
    last_seq: int
    #: Findings on the figures, the shots and the checks: all but those on the record.
    findings: tuple[Finding, ...]
    findings_by_row: Mapping[int, list[Finding]]
    #: Checks before verdicts are withheld, and the shots after accepted corrections.
    judged: Checks
    shots: tuple[Shot, ...]
    rejected: tuple[DecisionKey, ...]
    #: Identifiers of events that others correct, among those of the day shown and before.
    corrected: frozenset[str]


def build_view(
    database: Database,
    *,
    today: dt.date,
    as_of: dt.date | None = None,
    tile_url: str = "",
    tile_attribution: str = "",
) -> JobView:
    """Load a whole job in one transaction and compute it; see `compute_view`."""
    return compute_view(
        database, today=today, as_of=as_of, tile_url=tile_url, tile_attribution=tile_attribution
    ).view


def compute_view(
    database: Database,
    *,
    today: dt.date,
    as_of: dt.date | None = None,
    tile_url: str = "",
    tile_attribution: str = "",
) -> Computed:
    """Load a whole job in one transaction and compute it, ready to take in new records.

    Parameters
    ----------
    database : Database
    today : datetime.date
        The clock of the caller, used when neither `as_of` nor the job's data date is given.
    as_of : datetime.date, optional
        Show the job as of the end of this day.
    tile_url, tile_attribution : str
        Passed through to the page.

    Raises
    ------
    NotFound
        If the job has no line with structures yet.
    """
    with database.reading() as connection:
        record = load_job(connection)
        loaded_lines = load_lines(connection)
        structures = load_structures(connection)
        poles = load_poles(connection)
        guys = load_guys(connection)
        facts = load_facts(connection)
        observed = load_shots(connection)
        decisions = load_decisions(connection)
        received = since(connection, 0)
        claims = load_claims(connection)
        briefings = load_briefings(connection)
        releases = load_releases(connection)
        all_holds = apply_releases(load_holds(connection), releases)
        crossings = load_crossings(connection)
        features = load_features(connection)
        type_table = load_types(connection)
        framing = framing_types(load_framing(connection))
        baselines = load_baselines(connection)
        tickets, receipts = load_tickets(connection), load_receipts(connection)
        punch = load_punch(connection)
        changed = [
            (line.name, recorded) for line in loaded_lines for recorded in changes(connection, line.name)
        ]
    if not loaded_lines or not len(structures):
        raise NotFound(
            f"job {record.name} has no line with structures yet: load a centreline and a structure list"
        )
    all_events = tuple(each.event for each in received)
    projection = Projection.from_text(loaded_lines[0].crs)
    types = {entry.code: entry for entry in type_table}
    declaration = record.declaration(projection.unit)
    structures = _with_types(structures, types)
    if declaration.combined_factor.strip().casefold() == AUTO:
        loaded_lines = _with_mean_factors(loaded_lines, structures, projection)
    computed = figures(loaded_lines, structures, projection=projection)
    tolerances = record.tolerances(loaded_lines[0].unit)
    shots, correction_notes = corrected_shots(observed, decisions)
    set_poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    judged = check(computed, set_poles, tolerances)
    rejected = tuple(key for key, decision in standing(decisions).items() if decision.answer == "rejected")
    causes = find_causes(
        computed,
        set_poles,
        judged,
        shots,
        events=all_events,
        tolerances=tolerances,
        poles=poles,
        workflow=record.workflow,
        rejected=rejected,
    )
    checks = withhold(judged, computed, missing=declaration.missing)
    anchor_checks, anchor_findings = check_anchors(
        computed,
        set_poles,
        guys,
        shots,
        tolerances,
        anchor_tolerances=AnchorTolerances.default(loaded_lines[0].unit),
    )
    day = as_of or record.data_date or today
    shown = shown_events(all_events, day)
    statuses = fold(shown, record.workflow, pole_letters=pole_letters(computed))
    standing_findings = (*review(computed), *set_poles.findings, *checks.findings, *anchor_findings)
    found = (*standing_findings, *recorded_findings(statuses))
    row_of = {
        (computed.lines[computed.line_index[row]].name, number): row
        for row, number in enumerate(computed.structures.number)
    }
    view = JobView(
        name=record.name,
        data_version=record.data_version,
        base_version=record.base_version,
        as_of=day,
        tile_url=tile_url,
        tile_attribution=tile_attribution,
        projection=projection,
        network=network_of(computed.lines),
        figures=computed,
        set_poles=set_poles,
        checks=checks,
        guys=guys,
        anchor_checks=anchor_checks,
        tolerances=tolerances,
        declaration=declaration,
        observed_shots=observed,
        decisions=decisions,
        causes=causes,
        correction_notes=correction_notes,
        workflow=record.workflow,
        findings=found,
        findings_by_row=findings_by_row(computed, found),
        statuses=statuses,
        holds=all_holds,
        releases=releases,
        holds_by_row={
            row_of[key]: list(held) for key, held in holds_by_structure(all_holds, row_of, on=day).items()
        },
        events_by_structure=by_structure(all_events),
        claims_by_structure=by_structure(claims),
        briefings_by_structure=by_structure(briefings),
        poles_by_structure=by_structure(poles),
        shots_by_structure=by_structure(shots, only_line=_only_line(computed)),
        changes_by_structure=_changes(changed),
        crossings=crossings,
        context=features,
        types=types,
        row_of=row_of,
        framing=framing,
        blocks_owned=read_blocks_owned(str(record.settings.get("blocks_owned") or "")),
        facts_by_structure=facts_by_structure(facts, only_line=_only_line(computed), until=day),
        baselines=baselines,
        calendar=record.calendar or MON_THU,
        calendar_declared=record.calendar is not None,
        tickets=tickets,
        receipts=receipts,
        punch=punch,
    )
    return Computed(
        view=view,
        last_seq=received[-1].seq if received else 0,
        findings=standing_findings,
        findings_by_row=findings_by_row(computed, standing_findings),
        judged=judged,
        shots=shots,
        rejected=rejected,
        corrected=corrected_ids(shown),
    )


def shown_events(events: Iterable[Event], day: dt.date) -> list[Event]:
    """Return the events that had happened by the end of the day shown."""
    return [event for event in events if event.moment.date() <= day]


def recorded_findings(statuses: Mapping[tuple[str, str], StructureStatus]) -> tuple[Finding, ...]:
    """Return what the record itself gives to look at."""
    return tuple(finding for status in statuses.values() for finding in status.findings)


def _with_mean_factors(
    loaded: tuple[Line, ...], structures: Structures, projection: Projection
) -> tuple[Line, ...]:
    """Give every line the mean factor of its structures."""
    factors = [mean_factor(line.name, structures, projection) for line in loaded]
    return tuple(
        replace(line, combined_factor=factor, combined_factor_declared=True)
        for line, factor in zip(loaded, factors, strict=True)
    )


def _with_types(structures: Structures, types: Mapping[str, StructureType]) -> Structures:
    """Fill what the structure list leaves at its default from the owner's type table."""
    known = [types.get(code) for code in structures.type_code]
    if not any(known):
        return structures
    spacing, count = structures.spacing.copy(), structures.pole_count.copy()
    rule, breaks = structures.rule.copy(), structures.section_break.copy()
    for row, entry in enumerate(known):
        if entry is None:
            continue
        if entry.spacing is not None and np.isnan(spacing[row]):
            spacing[row] = entry.spacing
        count[row] = max(count[row], entry.pole_count)
        rule[row] = rule[row] or entry.rule
        breaks[row] |= entry.section_break
    return replace(structures, spacing=spacing, pole_count=count, rule=rule, section_break=breaks)


def _changes(changed: list[tuple[str, RecordedChange]]) -> dict[tuple[str, str], list[str]]:
    gathered: dict[tuple[str, str], list[str]] = {}
    for line, recorded in changed:
        label = f"Rev {recorded.label}" if recorded.label else recorded.loaded_at.date().isoformat()
        gathered.setdefault((line, recorded.change.number), []).append(f"{label}: {recorded.change.words}")
    return gathered


def _only_line(computed: Figures) -> str:
    return computed.lines[0].name if len(computed.lines) == 1 else ""


def pole_letters(computed: Figures) -> dict[tuple[str, str], str]:
    """Return the poles of each structure, "AB" or "ABC"."""
    return {
        (computed.lines[index].name, number): "ABC"[: int(count)]
        for index, number, count in zip(
            computed.line_index, computed.structures.number, computed.structures.pole_count, strict=True
        )
    }


def by_structure(
    records: tuple[_Record, ...], *, only_line: str = ""
) -> dict[tuple[str, str], list[_Record]]:
    """Gather records by (line, structure); `only_line` is the line of those that name none."""
    gathered: dict[tuple[str, str], list[_Record]] = {}
    for record in records:
        gathered.setdefault((record.line or only_line, record.structure), []).append(record)
    return gathered
