"""Signatures of frames whose poles stand the other way round: one by itself, or a run of one crew or day.

Coordinates alone never tell whether labels or frame are the wrong way round. What decides is named: unequal
legs by their brands, otherwise the ground wire, otherwise a photo with a known direction.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, odds_text
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.design.structure import IntArray, Pole
from linemap.domain.finding.phrase import BY_LETTER, Called, date_words
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StepState, StructureStatus
from linemap.domain.survey.residual import held_tight
from linemap.domain.survey.verdict import Verdict

#: So many reversed in a row are a run.
_RUN = 3
#: Share of frames reversed inside a run's cause, and elsewhere. Common practice, no source.
_INSIDE, _ELSEWHERE = 0.95, 0.02
_WORDS_OF_NOTES = ("brand", "turned", "revers", "faced", "faces back", "label")


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """What the records say of the structures, besides the survey."""

    statuses: Mapping[Key, StructureStatus]
    events: Mapping[Key, Sequence[Event]]
    poles: Mapping[Key, Sequence[Pole]]

    def crew(self, key: Key, step: str) -> str:
        """Return the crew that did a step, "" when it is not recorded."""
        state = self._state(key, step)
        return "" if state is None else state.crew

    def day(self, key: Key, step: str) -> str:
        """Return the day a step was done as decisions on a cause name it, ISO 8601; "" = not recorded."""
        state = self._state(key, step)
        return "" if state is None else state.at.date().isoformat()

    def _state(self, key: Key, step: str) -> StepState | None:
        status = self.statuses.get(key, NOTHING_RECORDED)
        return status.done.get(step) or status.begun.get(step)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """Structures in a row that share a crew, day or file."""

    #: "crew Raven", "set on 2026-05-05", "file may.csv"
    name: str
    #: How they share it: "framed by Raven".
    words: str
    #: Positions in the list of structures whose side is known.
    first: int
    past: int
    log_likelihood: float


def turned_frames(survey: CheckedSurvey, records: Records, rows: IntArray) -> list[Suspicion]:
    """Explain reversed frames that have no other fault.

    Returns
    -------
    list of Suspicion
        "faced back run" for three and more in a row of one crew, day or file, the one whose structures fit
        best; "reversed single" for the others.
    """
    found: list[Suspicion] = []
    open_rows, explained = set(rows.tolist()), set[int]()
    for line in np.unique(survey.figures.line_index[rows]).tolist():
        known = np.flatnonzero((survey.figures.line_index == line) & np.isfinite(survey.checks.along))
        for start, past in _runs(survey.checks.reversed[known].tolist()):
            if past - start >= _RUN and not explained & set(known[start:past].tolist()):
                run = _run(survey, records, known, start, past)
                explained.update(run.rows)
                # a frame that has another cause already stays with that
                mine = tuple(row for row in run.rows if row in open_rows)
                found += [replace(run, rows=mine)] if mine else []
    lonely = [row for row in rows.tolist() if row not in explained and _is_lonely(survey, row)]
    return [*found, *(_single(survey, records, row) for row in lonely)]


def _is_lonely(survey: CheckedSurvey, row: int) -> bool:
    return bool(survey.checks.reversed[row]) and survey.checks.verdict[row] is not Verdict.FAIL


def _runs(turned: Sequence[bool]) -> list[tuple[int, int]]:
    """Return start and past-the-end of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(turned, dtype=np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _run(survey: CheckedSurvey, records: Records, known: IntArray, start: int, past: int) -> Suspicion:
    turned = survey.checks.reversed[known]
    stretches = _stretches(survey, records, known, start, past)
    best = stretches[0]
    rows = [int(row) for row in known[best.first : best.past] if survey.checks.reversed[row]]
    elsewhere = int(turned.sum()) - len(rows)
    numbers = survey.numbers(rows)
    return Suspicion(
        code="faced back run",
        subject=f"{best.name}, {numbers[0]} to {numbers[-1]}",
        rows=tuple(rows),
        words=(
            f"{len(rows)} in a row reversed, {numbers[0]} to {numbers[-1]}, all {best.words}: labels or "
            f"frames facing back; {_geometry(survey, rows)}"
        ),
        evidence=(
            f"{len(rows)} of {counted(best.past - best.first, 'structure')} {best.words} there reversed; "
            f"{elsewhere} of {len(known) - (best.past - best.first)} on the rest of the line",
            *_rivals(stretches),
            *_run_evidence(survey, records, rows),
        ),
        correction=_swap(survey, records, rows),
        cost_rank=3,
        asks_for=f"{best.name}: direction of work, tags and a photo of one of them from the back side",
        on_paper=False,
    )


def _geometry(survey: CheckedSurvey, rows: list[int]) -> str:
    worst = float(np.abs(survey.checks.rotation_deg[rows]).max())
    failed = sum(survey.checks.verdict[row] is Verdict.FAIL for row in rows)
    good = "geometry good" if not failed else f"{failed} of them also outside a tolerance"
    return f"turned out of that by {worst:.1f}° at most, {good}"


def _stretches(
    survey: CheckedSurvey, records: Records, known: IntArray, start: int, past: int
) -> list[_Stretch]:
    """Return what the structures of a run may share, best first; the run itself when they share nothing."""
    turned = survey.checks.reversed[known]
    found = []
    for name, words, values in _shared(survey, records, known):
        for value in dict.fromkeys(values[start:past]):
            if value and values[start:past].count(value) >= min(_RUN, past - start):
                middle = start + values[start:past].index(value)
                first, end = _around(values, middle)
                likely = _log_likelihood(turned, first, end)
                found.append(
                    _Stretch(
                        name=name.format(value), words=words.format(value), first=first, past=end,
                        log_likelihood=likely,
                    )
                )  # fmt: skip
    if not found:
        return [
            _Stretch(name="run", words="by nobody named", first=start, past=past, log_likelihood=0.0),
        ]
    return sorted(found, key=lambda each: -each.log_likelihood)


def _shared(survey: CheckedSurvey, records: Records, known: IntArray) -> Iterable[tuple[str, str, list[str]]]:
    """Give each kind of thing structures may share: its name, its words and its value at each structure."""
    keys = [survey.figures.key(row) for row in known.tolist()]
    for step in ("framed", "set"):
        yield "crew {}", f"{step} by {{}}", [records.crew(key, step) for key in keys]
    files = [survey.files_of.get(row, ("",))[0] for row in known.tolist()]
    yield file_subject("{}"), "shot in {}", files
    for step in ("framed", "set"):
        yield f"{step} on {{}}", f"{step} on {{}}", [records.day(key, step) for key in keys]


def _around(values: list[str], middle: int) -> tuple[int, int]:
    """Return the stretch around a position over which the value stays the same."""
    first, past = middle, middle + 1
    while first > 0 and values[first - 1] == values[middle]:
        first -= 1
    while past < len(values) and values[past] == values[middle]:
        past += 1
    return first, past


def _log_likelihood(turned: np.ndarray, first: int, past: int) -> float:
    """Log-likelihood of what is reversed if the stretch is the cause."""
    inside = np.zeros(len(turned), dtype=np.bool_)
    inside[first:past] = True
    chance = np.where(inside, _INSIDE, _ELSEWHERE)
    return float(np.log(np.where(turned, chance, 1.0 - chance)).sum())


def _rivals(stretches: list[_Stretch]) -> list[str]:
    best, *others = stretches
    rivals = [
        f"{other.words} {odds_text(best.log_likelihood - other.log_likelihood)}"
        for other in others[:2]
        if other.words != best.words
    ]
    return [f"also considered: {'; '.join(rivals)}"] if rivals else []


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
            "neighbours surveyed are not reversed in a row: no crew or day explains it",
            *_notes(records, key),
        ),
        correction=_swap(survey, records, [row]),
        cost_rank=1 if unequal else 2 if turning else 4,
        asks_for=asks,
        on_paper=False,
    )


def _swap(survey: CheckedSurvey, records: Records, rows: list[int]) -> Mapping[str, list[str] | str] | None:
    """Offer to swap labels only where the legs are alike: unequal legs must be read first."""
    if any(_legs(records, survey.figures.key(row))[0] for row in rows):
        return None
    return {"kind": "swap_labels", "structures": list(survey.numbers(rows))}


def _legs(records: Records, key: Key, called: Called = BY_LETTER) -> tuple[bool, str, str]:
    """Say whether the legs differ, what decides between labels and frame, and what to look at."""
    poles = sorted(records.poles.get(key, ()), key=lambda pole: pole.letter)
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
        for event in records.events.get(key, ())
        if any(word in event.note.casefold() for word in _WORDS_OF_NOTES)
    ]
