"""Write a job as one file: a page that opens without a network, or a table for other programs."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from linemap.domain.kind.when import NOW, When
from linemap.domain.record.person import Audience
from linemap.errors import InputRefused
from linemap.io.output.write import write_table, write_text
from linemap.report import ExportFormat
from linemap.report.snapshot import SnapshotAnswers, read_assets, snapshot_html
from linemap.service.people.redact import redact_view
from linemap.service.view.build import build_view
from linemap.service.view.columns import result_columns, result_points
from linemap.service.view.panel import structure_panel, weight_spans_of
from linemap.service.view.payload import centreline_answer, context_answer, job_answer, structures_answer
from linemap.service.view.view import JobView
from linemap.store.database import Database


def export_job(
    database: Database,
    form: ExportFormat,
    out: Path,
    *,
    today: dt.date,
    audience: Audience = Audience.CREW,
    when: When = NOW,
) -> int:
    """Write a job to one file and return the file's size in bytes.

    The snapshot is one HTML page with everything inside; the others are the result table, one row a
    structure, GeoJSON in WGS 84 and GeoPackage in the job's own grid. What these readers may not see is not
    in it.

    Raises
    ------
    InputRefused
        If the suffix of `out` says another format, or the file cannot be written.
    """
    _check_suffix(form, out)
    view = redact_view(build_view(database, today=today, when=when), audience)
    if form is ExportFormat.SNAPSHOT:
        write_text(snapshot_html(snapshot_answers(view), assets=read_assets()), out)
    else:
        write_table(
            result_columns(
                view.figures,
                view.set_poles,
                view.checks,
                view.ledger,
                weight_span=weight_spans_of(view),
            ),
            out,
            points=result_points(view.figures, view.projection),
            length_note=f"lengths are horizontal ground lengths, unit {view.projection.unit.word}",
            source=view.source,
        )
    return out.stat().st_size


def snapshot_answers(view: JobView) -> SnapshotAnswers:
    """Return every answer the page asks a server for, the panel of each structure included."""
    return SnapshotAnswers(
        job=job_answer(view),
        structures=structures_answer(view),
        centreline=centreline_answer(view),
        context=context_answer(view),
        details=[structure_panel(view, *view.key(row)) for row in range(len(view.figures))],
    )


def _check_suffix(form: ExportFormat, out: Path) -> None:
    wanted = {ExportFormat.SNAPSHOT: ".html"}.get(form, f".{form.value}")
    if out.suffix.lower() != wanted:
        raise InputRefused.at(
            "--out",
            str(out),
            f"a {form.value} is written to a file ending in {wanted}",
            f"name it like {out.with_suffix(wanted).name}",
        )
