"""Where the job stands and when it will be done, as of a day and as known by a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.domain.crew.reach import Coverage
from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import Key, StructureStatus, fold
from linemap.domain.record.workflow import Workflow
from linemap.domain.schedule.forecast import Forecast, Unavailable, forecast
from linemap.domain.schedule.plan import Baseline, CurvePoint, baselines_on, curve, planned_by
from linemap.domain.schedule.progress import (
    MileRow,
    Site,
    StepCount,
    Unit,
    by_mile,
    count_steps,
    events_taken,
    physical_share,
    units,
)
from linemap.domain.schedule.rates import Rates, recent_rates
from linemap.domain.schedule.readiness import (
    Section,
    SectionState,
    Window,
    name_list,
    section_states,
    tasks_of,
    wire_sections,
    wire_windows,
)
from linemap.domain.survey.proof import Proof
from linemap.service.view.proved import Prover
from linemap.service.view.recorded import all_events, in_kilometres, sites_of, with_survey
from linemap.service.view.view import JobView

#: The step that planned against actual, miles and the forecast speak of.
TARGET = "set"
#: A section is asked to be ready this long before its wire window opens. Common practice, no source.
_LEAD = dt.timedelta(weeks=4)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Progress:
    """One report of progress with everything behind its numbers."""

    as_of: dt.date
    #: Only what had reached the job by then counts; None = all that ever came in.
    known_by: dt.date | None
    sites: tuple[Site, ...]
    workflow: Workflow
    events: tuple[Event, ...]
    statuses: Mapping[Key, StructureStatus]
    units: tuple[Unit, ...]
    counts: tuple[StepCount, ...]
    #: Share of the physical work, 0 to 1.
    physical: float | Unavailable
    miles: tuple[MileRow, ...]
    #: "mile" or "kilometre".
    mile_word: str
    sections: tuple[SectionState, ...]
    windows: tuple[Window, ...]
    #: The baseline that slip is measured against, and how many it has for the day.
    baseline: Baseline | Unavailable
    planned: float | Unavailable
    #: How many the others that were frozen by the day have for it.
    beside: tuple[tuple[Baseline, float | Unavailable], ...]
    curve: tuple[CurvePoint, ...]
    #: Curves of the other baselines of the step, older or newer.
    other_baselines: tuple[Baseline, ...]
    rates: Rates
    forecast: Forecast | Unavailable
    #: What was taken for want of a declaration, in words.
    taken: tuple[str, ...]

    def name_of(self, section: Section) -> str:
        """Return the name of a section in the forecast: after its line where there are several."""
        return section.named(several=_several(self.sites))

    def count(self, step: str) -> StepCount | None:
        """Return the count of a step; None when the workflow lacks it."""
        return next((count for count in self.counts if count.step == step), None)


def progress_of(view: JobView, *, line: str = "") -> Progress:
    """Report the progress of a job, or of one line (`NotFound` when it has none of that name).

    It is of the day the view is shown for; a view of another time holds what was known then.
    """
    day = view.as_of
    events = events_taken(all_events(view), as_of=day)
    folded = with_survey(
        view,
        fold(events, view.workflow, pole_letters=view.figures.letters_by_key(), guys=view.guy_names),
        day,
    )
    sites = sites_of(view, line=line, statuses=folded)
    statuses = {site.key: site.status for site in sites}
    done = units(statuses)
    of_step = [unit.day for unit in done if unit.step == TARGET]
    rates = recent_rates(of_step, as_of=day, calendar=view.calendar)
    sections = _sections(view, sites, day)
    plans = baselines_on(
        view.baselines,
        step=TARGET,
        on=day,
        line=line or view.figures.only_line,
        revision=view.baseline_declared,
    )
    baseline = _baseline(view, plans, day, line=line)
    share = physical_share(sites, view.workflow)
    tasks = tasks_of(
        sites,
        [state.section for state in sections],
        view.workflow,
        Coverage(view.holds),
        step=TARGET,
        several=_several(sites),
    )
    return Progress(
        as_of=day,
        known_by=view.when.known_by,
        sites=sites,
        workflow=view.workflow,
        events=events,
        statuses=statuses,
        units=done,
        counts=count_steps(sites, view.workflow),
        physical=Unavailable(reason=_without_share(sites)) if share is None else share,
        miles=by_mile(sites, TARGET),
        mile_word="kilometre" if in_kilometres(view) else "mile",
        sections=sections,
        windows=wire_windows(sections, lead=_LEAD),
        baseline=baseline,
        planned=_planned(view, baseline, day),
        beside=tuple((one, _planned(view, one, day)) for one in plans if one is not baseline),
        curve=curve(of_step, baseline if isinstance(baseline, Baseline) else None, as_of=day),
        other_baselines=tuple(
            one
            for one in view.baselines
            if one.step == TARGET and one is not baseline and one.line in {"", line or one.line}
        ),
        rates=rates,
        forecast=forecast(tasks, rates, step=TARGET, as_of=day, calendar=view.calendar),
        taken=(*_earlier(view), *_taken(view), *_late(view), *_strangers(folded, view)),
    )


def _sections(view: JobView, sites: Sequence[Site], day: dt.date) -> tuple[SectionState, ...]:
    held = Coverage(hold for hold in view.holds if hold.active(day)).by_structure(site.key for site in sites)
    return section_states(wire_sections(sites), view.workflow, holds=held)


def _strangers(folded: Mapping[Key, StructureStatus], view: JobView) -> tuple[str, ...]:
    """Say which records count nowhere because their structure is in no list."""
    names = [
        number
        for key, status in folded.items()
        if key not in view.row_of and status.done
        for number in key[1:]
    ]
    return (f"recorded but in no list, so not counted: {name_list(names)}",) if names else ()


def _earlier(view: JobView) -> tuple[str, ...]:
    if view.as_of == view.asked_for:
        return ()
    return (f"nothing after {view.as_of.isoformat()} can have been known by then: the report is of that day",)


def _taken(view: JobView) -> tuple[str, ...]:
    words = []
    if not view.calendar_declared:
        words.append(f"work week not declared: {view.calendar.words} is taken")
    if not view.guys and all(entry.guyed is None for entry in view.types.values()):
        words.append("no list says which structures have guys: those at angles and section breaks are taken")
    if not view.types:
        words.append("no type table: every structure weighs the same")
    return tuple(words)


def _late(view: JobView) -> tuple[str, ...]:
    """Say which plans came later than they say they were frozen: until they came nobody knew them."""
    first = {(one.line, one.step): one for one in reversed(view.baselines)}
    return tuple(
        f"the plan of {view.workflow.words(one.step)}, {one.revision_words}, came in {came.isoformat()}: "
        "it counts as known from that day"
        for one, came in zip(view.baselines, view.baselines_came, strict=False)
        if came is not None and one.frozen_on is not None and one.frozen_on < came
        # the first plan of a job may be older than the job
        if came != view.begun or first[one.line, one.step] is not one
    )


def _baseline(view: JobView, plans: Sequence[Baseline], day: dt.date, *, line: str) -> Baseline | Unavailable:
    if not view.baselines:
        return Unavailable(reason="no plan is loaded")
    if not plans:
        words = view.workflow.words(TARGET)
        several = len(view.figures.lines) > 1 and not line
        lines = "; plans of single lines show when that line is asked for" if several else ""
        return Unavailable(reason=f"no plan of {words} was frozen by {day.isoformat()}{lines}")
    if not plans[0].weeks:
        return Unavailable(reason=f"{plans[0].words}, gives no dates")
    return plans[0]


def _planned(view: JobView, baseline: Baseline | Unavailable, day: dt.date) -> float | Unavailable:
    if isinstance(baseline, Unavailable):
        return baseline
    if not baseline.weeks:
        return Unavailable(reason=f"{baseline.words}, gives no dates")
    if day < baseline.weeks[0]:
        return Unavailable(reason=f"the plan begins {baseline.weeks[0].isoformat()}")
    return planned_by(baseline, day, calendar=view.calendar)


def _several(sites: Sequence[Site]) -> bool:
    return len({site.line for site in sites}) > 1


def claimed_only(view: JobView, progress: Progress) -> dict[str, dict[Key, Proof]]:
    """Return, of each step with a rule, the structures whose record is not verified and why; in line order.

    Only what the report takes counts, so the report of an earlier day says what was verified then.
    """
    corrected, prover = corrected_ids(progress.events), Prover.of(view)
    events: dict[Key, list[Event]] = {}
    for event in progress.events:
        events.setdefault(event.key, []).append(event)
    found: dict[str, dict[Key, Proof]] = {}
    for count in progress.counts:
        if count.step in prover.rules:
            proofs = (
                (key, prover.proof(key, count.step, events.get(key, []), corrected=corrected))
                for key in count.done
            )
            found[count.step] = {key: proof for key, proof in proofs if proof.verdict != "verified"}
    return found


def _without_share(sites: Sequence[Site]) -> str:
    return "no step has a weight" if sites else "no structures are loaded yet"
