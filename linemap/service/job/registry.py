"""Everything a job declares, each said once.

Options of `linemap new` and `linemap declare`, the page of settings, `POST /api/declarations` and what is
printed of a job come from here. A new declaration is one entry, and whoever uses it asks the job's settings
by its name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any

from linemap.domain.crew.wind import read_wind_limit
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.person import Role
from linemap.domain.survey.proof import NEEDS
from linemap.geometry.projection import Projection
from linemap.service.job import declared, declared_steps
from linemap.service.job.naming import NAMING
from linemap.service.job.setting import Known, Setting, evidence_parts, tolerance_parts
from linemap.service.job.surveying import SURVEYING
from linemap.service.job.work import WORK


def _checked(read: Callable[[str], object]) -> Callable[[str, Known], str]:
    """Return a reader that keeps a text as it was written, once it can be read."""

    def reader(text: str, _known: Known) -> str:
        read(text)
        return text.strip()

    return reader


def _catenary(text: str, known: Known) -> Mapping[str, Any]:
    found = declared.read_catenary(text, unit=known.unit)
    return {"value": found.constant, "source": found.source}


def _wind(kept: str, _known: Known) -> str:
    return f"{round(float(kept), 2):g}"


_FACTOR_SHOWS = "every distance, the survey page, red marks"
_ALL = (
    Setting(
        "name",
        "name of the job",
        "job",
        means="what the job is called on every page and sheet; the file's name at first",
        example="North rebuild",
        shows="pages, sheets, exports",
    ),
    Setting(
        "crs",
        "coordinate reference",
        "coordinates",
        means="projected reference of all grid coordinates; it also says which foot or metre they are in",
        example="EPSG:6515",
        read=_checked(Projection.from_text),
        shows="every position",
        before_lists=True,
    ),
    Setting(
        "line",
        "name of the line",
        "line",
        means="name of the line when the files name none",
        example="North",
        shows="pages, sheets, exports",
        before_lists=True,
    ),
    Setting(
        "back_end",
        "back end",
        "line",
        means="name of the end the stations start from",
        example="Amber Sill",
        shows="map, cards, sheets",
        of_one=True,
    ),
    Setting(
        "ahead_end",
        "ahead end",
        "line",
        means="name of the end that ahead is towards",
        example="Cold Ford",
        shows="map, cards, sheets",
        of_one=True,
    ),
    Setting(
        "start_station",
        "start station",
        "line",
        means="station of the route start; 0+00 where it is not declared",
        example="10+50",
        read=_checked(declared.read_start_station),
        shows="every station",
        of_one=True,
    ),
    Setting(
        "pole_a",
        "side of pole A",
        "line",
        means="side of pole A looking ahead, left where it is not declared; "
        "lists with azimuths of arms are to be loaded again after it",
        example="left",
        read=_checked(declared.read_pole_a),
        shows="the A/B check, sketches, stake-out",
        choices=("left", "right"),
    ),
    *NAMING,
    Setting(
        "combined_factor",
        "combined factor",
        "coordinates",
        means="grid length = ground length x factor: a number, or auto from scale and ground elevations; "
        "verdicts wait for it",
        example="0.999217",
        read=_checked(declared.read_factor),
        shows=_FACTOR_SHOWS,
    ),
    Setting(
        "base_point",
        "base point",
        "coordinates",
        means="point the coordinates were scaled about, or none for plain grid coordinates; "
        "verdicts wait for it",
        example="none",
        shows=_FACTOR_SHOWS,
    ),
    Setting(
        "vertical_datum",
        "vertical datum",
        "coordinates",
        means="datum of elevations, with the geoid model; the factor auto waits for it",
        example="NAVD88, GEOID18",
        shows="survey page, red marks",
    ),
    Setting(
        "source",
        "source of the coordinates",
        "coordinates",
        means="document that factor, base point and datum come from; with other options, that these do",
        example="control sheet 2026-02-09",
        shows="survey page, red marks",
    ),
    Setting(
        "data_date",
        "data date",
        "days",
        means="day whose end the job is shown for; today where it is not declared",
        example="2026-05-15",
        read=lambda text, _known: declared.read_day(text),
        shows="every page and sheet",
    ),
    Setting(
        "time_zone",
        "time zone",
        "days",
        means="zone whose calendar and clock holds, tickets and today go by; "
        "that of the structures' place where it is not declared",
        example="America/Denver",
        read=lambda text, _known: declared.read_zone(text),
        shows="holds and tickets on phones, cards, next",
    ),
    Setting(
        "work_week",
        "work week",
        "days",
        means="days of the week that are worked; Mon-Thu is taken where it is not declared",
        example="Mon-Thu",
        read=_checked(declared.read_work_week),
        shows="rates, forecast, plan",
    ),
    Setting(
        "holidays",
        "holidays",
        "days",
        means="days that are not worked although their day of the week is",
        example="2026-07-03, 2026-11-26",
        read=lambda text, _known: declared.read_holidays(text),
        write=lambda kept, _known: ", ".join(kept),
        shows="rates, forecast, plan",
    ),
    Setting(
        "baseline",
        "baseline",
        "days",
        means="revision of the plan that slip is measured against; else the first plan that came",
        example="1",
        shows="progress, reports",
    ),
    *WORK,
    *SURVEYING,
    Setting(
        "tolerance",
        "tolerances",
        "judging",
        means="how far something may be off, with the document that says so: one of "
        + ", ".join(field.name for field in fields(Tolerances)),
        example="anchor_lead=0.5 ft: specification 7.3",
        read=lambda text, known: declared.read_tolerance(text, known.tolerances, unit=known.unit),
        parts=tolerance_parts,
        shows="verdicts, survey page, red marks",
        when_made=False,
    ),
    Setting(
        "evidence",
        "evidence of steps",
        "judging",
        means=f"what verifies the record of a step: some of {', '.join(NEEDS)}; or nothing",
        example="set=every pole, depth, level, photo: specification 9.1",
        read=lambda text, known: declared_steps.read_evidence(
            text, known.kept("evidence") or {}, workflow=known.workflow
        ),
        parts=evidence_parts,
        with_manager=Role.INSPECTOR,
        shows="cards, progress, punch list",
        when_made=False,
    ),
    Setting(
        "catenary_constant",
        "catenary constant",
        "judging",
        means="tension over weight per length at one loading; weight spans take it",
        example="4500 ft: sag table 3, 60 F, no load",
        read=_catenary,
        sourced=True,
        write=lambda kept, known: f"{kept['value']:,.10g} {known.unit.symbol}",
        shows="panel, exports",
    ),
    Setting(
        "wind_limit_mph",
        "employer's wind limit",
        "emergency",
        means="the employer's wind limit, shown beside the published note; there is none by default",
        example="35",
        read=lambda text, _known: read_wind_limit(text, "--wind-limit-mph"),
        write=_wind,
        unit="miles an hour",
        shows="phones, where wind is recorded, briefing",
    ),
    Setting(
        "equipment_wind_limit_mph",
        "wind limit of the lifting equipment",
        "emergency",
        means="the lowest limit of the equipment that lifts, as the employer enters it",
        example="25",
        read=lambda text, _known: read_wind_limit(text, "--equipment-wind-limit-mph"),
        write=_wind,
        unit="miles an hour",
        shows="phones, where wind is recorded, briefing",
    ),
    Setting(
        "hospital",
        "nearest hospital",
        "emergency",
        means="as the employer names it, with its way in; shown as written, and no advice",
        example="Amber Sill General, emergency entrance on Mill Road",
        shows="phone card and briefing, briefing sheet",
    ),
    Setting(
        "hospital_told",
        "who is told of it",
        "emergency",
        means="whom a crew calls, and who calls the hospital; shown as written, and no advice",
        example="site superintendent 555-0142, who calls ahead",
        shows="phone card and briefing, briefing sheet",
    ),
)
#: By their names; read in this order, as some need what is declared before them.
SETTINGS: Mapping[str, Setting] = MappingProxyType({each.name: each for each in _ALL})
