"""The as-set table with red marks: every structure, design against as set, with cause and source."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from linemap.domain.causes.cause import Decision, standing
from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray
from linemap.domain.survey.shot import Shot, ShotKey
from linemap.geometry.frame import ahead_right
from linemap.report.red_marks import MarkedDecision, MarkedShot, MarkedStructure, MarkSheet
from linemap.service.survey.marked_pole import decimals_of, grid_text, marked_poles, signed
from linemap.service.survey.survey_page import corrected_by
from linemap.service.view.columns import station_texts
from linemap.service.view.decided import decided_words
from linemap.service.view.held import (
    check_in_words,
    counted_shots,
    held_words,
    observed_poles,
)
from linemap.service.view.lists import revisions_in_force
from linemap.service.view.surveyed import is_exception, residuals_at, verdict_counts, verdict_words
from linemap.service.view.view import CAUTION, JobView
from linemap.store.database import Database

_Key = tuple[str, str]


def red_marks(database: Database, view: JobView, rows: Sequence[int] | None = None) -> MarkSheet:
    """Return the as-set table of a job, in line order, as texts; of all structures where `rows` is None.

    Corrections accepted in the view are applied to what is set against the design; the shots stay as
    observed. Chosen structures come with the shots of their poles; decisions are always those of the job.
    """
    chosen = range(len(view.figures)) if rows is None else rows
    with database.reading() as connection:
        lists = revisions_in_force(connection, view.when)
    differences, places = _differences(view), observed_poles(view)
    causes = _causes(view)
    marked = {*view.ledger.rows_on("red marks").tolist()}
    decisions = _decisions(view)
    stations = station_texts(view.figures)
    counted, decided = counted_shots(view), decided_words(view)
    observed = _observed(view, counted)
    of_chosen = {shot.key for row in chosen for shot in observed.get(view.key(row), ())}
    return MarkSheet(
        job=view.name,
        source=view.source,
        lines=tuple(_line_words(line, lists.get(line.name, "")) for line in view.figures.lines),
        data_version=view.data_version,
        data_date=view.as_of.isoformat(),
        declared=view.declaration.words,
        unit=view.unit.symbol,
        caution=CAUTION,
        counts=_counts(view, rows),
        structures=tuple(
            _structure(
                view,
                row,
                station=str(stations[row]),
                difference=differences[row],
                at=places[row],
                cause=causes.get(view.key(row), ""),
                found=row in marked,
                decision=decisions.get(view.key(row)),
                shots=observed.get(view.key(row), ()),
            )
            for row in chosen
        ),
        shots=tuple(
            _shot(
                view,
                shot,
                decided.get(shot.key, ""),
                counted.get(shot.key),
            )
            for shot in view.observed_shots
            if rows is None or shot.key in of_chosen
        ),
        decisions=tuple(
            _marked_decision(decision) for decision in sorted(view.decisions, key=lambda d: d.order_key)
        ),
        corrections=tuple(note.words for note in view.correction_notes),
        check_ins=tuple(check_in_words(each, view.unit.symbol) for each in view.check_ins),
    )


def _counts(view: JobView, rows: Sequence[int] | None) -> str:
    counts = ", ".join(f"{count} {verdict}" for verdict, count in verdict_counts(view, rows).items())
    return counts if rows is None else f"{counts}; {len(rows):,} chosen of {len(view.figures):,}"


def _differences(view: JobView) -> FloatArray:
    """As set minus design of each pole in the structure's frame, ground unit, (n, 3, 2): ahead, right."""
    figures = view.figures
    count = figures.poles.shape[1]
    moved = (view.set_poles.position[:, :count] - figures.poles) / figures.combined_factor[:, None, None]
    azimuth = figures.structure_azimuth_deg[:, None]
    return np.stack(ahead_right(moved[..., 0], moved[..., 1], azimuth), axis=-1)


def _causes(view: JobView) -> dict[_Key, str]:
    return {key: cause.words for cause in view.causes for key in view.keys_of(cause)}


def _decisions(view: JobView) -> dict[_Key, Decision]:
    """Return the decision that stands for each structure: of its cause, or of a correction of its shots."""
    stands = standing(view.decisions)
    found = {key: decision for decision in stands.values() for key in corrected_by(view, decision)}
    for cause in view.causes:
        decision = stands.get(cause.key)
        if decision is not None:
            found |= dict.fromkeys(view.keys_of(cause), decision)
    return found


