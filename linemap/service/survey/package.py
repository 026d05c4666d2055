"""The as-set package of a job: all that a licensed surveyor examines and may sign."""

from __future__ import annotations

import io
import math
import zipfile
from collections.abc import Iterator, Mapping
from typing import Any

from linemap.domain.guying.anchor_check import AnchorCheck
from linemap.domain.survey.control_check import CheckIn
from linemap.domain.survey.session import Session
from linemap.domain.survey.verdict import Verdict
from linemap.errors import InputRefused
from linemap.report import Paper
from linemap.report.package import (
    NOT_DECLARED,
    Apart,
    Package,
    PackageAnchor,
    PackageCheckIn,
    PackageFile,
    PackageSession,
)
from linemap.report.package_pdf import package_pdf
from linemap.report.package_xlsx import package_xlsx
from linemap.service.job.declared import rule_words
from linemap.service.job.surveying import of_file
from linemap.service.survey.marked_pole import grid_text, signed
from linemap.service.survey.red_marks import red_marks
from linemap.service.survey.survey import rows_beside
from linemap.service.view.held import check_ins_of, held_at, held_of_session
from linemap.service.view.surveyed import verdict_words
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.files import list_files, standing_files
from linemap.store.job import load_job
from linemap.store.times import answering

#: What the files of a package are called.
WORKBOOK, PAPER, HASHES = "as-set.xlsx", "as-set.pdf", "source-files.sha256"
#: What no clock may change in an archive.
_MADE = (2000, 1, 1, 0, 0, 0)


def package_files(database: Database, view: JobView, *, paper: Paper = "letter") -> dict[str, bytes]:
    """Return the files of the package by name: workbook, paper, and the digests of the source files.

    Raises
    ------
    InputRefused
        If nothing of the job is surveyed, so that there is nothing to sign.
    """
    package = package_of(database, view)
    hashes = "".join(f"{file.sha256}  {file.name}\n" for file in package.files)
    return {
        WORKBOOK: package_xlsx(package),
        PAPER: package_pdf(package, paper=paper),
        HASHES: hashes.encode(),
    }


def package_zip(files: Mapping[str, bytes]) -> bytes:
    """Return the files as one archive; the same files give the same bytes."""
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, _MADE), content, zipfile.ZIP_DEFLATED)
    return into.getvalue()


def package_of(database: Database, view: JobView) -> Package:
    """Return the rows of the package; see `package_files`."""
    rows = [row for row in range(len(view.figures)) if view.checks.verdict[row] != Verdict.NOT_SURVEYED]
    if not rows:
        raise InputRefused.at("job", view.name, "has no surveyed structure", "load its shots first")
    passes = [row for row in rows if not _reason(view, row)]
    with database.reading() as connection:
        settings = load_job(connection).settings
        standing = standing_files(connection, answering(connection, view.when))
        files = [file for file in list_files(connection) if file.id in standing]
    return Package(
        sheet=red_marks(database, view, rows),
        passes=frozenset(view.key(row) for row in passes),
        sessions=tuple(_sessions(view, settings)),
        check_ins=tuple(_check_in(view, each) for each in view.check_ins),
        anchors=tuple(_anchor(view, each) for each in view.anchor_checks if each.required.row in set(rows)),
        apart=tuple(
            Apart(line=line, structure=number, verdict=verdict_words(view, row), reason=reason)
            for row in rows
            if (reason := _reason(view, row))
            for line, number in (view.key(row),)
        ),
        beside=tuple(words for row in rows_beside(view, "survey") for words in row.findings),
        rules=tuple(rule_words(view.tolerances, view.evidence_rules, view.catenary)),
        files=tuple(
            PackageFile(
                name=file.name,
                kind=file.kind,
                size=str(file.size),
                loaded=", ".join(
                    filter(None, (file.loaded_at.isoformat(timespec="minutes"), file.loaded_by))
                ),
                sha256=file.sha256,
            )
            for file in files
        ),
    )


def _reason(view: JobView, row: int) -> str:
    """Say why a surveyed structure is not among the passes; "" = it passes and is held by control."""
    verdict, held = view.checks.verdict[row], held_at(view, row)
    found = [each.words for each in view.ledger.on("survey", row)]
    if verdict != Verdict.PASS or view.checks.reversed[row]:
        return "; ".join(found) or verdict_words(view, row)
    if held is None:
        return "against its own base: the job has no list of control points"
    return "" if held.by_control else held.words


def _sessions(view: JobView, settings: Mapping[str, Any]) -> Iterator[PackageSession]:
    shots: dict[Session, int] = {}
    for of_structure in view.shots_by_structure.values():
        for shot in of_structure:
            if shot.item == "pole":
                shots[Session.of(shot)] = shots.get(Session.of(shot), 0) + 1
    for session, count in sorted(shots.items(), key=lambda each: (each[0].day, each[0].file)):
        held = held_of_session(check_ins_of(view).get(session.words, ()), view.unit.symbol)
        yield PackageSession(
            words=session.words,
            **{
                name: of_file(str(settings.get(f"survey_{name}") or ""), session.file) or NOT_DECLARED
                for name in ("instrument", "crew", "method")
            },
            pole_shots=str(count),
            held=held.words,
        )


def _check_in(view: JobView, each: CheckIn) -> PackageCheckIn:
    point = next(point for point in view.control if point.name == each.control)
    described = f'"{each.description}", ' if each.description else ""
    return PackageCheckIn(
        session=each.session,
        control=each.control,
        datum=point.datum or NOT_DECLARED,
        known_north=grid_text(point.northing),
        known_east=grid_text(point.easting),
        known_elevation="" if point.elevation is None else grid_text(point.elevation),
        shot=f"{each.point} {described}{each.file} row {each.row}",
        how=each.how,
        observed_north=signed(each.observed_north, 3),
        observed_east=signed(each.observed_east, 3),
        north=signed(each.north, 3),
        east=signed(each.east, 3),
        up="" if each.up is None else signed(each.up, 3),
        sigma=f"{each.sigma:.3f}",
        fits="off" if each.off else "fits",
    )


def _anchor(view: JobView, check: AnchorCheck) -> PackageAnchor:
    line, number = view.key(check.required.row)
    wanted = check.required_lead if math.isfinite(check.required_lead) else check.required.lead
    return PackageAnchor(
        line=line,
        structure=number,
        guy=f"{check.required.guy.id} {check.required.label}",
        verdict=str(check.verdict),
        wanted_lead=grid_text(wanted),
        lead=grid_text(check.lead),
        direction=signed(check.azimuth_error_deg, 2),
        words="; ".join(check.words) if check.shot is not None else "not surveyed",
    )
