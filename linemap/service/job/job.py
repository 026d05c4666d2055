"""Make a job, and open one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from linemap.domain.design.line import Catenary, Declaration, saved_catenary
from linemap.domain.design.tolerance import ToleranceEntry, Tolerances
from linemap.domain.survey.proof import EvidenceRule, evidence_rules
from linemap.geometry.projection import Projection
from linemap.kinds.registry import TOLERANCES
from linemap.service.job.declared import (
    read_blocks_owned,
    read_catenary,
    read_evidence,
    read_factor,
    read_pole_a,
    read_start_station,
    read_tolerance_options,
    read_work_week,
    read_workflow,
    rule_words,
)
from linemap.store.database import Database, open_job
from linemap.store.job import JobRecord, change_settings, load_job
from linemap.store.lines import declare_factor
from linemap.store.lists import keep_list, load_list
from linemap.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRules:
    """What is declared about a job's lines before any file is loaded. Texts as given by a person."""

    crs: str
    name: str = ""
    #: Name of the line when the files name none.
    line: str = ""
    back_end: str = ""
    ahead_end: str = ""
    #: Grid = ground x factor, or "auto"; "" = not declared.
    combined_factor: str = ""
    start_station: str = "0+00"
    pole_a: str = "left"
    #: Point the coordinates were scaled about, "none" for plain grid coordinates; "" = not declared.
    base_point: str = ""
    vertical_datum: str = ""
    #: Document the declarations come from.
    source: str = ""
    #: Day the records are complete to; None = today.
    data_date: dt.date | None = None
    #: Stringing blocks the job owns; "" = not declared.
    blocks_owned: str = ""
    #: Days of the week that are worked, like "Mon-Thu"; "" = not declared.
    work_week: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """What a job declares now: its coordinates, and how work is judged."""

    coordinates: Declaration
    tolerances: Tolerances
    #: Step -> what verifies its record.
    evidence: Mapping[str, EvidenceRule]
    #: None = not declared, and there is no weight span.
    catenary: Catenary | None

    @property
    def rules(self) -> tuple[str, ...]:
        """How work is judged, one sentence each, with its source."""
        return rule_words(self.tolerances, self.evidence, self.catenary)


def create_job(target: str, rules: JobRules, *, now: dt.datetime) -> None:
    """Make an empty job at a path or PostgreSQL URL.

    Nothing is made when a rule cannot be read (`InputRefused`) or something is there already (`Conflict`).
    """
    Projection.from_text(rules.crs)
    read_factor(rules.combined_factor)
    read_pole_a(rules.pole_a)
    read_start_station(rules.start_station)
    read_blocks_owned(rules.blocks_owned)
    read_work_week(rules.work_week)
    day = rules.data_date.isoformat() if rules.data_date is not None else ""
    with (
        open_job(target, create=True, name=rules.name, now=now) as database,
        database.writing() as connection,
    ):
        change_settings(connection, {**asdict(rules), "data_date": day})


def declare(
    database: Database,
    changes: Mapping[str, str],
    *,
    tolerances: Sequence[str] = (),
    evidence: Sequence[str] = (),
    now: dt.datetime,
) -> Declared:
    """Declare something about a job after it was made; return what is declared now.

    `changes` are any of "combined_factor", "base_point", "vertical_datum", "source", "workflow",
    "blocks_owned", "catenary_constant"; a factor is set on every line. `tolerances` and `evidence` are texts
    as `read_tolerance_options` and `read_evidence` take them; what is not named stays. Nothing is changed
    when any cannot be read (`InputRefused`).
    """
    read_blocks_owned(changes.get("blocks_owned", ""))
    with database.writing() as connection:
        if "workflow" in changes:
            read_workflow(changes["workflow"])
        if "combined_factor" in changes:
            declare_factor(connection, read_factor(changes["combined_factor"]))
        record = load_job(connection)
        if tolerances:
            entries = read_tolerance_options(
                tolerances, load_list(connection, TOLERANCES), unit=_unit(record)
            )
            keep_list(connection, TOLERANCES, entries, label="declared", now=now)
        change_settings(connection, {**changes, **_judged(record, changes, evidence=evidence)})
        return _declared(load_job(connection), load_list(connection, TOLERANCES))


def _unit(record: JobRecord) -> LengthUnit:
    return Projection.from_text(str(record.settings["crs"])).unit


def _judged(record: JobRecord, changes: Mapping[str, str], *, evidence: Sequence[str]) -> Mapping[str, Any]:
    """Return the settings that say how work is judged, with what is given laid over what is kept."""
    found: dict[str, object] = {}
    if evidence:
        kept = record.settings.get("evidence") or {}
        workflow = read_workflow(changes["workflow"]) if "workflow" in changes else record.workflow
        found["evidence"] = read_evidence(evidence, kept, workflow=workflow)
    if "catenary_constant" in changes:
        catenary = read_catenary(changes["catenary_constant"], unit=_unit(record))
        found["catenary_constant"] = {"value": catenary.constant, "source": catenary.source}
    return found


def _declared(record: JobRecord, tolerances: Sequence[ToleranceEntry]) -> Declared:
    unit = _unit(record)
    return Declared(
        coordinates=record.declaration(unit),
        tolerances=Tolerances.from_entries(tolerances, unit),
        evidence=evidence_rules(record.settings.get("evidence") or {}),
        catenary=saved_catenary(record.settings.get("catenary_constant")),
    )
