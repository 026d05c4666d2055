"""The index a phone takes along: what holds for the whole job, and which miles there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from linemap import __version__
from linemap.answers import field as answer
from linemap.domain.crew.material import needs_material
from linemap.domain.crew.ticket import needs_ticket, sets_anchors
from linemap.domain.crew.wind import EMPLOYER, PUBLISHED, wind_words
from linemap.domain.crew_check.rover_fix import RoverRule
from linemap.domain.design.line import Line
from linemap.domain.record.reading_type import READINGS, ReadingType
from linemap.domain.record.workflow import Step
from linemap.service.crew.field_card import lists_of
from linemap.service.crew.field_pack import MilePack
from linemap.service.view.cases import open_cases
from linemap.service.view.view import CAUTION, JobView


def field_index(
    view: JobView,
    packs: Iterable[MilePack],
    barriers: Mapping[str, list[answer.Barrier]],
    *,
    check_plans: str = "",
) -> answer.FieldContent:
    """Return the part of the index that depends on the data alone: workflow, crews, lines, miles.

    `packs` are all packs, in line order; `barriers` are those of `barriers_of`; `check_plans` is the
    fingerprint of `FieldPacks.check_plans`.
    """
    miles: dict[str, list[answer.MileEntry]] = {line.name: [] for line in view.figures.lines}
    for pack in packs:
        miles[pack.line].append(
            answer.MileEntry(
                mile=pack.mile,
                structures=pack.count,
                bytes=len(pack.packed),
                version=pack.version,
            )
        )
    return answer.FieldContent(
        job=view.name,
        identity=view.identity,
        incarnation=view.incarnation,
        software=__version__,
        data_version=view.data_version,
        as_of=view.as_of.isoformat(),
        zone=view.zone,
        tickets_kept=bool(view.tickets),
        caution=CAUTION,
        emergency=view.emergency,
        wind_limit_mph=next((each.mph for each in view.wind_limits if each.name == EMPLOYER), None),
        wind=_wind(view),
        punch_roles=view.punch_roles,
        waits=[each.words for each in view.waits if not {"lines", "structures"}.isdisjoint(each.what)],
        workflow=answer.FieldWorkflow(
            steps=[_step_rule(view, step) for step in view.workflow.order()],
            chain=list(view.workflow.chain),
        ),
        readings=[_reading(each) for each in READINGS.values()],
        rover=answer.RoverDeclared(**RoverRule.of(view.unit.symbol).to_values(view.tolerances.confidence)),
        crews=_crews(view),
        lines=[
            _line_head(view, line, miles[line.name], barriers.get(line.name, []))
            for line in view.figures.lines
        ],
        unlisted=[each for each in open_cases(view) if each.unlisted],
        check_plans=check_plans,
    )


def _step_rule(view: JobView, step: Step) -> answer.StepRule:
    rule = view.evidence_rules.get(step.code)
    return answer.StepRule(
        code=step.code,
        words=step.words,
        per=step.per,
        requires=list(step.requires),
        needs_ticket=needs_ticket(step.code),
        sets_anchors=sets_anchors(step.code),
        needs_material=needs_material(step.code),
        roles=list(step.roles),
        evidence=[] if rule is None else list(rule.needs),
    )


def _reading(declared: ReadingType) -> answer.ReadingDeclared:
    """Return what the form of a phone needs to ask for a reading, to check it and to say it."""
    asked = {line: declared.asked_in(line) for line in ("ft", "m")}
    return answer.ReadingDeclared(
        name=declared.name,
        label=declared.label,
        kind=declared.kind,
        of=declared.of,
        steps=list(declared.steps),
        under_condition=declared.under_condition,
        says=declared.says,
        asked={
            line: answer.ReadingAsked(
                unit=unit,
                least=least,
                most=most,
                in_first=declared.in_first(1.0, unit) if unit else 1.0,
            )
            for line, (unit, least, most) in asked.items()
        },
    )


def _crews(view: JobView) -> list[str]:
    return sorted({event.crew for events in view.events_by_structure.values() for event in events} - {""})


def _line_head(
    view: JobView, line: Line, miles: list[answer.MileEntry], barriers: list[answer.Barrier]
) -> answer.FieldLine:
    return answer.FieldLine(
        name=line.name,
        back_end=line.back_end,
        ahead_end=line.ahead_end,
        pole_a=line.pole_a,
        unit=line.unit.symbol,
        per_plus=line.unit.per_plus,
        barriers=barriers,
        miles=miles,
        lists=lists_of(view, line.name),
    )


def _wind(view: JobView) -> answer.FieldWind:
    return answer.FieldWind(
        words={unit: wind_words(view.wind_limits, metric=unit == "m") for unit in ("ft", "m")},
        limits=[
            answer.FieldWindLimit(name=limit.name, mph=limit.mph) for limit in (*PUBLISHED, *view.wind_limits)
        ],
    )
