"""The charts of progress, each for a wide and a narrow page."""

from __future__ import annotations

from linemap.answers import progress as answer
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.record.status import NOTHING_RECORDED, Key
from linemap.domain.schedule.forecast import Forecast, Unavailable
from linemap.domain.schedule.plan import day_words
from linemap.report.along import Cell, strip_svg, time_distance_svg
from linemap.report.charts import CurveEnd, curve_svg
from linemap.service.progress.progress import TARGET, Progress
from linemap.service.view.view import JobView

_WIDE, _NARROW = 860.0, 350.0


def progress_charts(view: JobView, progress: Progress) -> list[answer.Chart]:
    """Return each chart for a wide and a narrow page, or why there is none."""
    made = [_curve_chart(progress), _strip_chart(view, progress)]
    made += [
        _time_chart(view, progress, one.name) for one in view.figures.lines if _shown(progress, one.name)
    ]
    return made


def _shown(progress: Progress, line: str) -> bool:
    return any(site.line == line for site in progress.sites)


def _curve_chart(progress: Progress) -> answer.Chart:
    count = progress.count(TARGET)
    end = _curve_end(progress.forecast, done=len(count.done) if count else 0)
    made = {
        name: curve_svg(
            progress.curve,
            words=progress.workflow.words(TARGET),
            total=count.of if count else 0,
            as_of=progress.as_of,
            width=width,
            end=end,
        )
        for name, width in (("wide", _WIDE), ("narrow", _NARROW))
    }
    why = "" if made["wide"] else "not available: nothing is planned and nothing is done"
    return answer.Chart(key="curve", title="Structures set, planned and actual", **made, why=why)


def _curve_end(found: Forecast | Unavailable, *, done: int) -> CurveEnd | None:
    if isinstance(found, Unavailable) or found.bulk_range is None:
        return None
    return CurveEnd(
        bulk=done + found.bulk,
        range=found.bulk_range,
        late=sum(len(late.structures) for late in found.late),
        not_before=found.late[-1].not_before if found.late else None,
    )


def strip_cells(view: JobView, progress: Progress) -> dict[Key, Cell]:
    """Return the sign of each structure in the strip, and whether a hold stops what is left there."""
    held = Coverage(hold for hold in view.holds if hold.active(progress.as_of))
    return {
        site.key: Cell(
            number=site.number,
            stage=progress.statuses.get(site.key, NOTHING_RECORDED).shown_stage,
            held=any(
                not hold.conditional and _stops_open(hold, progress, site.key) for hold in held.at(*site.key)
            ),
        )
        for site in progress.sites
    }


def _strip_chart(view: JobView, progress: Progress) -> answer.Chart:
    cells = strip_cells(view, progress)
    words = f"progress by {progress.mile_word}, {day_words(progress.as_of)}"
    why = "" if cells else "not available: no structures are loaded yet"
    made = {
        name: strip_svg(progress.miles, cells, words=words, columns=columns)
        for name, columns in (("wide", 2), ("narrow", 1))
    }
    return answer.Chart(key="strip", title=f"Every structure by line {progress.mile_word}", **made, why=why)


def _stops_open(hold: Hold, progress: Progress, key: Key) -> bool:
    done = progress.statuses.get(key, NOTHING_RECORDED).done
    return any(hold.stops(step.code) for step in progress.workflow.steps if step.code not in done)


def _time_chart(view: JobView, progress: Progress, line: str) -> answer.Chart:
    sites = [site for site in progress.sites if site.line == line]
    per_mile = view.unit.mile
    holds = [
        (hold, [site for site in sites if reach.covers(line, site.number)])
        for hold in view.holds
        for reach in [hold.reach]
        if hold.active(progress.as_of) and (hold.structures or hold.from_structure or hold.to_structure)
    ]
    made = {
        name: time_distance_svg(
            sites,
            progress.units,
            holds,
            as_of=progress.as_of,
            per_mile=per_mile,
            mile_word=progress.mile_word,
            width=width,
        )
        for name, width in (("wide", _WIDE), ("narrow", _NARROW))
    }
    several = f", {line}" if len(view.figures.lines) > 1 else ""
    why = "" if made["wide"] else "not available: nothing is dug, framed or set yet"
    return answer.Chart(key="time", title=f"Where and when the work was done{several}", **made, why=why)
