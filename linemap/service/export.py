"""Write a job as one file: a page that opens without a network, or a table for other programs."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from linemap.domain.record.person import Audience
from linemap.errors import InputRefused
from linemap.io.output.write import write_table, write_text
from linemap.report import ExportFormat
from linemap.report.snapshot import SnapshotAnswers, read_assets, snapshot_html
from linemap.service.people.redact import redact_view
from linemap.service.sheets.sheets import EVERYTHING, Chosen, chosen_rows
from linemap.service.view.columns import result_columns, result_points, without_third
from linemap.service.view.held import held_columns
from linemap.service.view.panel import structure_panel, weight_spans_of
from linemap.service.view.payload import centreline_answer, context_answer, job_answer, structures_answer
from linemap.service.view.view import JobView


def export_job(
    view: JobView,
    form: ExportFormat,
    out: Path,
    *,
    audience: Audience = Audience.CREW,
    chosen: Chosen = EVERYTHING,
) -> int:
    """Write a job, or the structures chosen, to one file and return the file's size in bytes.

    The snapshot is one HTML page with everything inside; the others are the result table, one row a
    structure, GeoJSON in WGS 84 and GeoPackage in the job's own grid. What these readers may not see is not
    in it.

    Raises
    ------
    InputRefused
        If the file cannot be written.
    """
    _write(redact_view(view, audience), form, out, chosen)
    return out.stat().st_size


def export_bytes(view: JobView, form: ExportFormat, *, chosen: Chosen = EVERYTHING) -> bytes:
    """Return what `export_job` writes, of a view as its readers may see it."""
    with tempfile.TemporaryDirectory(prefix="linemap-") as folder:
        out = Path(folder) / f"structures{_suffix(form)}"
        _write(view, form, out, chosen)
        return out.read_bytes()


def _write(view: JobView, form: ExportFormat, out: Path, chosen: Chosen) -> None:
    if form is ExportFormat.SNAPSHOT:
        if chosen != EVERYTHING:
            raise InputRefused.at("snapshot", "", "holds the whole job", "choose nothing, or take a table")
        write_text(snapshot_html(snapshot_answers(view), assets=read_assets()), out)
        return
    columns = result_columns(
        view.figures, view.set_poles, view.checks, view.ledger, weight_span=weight_spans_of(view)
    )
    columns |= without_third(held_columns(view), view.figures)
    points = result_points(view.figures, view.projection)
    if chosen != EVERYTHING:
        rows = np.array(chosen_rows(view, chosen))
        columns = {name: column[rows] for name, column in columns.items()}
        points = points.take(rows)
    note = f"lengths are horizontal ground lengths, unit {view.projection.unit.word}"
    write_table(columns, out, points=points, length_note=note, source=view.source)


def snapshot_answers(view: JobView) -> SnapshotAnswers:
    """Return every answer the page asks a server for, the panel of each structure included."""
    return SnapshotAnswers(
        job=job_answer(view),
        structures=structures_answer(view),
        centreline=centreline_answer(view),
        context=context_answer(view),
        details=[structure_panel(view, *view.key(row)) for row in range(len(view.figures))],
    )


def _suffix(form: ExportFormat) -> str:
    return ".html" if form is ExportFormat.SNAPSHOT else f".{form.value}"


def check_suffix(form: ExportFormat, out: Path) -> None:
    """Refuse (`InputRefused`) a file whose suffix says another format."""
    wanted = _suffix(form)
    if out.suffix.lower() != wanted:
        raise InputRefused.at(
            "--out",
            str(out),
            f"a {form.value} is written to a file ending in {wanted}",
            f"name it like {out.with_suffix(wanted).name}",
        )
