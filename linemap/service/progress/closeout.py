"""The closeout matrix of a job: steps and checks by section, from everything the job has on record."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from linemap.answers import progress as answer
from linemap.domain.record.event import Event
from linemap.domain.record.replay import without_corrected
from linemap.domain.record.status import Key
from linemap.domain.schedule.closeout import Asked, Cell, matrix, mile_parts, section_parts
from linemap.domain.survey.verdict import Verdict
from linemap.io.output.write import write_table
from linemap.service.progress.progress import Progress, claimed_only, progress_of
from linemap.service.view.punch import open_punch
from linemap.service.view.view import CAUTION, JobView

#: What columns stand for.
By = Literal["section", "mile"]
#: Said above the matrix wherever it is shown.
WORDS = (
    "What the records hold and what they lack, with the structures behind each number. Numbers count "
    "records; they are no acceptance of work."
)
_GROUNDED = "grounded"


def closeout_of(view: JobView, *, line: str = "", by: By = "section") -> answer.Closeout:
    """Return the matrix of a job, or of one line (`NotFound` when it has none of that name)."""
    progress = progress_of(view, line=line)
    parts = (
        mile_parts(progress.sites, progress.mile_word)
        if by == "mile"
        else section_parts([state.section for state in progress.sections])
    )
    rows = matrix(parts, _rows(view, progress))
    return answer.Closeout(
        name=view.name,
        data_version=view.data_version,
        as_of=progress.as_of.isoformat(),
        known_by=progress.known_by.isoformat() if progress.known_by else "",
        by=by,
        words=WORDS,
        columns=[part.name for part in parts],
        rows=[
            answer.CloseoutRow(words=asked.words, cells=[_cell(cell) for cell in cells])
            for asked, cells in rows
        ],
        caution=CAUTION,
    )


def _cell(cell: Cell) -> answer.CloseoutCell:
    return answer.CloseoutCell(
        text=cell.text,
        found=len(cell.found),
        of=cell.of,
        found_list=[answer.Place(line=line, number=number) for line, number in cell.found],
        missing_list=[answer.Place(line=line, number=number) for line, number in cell.missing],
    )


def _rows(view: JobView, progress: Progress) -> Iterator[Asked]:
    keys = frozenset(site.key for site in progress.sites)
    claimed = claimed_only(view, progress)
    for step in view.workflow.order():
        needing = frozenset(site.key for site in progress.sites if site.needs(step))
        done = frozenset(site.key for site in progress.sites if site.has(step.code))
        yield Asked(words=step.words, needed=needing, found=done)
        if step.code in claimed:
            proved = done - {*claimed[step.code]}
            yield Asked(words=f"{step.words}, with its evidence", needed=needing, found=proved)
    yield _where(
        "frame surveyed within tolerance",
        keys,
        lambda key: view.checks.verdict[view.row_of[key]] is Verdict.PASS,
    )
    if view.crew_checks:
        yield _where("newest crew check of the frame passed", keys, lambda key: _checked(view, key))
    counted = _counted(progress)
    yield _where("a photo", keys, lambda key: any(event.photos for event in counted.get(key, ())))
    grounded = view.workflow.step(_GROUNDED)
    if grounded is not None:
        yield _where("ground resistance read", keys, lambda key: any(map(_has_ohms, counted.get(key, ()))))
    yield _where("no punch item open", keys, lambda key: not open_punch(view, key))
    yield _where("no case open", keys, lambda key: not any(case.is_open for case in view.cases.get(key, ())))


def _where(words: str, keys: frozenset[Key], found: Callable[[Key], bool]) -> Asked:
    return Asked(words=words, needed=keys, found=frozenset(filter(found, keys)))


def _checked(view: JobView, key: Key) -> bool:
    checks = view.crew_checks.get(key, ())
    return bool(checks) and checks[-1].proves


def _counted(progress: Progress) -> dict[Key, list[Event]]:
    """Return the records that count, by structure."""
    corrected = frozenset(event.supersedes for event in progress.events if event.supersedes)
    found: dict[Key, list[Event]] = {}
    for event in without_corrected([*progress.events], corrected):
        if event.result == "done":
            found.setdefault(event.key, []).append(event)
    return found


def _has_ohms(event: Event) -> bool:
    return any(reading.name == "ohms" for reading in event.all_readings)


def closeout_columns(found: answer.Closeout) -> dict[str, NDArray[Any]]:
    """Return the matrix as columns of a table: a row for each row and column of it, with all names."""
    cells = [
        (row.words, column, cell)
        for row in found.rows
        for column, cell in zip(found.columns, row.cells, strict=True)
    ]
    texts: Mapping[str, list[object]] = {
        "what": [words for words, _, _ in cells],
        found.by: [column for _, column, _ in cells],
        "recorded": [cell.found for _, _, cell in cells],
        "of": [cell.of for _, _, cell in cells],
        "lacking": [_names(cell.missing_list) for _, _, cell in cells],
        "recorded_at": [_names(cell.found_list) for _, _, cell in cells],
    }
    return {name: np.array(values, dtype=np.object_) for name, values in texts.items()}


def _names(places: Sequence[answer.Place]) -> str:
    return ", ".join(place.number for place in places)


def closeout_csv(found: answer.Closeout, source: str) -> bytes:
    """Return the matrix as a CSV file with all names."""
    with tempfile.TemporaryDirectory(prefix="linemap-") as folder:
        path = Path(folder) / "closeout.csv"
        write_table(closeout_columns(found), path, source=source, title="records")
        return path.read_bytes()
