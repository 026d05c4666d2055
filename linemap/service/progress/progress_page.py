"""Progress as plain texts, numbers and lists: for the page, the command and the file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from linemap.answers import progress as answer
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import weight_words
from linemap.domain.schedule.daily import period_report, rework
from linemap.domain.schedule.forecast import Forecast, Unavailable
from linemap.domain.schedule.plan import Baseline, day_words
from linemap.domain.schedule.progress import MileRow, by_crew
from linemap.domain.schedule.readiness import SectionState
from linemap.service.progress.crew_precision import crew_checks
from linemap.service.progress.progress import Progress, claimed_only, progress_of
from linemap.service.progress.progress_charts import progress_charts
from linemap.service.progress.progress_words import (
    block_sentence,
    forecast_sentences,
    percent,
    plan_sentence,
    range_words,
    window_sentences,
)
from linemap.service.view.cases import open_cases
from linemap.service.view.recorded import all_events
from linemap.service.view.view import CAUTION, JobView


def progress_answer(view: JobView, *, line: str = "") -> answer.Progress:
    """Return the whole report, every number with the list behind it, as `progress_of` gives it."""
    progress = progress_of(view, line=line)
    return answer.Progress(
        name=view.name,
        data_version=view.data_version,
        as_of=progress.as_of.isoformat(),
        as_of_text=day_words(progress.as_of),
        known_by=progress.known_by.isoformat() if progress.known_by else "",
        lines=[one.name for one in view.figures.lines],
        line=line,
        structures=len(progress.sites),
        plan_text=plan_sentence(progress),
        physical_text=percent(progress.physical),
        weights_text=weight_words(view.workflow),
        forecast=list(forecast_sentences(progress)),
        windows=list(
            filter(None, (*window_sentences(progress), "" if line else block_sentence(view, progress)))
        ),
        taken=list(progress.taken),
        counts=_counts(view, progress),
        mile_word=progress.mile_word,
        miles=[_mile(row, view) for row in progress.miles],
        sections=[_section(state, progress) for state in progress.sections],
        curve=_curve(progress),
        crews=_crews(progress),
        crew_checks=crew_checks(view, line=line),
        rework=_rework(progress),
        cases=open_cases(view, line=line),
        charts=progress_charts(view, progress),
        caution=CAUTION,
    )


def _counts(view: JobView, progress: Progress) -> list[answer.StepCount]:
    claimed = claimed_only(view, progress)
    rules = view.evidence_rules
    return [
        answer.StepCount(
            step=count.step,
            words=count.words,
            done=len(count.done),
            of=count.of,
            percent_text=percent(len(count.done) / count.of if count.of else None),
            weighted_text=percent(count.weighted),
            done_list=_numbers(count.done),
            begun_list=_numbers(count.begun),
            open_list=_numbers(count.open),
            claimed_list=_numbers(claimed.get(count.step, {})),
            noted_list=_numbers(
                key for key, proof in claimed.get(count.step, {}).items() if proof.only_noted
            ),
            evidence_text=f"{rules[count.step].words} ({rules[count.step].source})"
            if count.step in claimed
            else "",
        )
        for count in progress.counts
    ]


def _numbers(keys: Iterable[Key]) -> list[answer.Place]:
    return [answer.Place(line=line, number=number) for line, number in keys]


def _mile(row: MileRow, view: JobView) -> answer.Mile:
    unit = view.unit.symbol
    done = set(row.done)
    return answer.Mile(
        line=row.line,
        mile=row.mile,
        done=len(row.done),
        of=len(row.structures),
        holes=list(row.holes),
        done_list=_numbers((row.line, number) for number in row.done),
        open_list=_numbers((row.line, number) for number in row.structures if number not in done),
        spans_text=f"{row.span_done:,.0f} of {row.span_all:,.0f} {unit}",
    )


def _section(state: SectionState, progress: Progress) -> answer.Section:
    found = progress.forecast
    ends = "" if isinstance(found, Unavailable) else _section_end(progress.name_of(state.section), found)
    return answer.Section(
        line=state.section.line,
        words=state.section.words,
        sentence=state.sentence(),
        complete=state.complete,
        done=state.done,
        of=len(state.section.sites),
        wire_holds=[hold.id for hold in state.wire_holds],
        forecast_text=ends,
        blockers=[
            answer.Blocker(
                line=state.section.line,
                number=blocker.structure,
                lacks=[progress.workflow.words(code) for code in blocker.lacks],
                holds=list(blocker.holds),
            )
            for blocker in state.blockers
        ],
    )


def _section_end(name: str, found: Forecast) -> str:
    return "" if name not in found.sections else range_words(found.sections[name])


def _curve(progress: Progress) -> answer.Curve:
    baseline = progress.baseline
    return answer.Curve(
        baseline=baseline.words if isinstance(baseline, Baseline) else str(baseline),
        others=[one.words for one in progress.other_baselines],
        points=progress.curve,
    )


def _crews(progress: Progress) -> list[answer.Crew]:
    order = {step.code: place for place, step in enumerate(progress.workflow.steps)}
    return [
        answer.Crew(
            crew=crew,
            steps=[
                answer.CrewStep(
                    words=progress.workflow.words(step),
                    count=len(done),
                    list=_numbers((unit.line, unit.structure) for unit in done),
                )
                for step, done in sorted(steps.items(), key=lambda item: order.get(item[0], len(order)))
            ],
        )
        for crew, steps in by_crew(progress.units).items()
    ]


def _rework(progress: Progress) -> list[answer.Rework]:
    return [
        answer.Rework(line=one.line, number=one.structure, words=one.words)
        for one in rework(progress.events, progress.statuses)
    ]


def period_answer(view: JobView, *, first: dt.date, last: dt.date | None = None) -> answer.Period:
    """Return the report of a day or a period; made again with the same days it is the same.

    Days given the other way round are taken as the same period.
    """
    begins, ends = sorted((first, last or first))
    report = period_report(
        all_events(view),
        view.workflow,
        pole_letters=view.figures.letters_by_key(),
        guys=view.guy_names,
        first=begins,
        last=ends,
        calls=view.naming.called,
    )
    return answer.Period(
        name=view.name,
        first=begins.isoformat(),
        last=ends.isoformat(),
        known_by=view.when.known_by.isoformat() if view.when.known_by else "",
        quantities=[
            answer.Quantity(
                crew=one.crew,
                words=view.workflow.words(one.step),
                count=len(one.structures),
                to_date=one.to_date,
                list=_numbers(one.structures),
            )
            for one in report.quantities
        ],
        rework=[f"{one.structure}: {one.words}" for one in report.rework],
        repeats=list(report.repeats),
        notes=[
            answer.PeriodNote(
                line=event.line,
                number=event.structure,
                words=f"{view.workflow.words(event.step)}, {event.who}: "
                + event.remarks(view.naming.called(event.key)),
            )
            for event in report.notes
        ],
        came_late=report.came_late,
        not_recorded="weather other than wind, hours, delays and visitors are not in the record of this job",
        caution=CAUTION,
    )
