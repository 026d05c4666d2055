"""Progress in sentences: planned against actual, the forecast, what the last date hangs on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import block_words
from linemap.domain.schedule.forecast import DateRange, Forecast, Late, Unavailable
from linemap.domain.schedule.plan import Baseline, day_words
from linemap.domain.schedule.readiness import Window, name_list
from linemap.service.progress.progress import TARGET, Progress, claimed_only, progress_of
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database


def percent(share: float | Unavailable | None) -> str:
    """Print a share of 1; why not, when there is none.

    >>> percent(59 / 121), percent(None)
    ('48.8 %', 'not available: no structure needs it')
    """
    if share is None:
        return str(Unavailable(reason="no structure needs it"))
    return str(share) if isinstance(share, Unavailable) else f"{100.0 * share:.1f} %"


def plan_sentence(progress: Progress) -> str:
    """Say how many are done and how many were planned by the day, by which baseline."""
    count = progress.count(TARGET)
    if count is None:
        return str(Unavailable(reason=f"the workflow has no step {TARGET}"))
    done = f"{len(count.done)} of {count.of} {count.words}"
    if isinstance(progress.planned, Unavailable) or not isinstance(progress.baseline, Baseline):
        return f"{done}; planned: {progress.planned}"
    made = len(count.done)
    beside = "".join(
        f"; {_slip(planned - made)} {one.revision_words}"
        for one, planned in progress.beside
        if not isinstance(planned, Unavailable)
    )
    return (
        f"{done}, {_number(progress.planned)} planned by {day_words(progress.as_of)}: "
        f"{_slip(progress.planned - made)} the baseline plan ({progress.baseline.revision_words}){beside}"
    )


def _slip(behind: float) -> str:
    if abs(behind) < 0.05:
        return "as in"
    return f"{_number(abs(behind))} {'behind' if behind > 0 else 'ahead of'}"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def range_words(found: DateRange | None) -> str:
    """Print a range of days; why not, when there is none."""
    if found is None:
        return str(Unavailable(reason="a hold has no last day"))
    if found.early == found.late:
        return day_words(found.early)
    return f"{day_words(found.early)} to {day_words(found.late)}"


def hold_words(hold: Hold) -> str:
    """Name a hold with its last day, and its reason when that is for everyone."""
    until = f"to {hold.to_date.isoformat()}" if hold.to_date else "until released"
    reason = f" ({hold.reason})" if hold.reason and not hold.restricted else ""
    return f"hold {hold.id} {until}{reason}"


def forecast_sentences(progress: Progress) -> tuple[str, ...]:
    """Say when the rest will be done, on what record that stands, and what the last date hangs on."""
    found = progress.forecast
    if isinstance(found, Unavailable):
        return (f"forecast {found}",)
    words = progress.workflow.words(found.step)
    return (_headline(found, words), *_details(found, words))


def _headline(found: Forecast, words: str) -> str:
    """Say all in one sentence: the bulk, and who comes after it and why that matters."""
    bulk = _bulk(found, words)
    if found.undated:
        waiting = name_list([task.number for task in found.undated])
        holds = {hold.id for task in found.undated for hold in task.holds}
        return f"{bulk}; no date for {waiting}: {', '.join(sorted(holds))} held until released"
    if not found.late:
        return bulk
    return f"{bulk}; " + "; ".join(map(_late, found.late))


def _bulk(found: Forecast, words: str) -> str:
    rest = len(found.remaining) - found.bulk
    if found.bulk_about is None or found.bulk_range is None:
        return f"none of the {len(found.remaining)} that remain can be {words} yet"
    who = "all" if rest == 0 else "all but one" if rest == 1 else f"all but {rest}"
    return f"{who} {words} about {day_words(found.bulk_about)} (80 % range {range_words(found.bulk_range)})"


def _late(late: Late) -> str:
    names = name_list(late.structures)
    one = len(late.structures) == 1
    sections = " and ".join(late.sections)
    after = f", so {sections} cannot be pulled before that" if sections else ""
    return f"last structure{'' if one else 's'} ({names}) not before {day_words(late.not_before)}{after}"


def _details(found: Forecast, words: str) -> Iterator[str]:
    if found.late:
        drivers = [
            f"{name_list(late.structures)}, {', '.join(map(hold_words, late.holds))}"
            + (f", then {' and '.join(late.sections)}" if late.sections else "")
            for late in found.late
        ]
        yield f"the last date hangs on {'; '.join(drivers)}"
    rates = found.rates
    yield (
        f"rate of the last {len(rates.days)} worked days ({rates.days[0].isoformat()} to "
        f"{rates.days[-1].isoformat()}, lost days among them): {rates.total} {words}, "
        f"{rates.per_week:.2f} a week"
    )
    remaining = f"{len(found.remaining)} remain: {len(found.workable)} workable, {len(found.held)} held"
    yield remaining + (f" ({name_list([task.number for task in found.held], most=12)})" if found.held else "")
    if found.conditional:
        names = name_list([task.number for task in found.conditional])
        yield f"of the workable, only under a condition: {names}"
    yield (
        f"dividing alone ({len(found.remaining)} that remain / {found.rates.per_week:.2f} a week) would say "
        f"the week of {found.naive_week.isoformat()}; it knows no holds and no sections"
    )


def window_sentences(progress: Progress) -> tuple[str, ...]:
    """Say for each wire window when its section is asked to be ready, and what the forecast says of that."""
    return tuple(
        _window(window, progress.name_of(window.section), progress.forecast) for window in progress.windows
    )


def block_sentence(view: JobView, progress: Progress) -> str:
    """Say what stringing blocks hang where hanging is recorded, and how far the rest lasts.

    "" = nobody declared how many the job owns. A structure takes the blocks of its framing type, else of its
    structure type. Framed structures come next, in line order, then the others.
    """
    if view.blocks_owned is None:
        return ""
    names = {site.key: view.named(site.key) for site in progress.sites}
    done = {key: progress.statuses[key].done for key in names}
    waiting = [key for key in names if "blocks hung" not in done[key]]
    return block_words(
        [names[key] for key in names if key not in waiting],
        [names[key] for key in sorted(waiting, key=lambda key: "framed" not in done[key])],
        per_structure={names[key]: _blocks(view, view.row_of[key]) for key in names},
        owned=view.blocks_owned,
    )


def _blocks(view: JobView, row: int) -> int | None:
    code = str(view.figures.structures.type_code[row])
    framing, listed = view.framing.get(code), view.types.get(code)
    drawn = framing.blocks if framing else None
    return drawn if drawn is not None else listed.blocks if listed else None


def _window(window: Window, name: str, found: Forecast | Unavailable) -> str:
    head = (
        f"{window.section.words}: hold {window.hold.id} keeps wire until {day_words(window.opens)}; "
        f"ready four weeks before means by {day_words(window.ready_by)}"
    )
    if isinstance(found, Unavailable):
        return f"{head}; forecast {found}"
    ends = found.sections.get(name)
    if ends is None:
        waits = any(name in task.sections for task in found.undated)
        return f"{head}; {'no date: a hold is open' if waits else 'its structures have the step'}"
    days = (window.ready_by - ends.late).days
    margin = f"{days} days before that" if days >= 0 else f"{-days} days after that"
    return (
        f"{head}; its last structure is forecast for {range_words(ends)} (80 % range), at the latest {margin}"
    )


def upgrade_words(database: Database, *, today: dt.date) -> tuple[str, ...]:
    """Say of a job just brought up to date which steps were verified by a note, and are no longer.

    Version 0.1.0 looked for depth, level and ohms in the notes; they stay as they are, and prove nothing.
    """
    view = build_view(database, today=today)
    named = {
        step: ", ".join(number for (_, number), proof in claimed.items() if proof.only_noted)
        for step, claimed in claimed_only(view, progress_of(view)).items()
    }
    lost = [
        f"{view.workflow.words(step)} is claimed, no longer verified, at {numbers}: what proved it stands "
        "in a note, and a note proves nothing; record it as a reading"
        for step, numbers in named.items()
        if numbers
    ]
    return (f"{database.place} was brought up to date from schema {database.upgraded_from}", *lost)
