"""Sheets of paper as PDF, files for other programs and stake-out, of all structures or of those chosen."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.office import Selection
from linemap.domain.record.person import Audience
from linemap.domain.staking.stakeout import StakePlan
from linemap.errors import NotAllowed
from linemap.report import ExportFormat, Paper, Sheet
from linemap.report.red_marks import red_marks_xlsx
from linemap.report.red_marks_pdf import red_marks_pdf
from linemap.service.export import export_bytes
from linemap.service.sheets.sheets import Chosen, chosen_rows, rows_of, selection_answer, sheet_pdf
from linemap.service.survey.package import package_files, package_zip
from linemap.service.survey.red_marks import red_marks
from linemap.service.survey.staking_table import stakeout_bytes
from linemap.web.cache import AnswerCache, Answers, AtTime, json_answer
from linemap.web.errors import refusals
from linemap.web.page import download, render_page
from linemap.web.session import Asking

router = APIRouter(tags=["sheets"], responses=refusals(404))
_MOST_STRUCTURES = 500
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


async def _choice(
    structures: Annotated[
        list[str] | None, Query(max_length=_MOST_STRUCTURES, description="only these")
    ] = None,
    line: Annotated[str, Query(max_length=200, description="on this line")] = "",
    first: Annotated[str, Query(alias="from", max_length=40, description="from this structure on")] = "",
    last: Annotated[str, Query(alias="to", max_length=40, description="up to this structure")] = "",
    mile: Annotated[int | None, Query(ge=0, le=100_000, description="of this mile")] = None,
    crew: Annotated[str, Query(max_length=200, description="where this crew has recorded anything")] = "",
) -> Chosen:
    """Return which structures a request chooses."""
    named = tuple(structures or ())
    return Chosen(structures=named, line=line, first=first, last=last, mile=mile, crew=crew)


#: Which structures a sheet or file is of.
Choice = Annotated[Chosen, Depends(_choice)]


async def _crews_answers(request: Request) -> AnswerCache:
    """Return the answers for crews, whoever asks: paper goes from hand to hand."""
    found: AnswerCache = request.app.state.answers[Audience.CREW]
    return found


@router.get(
    "/api/sheets/{sheet}.pdf",
    response_class=Response,
    responses={
        200: {"content": {"application/pdf": {}}, "description": "The sheets"},
        **refusals(422),
    },
    summary="Sheets to print",
)
def sheet(
    sheet: Sheet,
    cache: Annotated[AnswerCache, Depends(_crews_answers)],
    when: AtTime,
    chosen: Choice,
    paper: Annotated[Paper, Query(description="cards are half of it")] = "letter",
) -> Response:
    """Return cards, tables or lists of all structures, or of those chosen, as a crew may see the job."""
    made = sheet_pdf(cache.database, cache.view_of(when), sheet, chosen=chosen, paper=paper)
    return download(made, "application/pdf", f"{sheet}.pdf", shown=True)


@router.get("/exports", response_class=HTMLResponse, summary="Files and sheets of a selection")
def exports_page(request: Request, cache: Answers) -> Response:
    """Return the page of files and sheets."""
    view = cache.view()
    return render_page(request, "exports.html", title=view.name, waits=view.waits)


@router.get(
    "/api/selection", response_model=Selection, responses=refusals(422), summary="How many are chosen"
)
def selection(cache: Answers, when: AtTime, chosen: Choice) -> Response:
    """Return how many structures a choice is of."""
    found = selection_answer(cache.view_of(when), chosen)
    return json_answer(found, headers={"cache-control": "private, no-cache"})


_TYPES = {
    ExportFormat.SNAPSHOT: ("text/html", "html"),
    ExportFormat.CSV: ("text/csv", "csv"),
    ExportFormat.XLSX: (_XLSX, "xlsx"),
    ExportFormat.GEOJSON: ("application/geo+json", "geojson"),
    ExportFormat.GPKG: ("application/geopackage+sqlite3", "gpkg"),
    ExportFormat.PARQUET: ("application/vnd.apache.parquet", "parquet"),
}


@router.get(
    "/api/exports/{form}",
    response_class=Response,
    responses={
        200: {
            "content": {kind: {} for kind, _ in _TYPES.values()},
            "description": "The file",
        },
        **refusals(403, 422),
    },
    summary="The job as one file",
)
def export(
    request: Request,
    form: ExportFormat,
    asking: Asking,
    when: AtTime,
    chosen: Choice,
    reader: Annotated[Audience, Query(alias="for", description="who will read it")] = Audience.CREW,
) -> Response:
    """Return the page that opens without a network, or a table of all structures or of those chosen."""
    told = list(Audience)
    if told.index(reader) > told.index(asking.audience):
        raise NotAllowed(f"a file for the {reader} holds what is not shown to {asking.name}")
    cache: AnswerCache = request.app.state.answers[reader]
    kind, suffix = _TYPES[form]
    made = export_bytes(cache.view_of(when), form, chosen=chosen)
    return download(made, kind, f"{'snapshot' if suffix == 'html' else 'structures'}.{suffix}")


@router.get(
    "/api/red-marks.{form}",
    response_class=Response,
    responses={
        200: {"content": {_XLSX: {}, "application/pdf": {}}, "description": "The workbook, or the sheets"},
        **refusals(422),
    },
    summary="As-set table and red marks",
)
def marked(
    form: Literal["xlsx", "pdf"],
    cache: Answers,
    when: AtTime,
    chosen: Choice,
    paper: Annotated[Paper, Query(description="of the PDF")] = "letter",
) -> Response:
    """Return design, as set and difference of each structure, with causes, decisions and the shots used."""
    view = cache.view_of(when)
    sheet = red_marks(cache.database, view, rows=rows_of(view, chosen))
    made = red_marks_xlsx(sheet) if form == "xlsx" else red_marks_pdf(sheet, paper=paper)
    return download(made, _XLSX if form == "xlsx" else "application/pdf", f"red-marks.{form}")


@router.get(
    "/api/package.zip",
    response_class=Response,
    responses={200: {"content": {"application/zip": {}}, "description": "The package"}, **refusals(422)},
    summary="As-set package for examination by a licensed surveyor",
)
def package(
    cache: Answers,
    when: AtTime,
    paper: Annotated[Paper, Query(description="of the PDF")] = "letter",
) -> Response:
    """Return workbook, paper and the digests of the source files, with space for seal and signature."""
    files = package_files(cache.database, cache.view_of(when), paper=paper)
    return download(package_zip(files), "application/zip", "as-set-package.zip")


_Distances = Query(
    max_length=100, pattern=r"^[0-9., ]*$", description="distances, like 10,25; as declared when not given"
)


@router.get(
    "/api/stakeout.{form}",
    response_class=Response,
    responses={200: {"content": {"text/csv": {}, _XLSX: {}}, "description": "The file"}, **refusals(422)},
    summary="Points for the controller, or the staking table",
)
def stakeout(
    form: Literal["csv", "xlsx"],
    cache: Answers,
    when: AtTime,
    chosen: Choice,
    along: Annotated[str | None, _Distances] = None,
    arm: Annotated[str | None, _Distances] = None,
    order: Annotated[Literal["pnezd", "penzd"], Query(description="order of the points' columns")] = "pnezd",
) -> Response:
    """Return design centres, poles, offset stakes and anchor hubs as points, or as the staking table."""
    view = cache.view_of(when)
    plan = StakePlan.read(along, arm, view.stake_plan)
    made = stakeout_bytes(view, form, rows=chosen_rows(view, chosen), plan=plan, order=order)
    return download(made, "text/csv" if form == "csv" else _XLSX, f"stakeout.{form}")
