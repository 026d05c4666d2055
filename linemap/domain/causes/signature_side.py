"""Signatures of frames whose poles stand the other way round: one by itself, a run, a file, or a line.

Coordinates alone never tell whether labels or frame are the wrong way round. What decides is named: unequal
legs by their brands, otherwise the ground wire, otherwise a photo with a known direction.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.records import Records
from linemap.domain.causes.together import Scope, Together, stretches, taken_together
from linemap.domain.design.structure import BoolArray, IntArray
from linemap.domain.finding.phrase import BY_LETTER, Called, date_words
from linemap.domain.record.status import Key
from linemap.domain.survey.residual import held_tight
from linemap.domain.survey.verdict import Verdict

_WORDS_OF_NOTES = ("brand", "turned", "revers", "faced", "faces back", "label")


def turned_frames(survey: CheckedSurvey, records: Records, rows: IntArray) -> list[Suspicion]:
    """Explain reversed frames that have no other fault.

    Returns
    -------
    list of Suspicion
        "tagged the other way round" for those of a file or of a line, "faced back run" for a stretch of one
        crew, day or part of a file, where one cause explains them better than one each
        (`linemap.domain.causes.together`); "reversed single" for the others.
    """
    found: list[Suspicion] = []
    open_rows, explained = set(rows.tolist()), set[int]()
    for line in np.unique(survey.figures.line_index[rows[survey.checks.reversed[rows]]]).tolist():
        known = np.flatnonzero((survey.figures.line_index == line) & np.isfinite(survey.checks.along))
        turned = known[survey.checks.reversed[known]].tolist()
        named = taken_together(turned, _scopes(survey, records, known))
        rest = set(turned).difference(*(each.rows for each in named))
        for together in (*named, *taken_together(rest, _runs(known, survey.checks.reversed))):
            explained.update(together.rows)
            # a frame that has another cause already stays with that
            mine = tuple(row for row in together.rows if row in open_rows)
            found += [_turned(survey, records, known, together, mine)] if mine else []
    lonely = [row for row in rows.tolist() if row not in explained and _is_lonely(survey, row)]
    return [*found, *(_single(survey, records, row) for row in lonely)]


def _is_lonely(survey: CheckedSurvey, row: int) -> bool:
    return bool(survey.checks.reversed[row]) and survey.checks.verdict[row] is not Verdict.FAIL


def _scopes(survey: CheckedSurvey, records: Records, known: IntArray) -> list[Scope]:
    """Return what the structures of a line whose side is known have in common."""
    rows = known.tolist()
    keys = [survey.figures.key(row) for row in rows]
    line = survey.line(rows[0]).name
    files = {row: survey.files_of.get(row, ("",))[0] for row in rows}
    of_file = {file: tuple(row for row in rows if files[row] == file) for file in files.values()}
    turned = survey.checks.reversed
    found = (
        [Scope(shared="line", name=f"line {line}", words=f"on line {line}", rows=tuple(rows))]
        if len(of_file) > 1
        else []
    )
    for step in ("framed", "set"):
        crew = Scope(shared="crew", name="crew {}", words=f"{step} by {{}}", rows=())
        found += stretches(rows, [records.crew(key, step) for key in keys], crew)
    for file, mine in of_file.items():
        words = f"shot in {file or 'no named file'}"
        found.append(Scope(shared="file", name=file_subject(file), words=words, rows=mine))
        part = Scope(shared="part", name=file_subject(file), words=words, rows=())
        found += stretches(mine, ["turned" if turned[row] else "" for row in mine], part)
    for step in ("framed", "set"):
        day = Scope(shared="day", name=f"{step} on {{}}", words=f"{step} on {{}}", rows=())
        found += stretches(rows, [records.day(key, step) for key in keys], day)
    return found


def _runs(known: IntArray, turned: BoolArray) -> list[Scope]:
    """Return the runs of reversed frames, which nothing but their places have in common: asked last."""
    run = Scope(shared="run", name="run", words="by nobody named", rows=())
    return stretches(known.tolist(), ["turned" if each else "" for each in turned[known]], run)


def _turned(
    survey: CheckedSurvey, records: Records, known: IntArray, together: Together, rows: tuple[int, ...]
) -> Suspicion:
    scope, numbers = together.scope, survey.numbers(rows)
    whole = scope.shared in {"line", "file"}
    elsewhere = int(survey.checks.reversed[known].sum()) - len(together.rows)
    count = f"{len(rows)} of {len(scope.rows)}" if len(rows) < len(scope.rows) else f"all {len(rows)}"
    geometry = _geometry(survey, list(rows))
    return Suspicion(
        code="tagged the other way round" if whole else "faced back run",
        subject=scope.name if whole else f"{scope.name}, {numbers[0]} to {numbers[-1]}",
        rows=rows,
        words=(
            f"{count} structures {scope.words} have {_outer(survey, rows)} the other "
            f"way round: this {scope.shared} is tagged the other way round; {geometry}"
            if whole
            else f"{len(rows)} in a row reversed, {numbers[0]} to {numbers[-1]}, all {scope.words}: "
            f"labels or frames facing back; {geometry}"
        ),
        evidence=(
            f"{len(together.rows)} of {counted(len(scope.rows), 'structure')} {scope.words} there reversed; "
            f"{elsewhere} of {len(known) - len(scope.rows)} on the rest of the line",
            *together.considered,
            *_run_evidence(survey, records, list(rows)),
        ),
        correction=_swap(survey, records, list(rows), alike_only=whole),
        cost_rank=3,
        asks_for=_asks_of_tags(survey, rows[0], scope.name)
        if whole
        else (f"{scope.name}: direction of work, tags and a photo of one of them from the back side"),
        on_paper=False,
    )


def _outer(survey: CheckedSurvey, rows: tuple[int, ...]) -> str:
    named = {survey.figures.outer_poles(row) for row in rows}
    return named.pop() if len(named) == 1 else "first and last pole"


def _asks_of_tags(survey: CheckedSurvey, row: int, name: str) -> str:
    pole, side = survey.figures.called(row)["A"], survey.line(row).pole_a
    return (
        f"{name}: which side pole {pole} is on looking ahead (declared: {side}), by drawing and by the tag "
        "of one of them; is the line's direction the crew's"
    )


def _geometry(survey: CheckedSurvey, rows: list[int]) -> str:
    worst = float(np.abs(survey.checks.rotation_deg[rows]).max())
    failed = sum(survey.checks.verdict[row] is Verdict.FAIL for row in rows)
    good = "geometry good" if not failed else f"{failed} of them also outside a tolerance"
    return f"turned out of that by {worst:.1f}° at most, {good}"


def _run_evidence(survey: CheckedSurvey, records: Records, rows: list[int]) -> list[str]:
    unequal = [row for row in rows if _legs(records, survey.figures.key(row))[0]]
    notes = [note for row in rows for note in _notes(records, survey.figures.key(row))][:3]
    words = [f"unequal legs, where brands decide: {', '.join(survey.numbers(unequal))}"] if unequal else []
    return [*words, "coordinates alone cannot tell labels from frames: second evidence needed", *notes]


def _single(survey: CheckedSurvey, records: Records, row: int) -> Suspicion:
    key = survey.figures.key(row)
    unequal, decides, asks = _legs(records, key, survey.figures.called(row))
    turning = held_tight(survey.figures, np.array([row]))[0]
    return Suspicion(
        code="reversed single",
        subject=survey.subject(row),
        rows=(row,),
        words=(
            f"{survey.figures.outer_poles(row)} the other way round: labels or frame, second evidence "
            f"needed; {decides}"
        ),
        evidence=(
            _geometry(survey, [row]),
            _beside(survey, row),
            *_notes(records, key),
        ),
        correction=_swap(survey, records, [row]),
        cost_rank=1 if unequal else 2 if turning else 4,
        asks_for=asks,
        on_paper=False,
    )


def _beside(survey: CheckedSurvey, row: int) -> str:
    """Say how the neighbours stand that were surveyed."""
    beside = [other for step in (-1, 1) if (other := survey.figures.neighbour(row, step)) is not None]
    known = [other for other in beside if np.isfinite(survey.checks.along[other])]
    if not known:
        return "no neighbour surveyed tells whether they are reversed too"
    turned = survey.numbers(other for other in known if survey.checks.reversed[other])
    if not turned:
        return "neighbours surveyed are not reversed: no crew or day explains it"
    return f"{' and '.join(turned)} beside it also reversed: too few for one crew, file or day to explain it"


def _swap(
    survey: CheckedSurvey, records: Records, rows: list[int], *, alike_only: bool = False
) -> Mapping[str, list[str] | str] | None:
    """Offer to swap labels where the legs are alike: unequal legs must be read first.

    `alike_only` leaves those with unequal legs out; otherwise one of them keeps all from being swapped.
    """
    alike = [row for row in rows if not _legs(records, survey.figures.key(row))[0]]
    if not alike or (len(alike) < len(rows) and not alike_only):
        return None
    return {"kind": "swap_labels", "structures": list(survey.numbers(alike))}


def _legs(records: Records, key: Key, called: Called = BY_LETTER) -> tuple[bool, str, str]:
    """Say whether the legs differ, what decides between labels and frame, and what to look at."""
    poles = sorted(records.poles(key), key=lambda pole: pole.letter)
    first, last = (poles[0], poles[-1]) if len(poles) > 1 else (None, None)
    if first is None or last is None:
        return False, "the pole schedule does not tell the legs apart", "a photo with a known direction"
    if first.length_ft is not None and last.length_ft is not None and first.length_ft != last.length_ft:
        lengths = ", ".join(f"{called[pole.letter]} {pole.length_ft:g} ft" for pole in (first, last))
        asks = (
            f"the brands on both poles: which side the {first.length_ft:g} ft pole stands on, looking ahead"
        )
        return True, f"legs unequal ({lengths}): the brand heights decide", asks
    if first.pole_class != last.pole_class:
        classes = ", ".join(f"{called[pole.letter]} class {pole.pole_class}" for pole in (first, last))
        return True, f"legs of two classes ({classes}): the brands decide", "the brands on both poles"
    wired = [called[pole.letter] for pole in poles if pole.ground_wire]
    alike = f"legs alike{f' ({first.length_ft:g} ft)' if first.length_ft is not None else ''}"
    if len(wired) == 1:
        asks = f"a photo with a known direction: which side the ground wire of pole {wired[0]} is on"
        return False, f"{alike}: the ground wire on {wired[0]} or a photo decides", asks
    return False, f"{alike}: only a photo with a known direction decides", "a photo with a known direction"


def _notes(records: Records, key: Key) -> list[str]:
    """Quote what was recorded at the structure about brands, labels or the way it faces."""
    return [
        f'recorded with {event.step}, {date_words(event.moment.date())}, by {event.who}: "{event.note}"'
        for event in records.events(key)
        if any(word in event.note.casefold() for word in _WORDS_OF_NOTES)
    ]