def _observed(view: JobView, counted: Mapping[ShotKey, Shot]) -> dict[_Key, list[Shot]]:
    """Return the shots as observed under the structure they count for now, relabelled ones included."""
    found: dict[_Key, list[Shot]] = defaultdict(list)
    for shot in view.observed_shots:
        if shot.item == "pole":
            now = counted.get(shot.key, shot)
            found[now.line or view.figures.only_line, now.structure].append(shot)
    return found


def _structure(
    view: JobView,
    row: int,
    *,
    station: str,
    difference: FloatArray,
    at: FloatArray,
    cause: str,
    found: bool,
    decision: Decision | None,
    shots: Sequence[Shot],
) -> MarkedStructure:
    line, number = view.key(row)
    return MarkedStructure(
        line=line,
        number=number,
        station=station,
        verdict=verdict_words(view, row),
        marked=is_exception(view, row) or bool(cause or found),
        residuals=_residuals(view, row),
        findings=tuple(each.words for each in view.ledger.on("red marks", row)) if found else (),
        cause=cause,
        decision="" if decision is None else _answer_words(decision),
        decided_by="" if decision is None else f"{decision.who}, {decision.at:%Y-%m-%d}",
        method=_method(view, row),
        surveyed_on=", ".join(sorted({shot.observed_on for shot in shots if shot.observed_on})),
        source=_source(shots),
        poles=marked_poles(view, row, difference, at),
        held=held_words(view, row),
    )


def _answer_words(decision: Decision) -> str:
    note = f": {decision.note}" if decision.note else ""
    return f"{decision.cause} {decision.answer}{note}"


def _method(view: JobView, row: int) -> str:
    """Who or what surveyed it, as the record says; coordinate files name no instrument."""
    events = [each for each in view.events_by_structure.get(view.key(row), []) if each.step == "surveyed"]
    if not events:
        return ""
    last = max(events, key=lambda event: event.order_key)
    remarks = last.remarks(view.figures.called(row))
    return ", ".join(dict.fromkeys(part for part in (last.crew, last.actor, last.device, remarks) if part))


def _source(shots: Iterable[Shot]) -> str:
    rows: dict[str, list[int]] = defaultdict(list)
    for shot in shots:
        rows[shot.file].append(shot.row)
    return "; ".join(
        f"{file} row{'s' * (len(n) > 1)} {', '.join(map(str, sorted(n)))}" for file, n in rows.items()
    )


def _residuals(view: JobView, row: int) -> tuple[tuple[str, str], ...]:
    decimals = decimals_of(view, row)
    return tuple(
        (each.name, f"{signed(each.value, places)} ± {each.sigma:.{places}f}{each.sign}")
        for each in residuals_at(view, row)
        for places in (2 if each.sign == "°" else decimals,)
    )


def _line_words(line: Line, lists: str) -> str:
    ends = f": {line.back_end} ahead to {line.ahead_end}" if line.back_end or line.ahead_end else ""
    return f"{line.name}{ends}" + (f"; {lists}" if lists else "")


def _shot(view: JobView, shot: Shot, decided: str, counted: Shot | None) -> MarkedShot:
    return MarkedShot(
        line=shot.line,
        structure=shot.structure,
        pole=view.naming.called((shot.line or view.figures.only_line, shot.structure)).get(shot.pole, ""),
        point=shot.point,
        north=f"{shot.northing:.3f}",
        east=f"{shot.easting:.3f}",
        elevation="" if shot.elevation is None else f"{shot.elevation:.3f}",
        sigma="" if shot.sigma is None else f"{shot.sigma:.3f}",
        observed_on=shot.observed_on,
        file=shot.file,
        row=str(shot.row),
        description=shot.description,
        decided=decided,
        corrected_north="" if counted is None else grid_text(counted.northing),
        corrected_east="" if counted is None else grid_text(counted.easting),
    )


def _marked_decision(decision: Decision) -> MarkedDecision:
    return MarkedDecision(
        at=decision.at.isoformat(timespec="minutes"),
        who=decision.who,
        answer=decision.answer,
        cause=decision.cause,
        subject=decision.subject,
        note=decision.note,
    )
