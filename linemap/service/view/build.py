"""Compute a job from what it keeps: figures, checks, causes, status, once for one data version."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import TypeVar

import numpy as np

from linemap.domain.crew.reach import Coverage
from linemap.domain.crew.recorded_against import recorded_against
from linemap.domain.crew.wind import wind_limits
from linemap.domain.design.compute_figures import figures, mean_factor, some_line
from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.line import Line, saved_catenary
from linemap.domain.design.structure import Pole, Structures, StructureType
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.ledger import Ledger
from linemap.domain.framing.framing_type import framing_types
from linemap.domain.guying.anchor import anchors_at_crossings
from linemap.domain.kind.when import NOW, When
from linemap.domain.record.claim import Claim
from linemap.domain.record.declared_work import guys_by_structure
from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import fold
from linemap.domain.schedule.plan import MON_THU
from linemap.domain.survey.fact import facts_by_structure
from linemap.domain.survey.part_shots import part_findings
from linemap.domain.survey.plumb import reading_findings
from linemap.domain.survey.proof import evidence_rules
from linemap.domain.survey.review import review
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.unread import unread_findings
from linemap.geometry.projection import Projection
from linemap.service.job.declared import AUTO, read_blocks_owned
from linemap.service.job.load_stored import load_stored
from linemap.service.job.stored import Kept, Stored
from linemap.service.job.surveying import stake_plan
from linemap.service.view.crew_checks import CheckedFrames, beside
from linemap.service.view.proved import claimed_of
from linemap.service.view.recorded import (
    changes_of,
    in_force_of,
    loading_found,
    recorded_findings,
    shown_events,
    with_places,
)
from linemap.service.view.solved import solve_survey
from linemap.service.view.view import Computed, JobView, in_zone, zone_of
from linemap.store.database import Database

_Record = TypeVar("_Record", Claim, Event, Pole, Shot)


def build_view(database: Database, *, today: dt.date, when: When = NOW) -> JobView:
    """Load a whole job in one transaction and compute it; see `compute_view`."""
    return compute_view(database, today=today, when=when).view


def compute_view(
    database: Database, *, today: dt.date, when: When = NOW, data_date: dt.date | None = None
) -> Computed:
    """Load a whole job in one transaction and compute it, ready to take in new records.

    It is shown for the end of the day that `when` asks for, else of `data_date`, else of the job's data date,
    else of the caller's `today`, which may be a moment: then of the day it is in the job's zone. As known by
    an earlier day, it is shown for that one: nothing after it can have been known. A job that has, or had
    then, no lines or structures is one of no rows.
    """
    with database.reading() as connection:
        stored = load_stored(connection, when)
    return compute_stored(stored, today=today, when=when, data_date=data_date)


def compute_stored(
    stored: Stored, *, today: dt.date, when: When = NOW, data_date: dt.date | None = None
) -> Computed:
    """Compute a job that is read already; see `compute_view`."""
    record, loaded_lines, all_events = stored.record, stored.lines, stored.events
    projection = Projection.from_text(loaded_lines[0].crs if loaded_lines else str(record.settings["crs"]))
    types = {entry.code: entry for entry in stored.types}
    declaration = record.declaration(projection.unit)
    structures = _with_types(stored.structures, types)
    if declaration.combined_factor.strip().casefold() == AUTO:
        loaded_lines = _with_mean_factors(loaded_lines, structures, projection)
        without = (line.name for line in loaded_lines if not line.combined_factor_declared)
        declaration = replace(declaration, no_elevations=tuple(without))
    computed = replace(
        figures(loaded_lines, structures, projection=projection), pole_words=stored.naming.poles
    )
    stored = with_places(stored, computed)
    tolerances = Tolerances.from_entries(stored.tolerances, projection.unit)
    survey = solve_survey(stored, computed, tolerances.in_words(stored.naming.poles), declaration)
    zone_declared = str(record.settings.get("time_zone") or "")
    asked_for = when.as_of or data_date or record.data_date or _day(today, zone_declared, computed)
    day = min(asked_for, when.known_by or asked_for)
    shown = shown_events(all_events, day)
    guys = guys_by_structure(stored.guys, only_line=computed.only_line) if record.workflow.has("guy") else {}
    statuses = fold(shown, record.workflow, pole_letters=computed.letters_by_key(), guys=guys)
    keys = computed.keys()
    in_force = in_force_of(stored, survey.tolerances, zone=zone_of(zone_declared, computed))
    events, corrected = by_structure(all_events), corrected_ids(shown)
    against = recorded_against(
        statuses,
        in_force,
        record.workflow,
        events=events if len(shown) == len(all_events) else by_structure(tuple(shown)),
        corrected=corrected,
    )
    facts = facts_by_structure(stored.facts, only_line=computed.only_line, until=day)
    row_of = {key: row for row, key in enumerate(keys)}
    frames = CheckedFrames(
        figures=computed,
        row_of=row_of,
        tolerances=survey.tolerances,
        set_poles=survey.set_poles,
        checks=survey.checks,
        shots=by_structure(survey.shots, only_line=computed.only_line),
    )
    checked = by_structure(tuple(each for each in shown if each.what == "check"))
    crew_checks = frames.standing(checked, corrected, in_force)
    ledger = Ledger(
        lambda: keys,
        (
            *review(computed),
            *unread_findings(survey.unheld_shots, stored.naming, computed.only_line),
            *survey.set_poles.findings,
            *part_findings(computed, survey.set_poles, survey.shots, survey.tolerances),
            *survey.checks.findings,
            *survey.anchor_findings,
            *survey.control_findings,
            *anchors_at_crossings(
                computed, (each.required for each in survey.anchor_checks), stored.crossings
            ),
            *reading_findings(computed, facts, survey.tolerances),
            *loading_found(stored, computed),
        ),
        beside(recorded_findings(statuses, against), frames.findings(crew_checks, checked)),
        calls=None if stored.naming.poles.is_plain else stored.naming.called,
    )
    held = Coverage(each for hold in stored.holds if hold.active(day) for each in (hold, *hold.on_wire()))
    view = JobView(
        **{kept.name: getattr(stored, kept.name) for kept in fields(Kept)},
        name=record.name,
        identity=record.identity,
        incarnation=record.incarnation,
        data_version=record.data_version,
        base_version=record.base_version,
        as_of=day,
        asked_for=asked_for,
        zone_declared=zone_declared,
        when=when,
        projection=projection,
        network=network_of(computed.lines or [some_line(projection)]),
        figures=computed,
        naming=stored.naming,
        set_poles=survey.set_poles,
        checks=survey.checks,
        anchor_checks=survey.anchor_checks,
        check_ins=survey.check_ins,
        tolerances=survey.tolerances,
        declaration=declaration,
        causes=survey.causes,
        correction_notes=survey.correction_notes,
        workflow=record.workflow,
        ledger=ledger,
        statuses=statuses,
        holds_by_row={row_of[key]: list(there) for key, there in held.by_structure(row_of).items()},
        events_by_structure=events,
        corrected=corrected,
        moved=stored.moved,
        cases={key: judged.cases for key, judged in against.items() if judged.cases},
        crew_checks=crew_checks,
        claims_by_structure=by_structure(stored.claims),
        poles_by_structure=by_structure(stored.poles),
        shots_by_structure=frames.shots,
        changes_by_structure=changes_of(stored),
        types=types,
        row_of=row_of,
        guy_names=guys,
        framing=framing_types(stored.framing),
        blocks_owned=read_blocks_owned(str(record.settings.get("blocks_owned") or "")),
        facts_by_structure=facts,
        emergency=record.emergency,
        punch_roles=tuple((record.settings.get("punch_roles") or {}).get("roles", ())),
        wind_limits=wind_limits(record.settings),
        begun=stored.begun,
        baseline_declared=str(record.settings.get("baseline") or ""),
        calendar=record.calendar or MON_THU,
        calendar_declared=record.calendar is not None,
        evidence_rules=evidence_rules(record.settings.get("evidence") or {}),
        catenary=saved_catenary(record.settings.get("catenary_constant")),
        stake_plan=stake_plan(record.settings, survey.tolerances.unit),
    )
    return Computed(
        view=replace(view, ledger=ledger.with_recorded({}, claimed_of(view), touched=())),
        last_seq=stored.received[-1].seq if stored.received else 0,
        in_force=in_force,
        judged=survey.judged,
        solution=survey.solution,
        on_control=survey.on_control,
        shots=survey.shots,
        rejected=survey.rejected,
    )


def _day(today: dt.date, zone_declared: str, computed: Figures) -> dt.date:
    """Return a day, or the day that a moment is where the job lies."""
    if not isinstance(today, dt.datetime):
        return today
    return in_zone(today, zone_of(zone_declared, computed)).date()


def _with_mean_factors(
    loaded: tuple[Line, ...], structures: Structures, projection: Projection
) -> tuple[Line, ...]:
    """Give every line the mean factor of its structures; one without elevations keeps none."""
    factors = [mean_factor(line.name, structures, projection) for line in loaded]
    return tuple(
        replace(line, combined_factor=factor or 1.0, combined_factor_declared=factor is not None)
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


def by_structure(
    records: tuple[_Record, ...], *, only_line: str = ""
) -> dict[tuple[str, str], list[_Record]]:
    """Gather records by (line, structure); `only_line` is the line of those that name none."""
    gathered: dict[tuple[str, str], list[_Record]] = {}
    for record in records:
        gathered.setdefault((record.line or only_line, record.structure), []).append(record)
    return gathered
