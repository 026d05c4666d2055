"""What follows for lists, work, verdicts and findings when a job goes from one state to another."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from linemap.domain.crew.next_structure import crews_of_steps
from linemap.domain.crew.refusal import Asked, Obstacle, Site, obstacles_of
from linemap.domain.finding.code import Severity
from linemap.domain.kind.compare import RecordChange, compare_records, in_words
from linemap.domain.kind.kind import Keeps
from linemap.kinds.registry import HOLDS
from linemap.service.crew.crew_sites import done_by, sites_of, unneeded_steps
from linemap.service.files.consequence import Found, Key, place_of, placed
from linemap.service.view.lists import lists_of_view, records_of
from linemap.service.view.view import JobView


def of_lists(before: JobView, after: JobView) -> Iterator[Found]:
    """Give the records of lists that come, go and read otherwise."""
    codes = {"removed": "taken out", "added": "list added", "changed": "list changed"}
    unit = after.projection.unit
    for _, kind in lists_of_view():
        if kind.code == "structures":
            continue
        old, new = records_of(before, kind), records_of(after, kind)
        if old is new or old == new:
            continue
        was, now = (_held_at(view) if kind is HOLDS else {} for view in (before, after))
        old, new = in_words(kind, old, before.naming.called), in_words(kind, new, after.naming.called)
        by_record: dict[tuple[str, str], list[RecordChange]] = {}
        for each in compare_records(kind, old, new, unit=unit):
            by_record.setdefault((each.name, each.change), []).append(each)
        for (name, change), found in by_record.items():
            ends = change == "removed" and kind.keeps is Keeps.KEYED
            then, there = was.get(found[0].key[0]), now.get(found[0].key[0])
            yield Found(
                code="held back no more" if ends else codes[change],
                words=f"{name} ends" if ends else "; ".join(each.words for each in found),
                before=None if then is None else place_of(before, then),
                after=None if there is None else place_of(after, there),
            )


def _held_at(view: JobView) -> dict[str, int]:
    """Return hold -> the first row it holds back."""
    return {
        hold.id: row for row in sorted(view.holds_by_row, reverse=True) for hold in view.holds_by_row[row]
    }


def of_places(before: JobView, after: JobView, stands_as: Mapping[Key, Key]) -> Iterator[Found]:
    """Give the places that get another number, and with it lose holds that stay: these name the old one.

    `stands_as` gives what structures of `before` are called in `after`, of those called otherwise.
    """
    stays = {hold.id for hold in after.holds}
    for was, now in stands_as.items():
        row = after.row_of[now]
        there = {hold.id for hold in after.holds_by_row.get(row, ())}
        for hold in before.holds_by_row.get(before.row_of[was], ()):
            if hold.id in stays - there:
                words = f"hold {hold.id} names {was[1]}, which stood here"
                found = placed(after, row, code="place held no more", words=words)
                yield replace(found, before=place_of(before, before.row_of[was]))


def of_work(before: JobView, after: JobView, stands_as: Mapping[Key, Key]) -> Iterator[Found]:
    """Give the steps that become workable by the records, and those that stop being so, place by place."""
    stood_as = {now: was for was, now in stands_as.items()}
    was = {(site.line, site.number): site for site in sites_of(before)}
    asks = (_asked_of(before), _asked_of(after))
    all_differ = bool(before.tickets) != bool(after.tickets) or before.workflow != after.workflow
    unneeded = unneeded_steps(after)
    for site in sites_of(after):
        key = (site.line, site.number)
        old = was.get(stood_as.get(key, key))
        if old is None or not (all_differ or _differ(old, site)):
            continue
        for step in after.workflow.order():
            if step.code in site.status.done or step.code in unneeded.get(key, ()):
                continue
            first = obstacles_of(old, asks[0][step.code]) if step.code in asks[0] else ()
            then = obstacles_of(site, asks[1][step.code])
            if bool(first) != bool(then):
                yield _work(after, key, step.words, first, then)


def _asked_of(view: JobView) -> Mapping[str, Asked]:
    crews = crews_of_steps(list(done_by(view)))
    midnight = dt.datetime.combine(view.as_of, dt.time(), dt.UTC)
    return {
        step.code: Asked(
            crew="",
            step=step.code,
            workflow=view.workflow,
            on=view.as_of,
            now=midnight,
            tickets_kept=bool(view.tickets),
            recorded_by=crews,
        )
        for step in view.workflow.steps
    }


def _differ(one: Site, other: Site) -> bool:
    return any(
        getattr(one, name) != getattr(other, name)
        for name in ("stops", "holds", "tickets", "shortages", "material_known")
    ) or (one.status.done.keys() != other.status.done.keys())


def _work(after: JobView, key: Key, step: str, first: Sequence[Obstacle], then: Sequence[Obstacle]) -> Found:
    if then:
        code, words = "stops being workable", f"{step}: {then[0].words}"
    else:
        code, words = "becomes workable", f"{step}: no longer {', '.join(each.short for each in first)}"
    return placed(after, after.row_of[key], code=code, words=words)


def of_survey(before: JobView, after: JobView) -> Iterator[Found]:
    """Give verdicts that change, findings that are new, and findings that are gone."""
    old_found, new_found = (
        {
            each.id: (row, each)
            for row in view.ledger.rows_on("answer").tolist()
            for each in view.ledger.on("answer", row)
            if each.severity >= Severity.WRONG
        }
        for view in (before, after)
    )
    for key, row in after.row_of.items():
        old = before.row_of.get(key)
        if old is None:
            continue
        was, now = (_verdict(view, at) for view, at in ((before, old), (after, row)))
        if was != now:
            yield placed(after, row, code="verdict", words=f"{was} -> {now}")
    for name, (row, found) in new_found.items():
        if name not in old_found:
            yield replace(placed(after, row, code="finding", words=found.words), size=float(found.severity))
    for name, (row, found) in old_found.items():
        if name not in new_found and before.key(row) in after.row_of:
            yield placed(before, row, code="finding closed", words=found.words)


def _verdict(view: JobView, row: int) -> str:
    return f"{view.checks.verdict[row]}{', reversed' if view.checks.reversed[row] else ''}"
