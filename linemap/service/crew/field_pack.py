"""What a phone takes along: the index of a job, and for each mile everything known of its structures.

A pack's version is a fingerprint of its content, so a phone fetches again only the miles that changed. The
page has no other source while it has no signal: whatever a person must see at a structure is in its pack.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import orjson
import shapely

from linemap.domain.crew.ticket import needs_ticket
from linemap.domain.design.line import Line
from linemap.domain.record.claim import StandingClaim, standing_claims
from linemap.domain.record.workflow import Step
from linemap.service.crew.crew_sites import ticket_cards
from linemap.service.crew.field_card import Surroundings, field_card, mile_of
from linemap.service.view.view import CAUTION, JobView
from linemap.store.claims import load_briefings, load_claims
from linemap.store.database import Database
from linemap.store.job import load_job
from linemap.store.revisions import list_revisions

__all__ = ["MilePack", "field_index", "load_surroundings", "mile_packs", "wind_limit_mph"]

#: Degrees around a mile's structures within which context features travel with it, about half a mile.
_MARGIN_DEG = 0.008
#: Decimals of context coordinates, about 0.1 m.
_DECIMALS = 6
#: Layers too coarse to help a crew find its way.
_LEFT_OUT = frozenset({"parcel"})


@dataclass(frozen=True, slots=True, kw_only=True)
class MilePack:
    """One mile of one line, as bytes."""

    line: str
    mile: int
    #: Structures in it.
    count: int
    #: Fingerprint of the content.
    version: str
    #: The answer as JSON.
    raw: bytes


def field_index(
    view: JobView, packs: Iterable[MilePack], sizes: Mapping[tuple[str, int], int]
) -> dict[str, Any]:
    """Return the part of the index that depends on the data alone: workflow, crews, lines, miles.

    Parameters
    ----------
    view : JobView
    packs : iterable of MilePack
        All packs, in line order.
    sizes : mapping of (line, mile) to int
        Bytes that travel for each pack.
    """
    miles: dict[str, list[dict[str, Any]]] = {line.name: [] for line in view.figures.lines}
    for pack in packs:
        miles[pack.line].append(
            {
                "mile": pack.mile,
                "structures": pack.count,
                "bytes": sizes[pack.line, pack.mile],
                "version": pack.version,
            }
        )
    return {
        "job": view.name,
        "data_version": view.data_version,
        "as_of": view.as_of.isoformat(),
        "caution": CAUTION,
        "workflow": {
            "steps": [_step_rule(step) for step in view.workflow.order()],
            "chain": list(view.workflow.chain),
        },
        "crews": _crews(view),
        "lines": [_line_head(line, miles[line.name]) for line in view.figures.lines],
    }


def mile_packs(view: JobView, around: Surroundings) -> tuple[MilePack, ...]:
    """Return the packs of all miles of all lines, in line order."""
    around = replace(around, tickets=ticket_cards(view))
    rows: dict[tuple[str, int], list[int]] = {}
    for row in range(len(view.figures)):
        rows.setdefault((view.key(row)[0], mile_of(view, row)), []).append(row)
    return tuple(_pack(view, around, line, mile, members) for (line, mile), members in rows.items())


def _step_rule(step: Step) -> dict[str, Any]:
    return {
        "code": step.code,
        "words": step.words,
        "per": step.per,
        "requires": list(step.requires),
        "needs_ticket": needs_ticket(step.code),
    }


def _crews(view: JobView) -> list[str]:
    return sorted({event.crew for events in view.events_by_structure.values() for event in events} - {""})


def _line_head(line: Line, miles: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "name": line.name,
        "back_end": line.back_end,
        "ahead_end": line.ahead_end,
        "pole_a": line.pole_a,
        "unit": line.unit.symbol,
        "miles": miles,
    }


def _pack(view: JobView, around: Surroundings, line: str, mile: int, rows: list[int]) -> MilePack:
    body: dict[str, Any] = {
        "line": line,
        "mile": mile,
        "structures": [field_card(view, around, row) for row in rows],
        "context": _context(view, rows),
    }
    version = hashlib.sha256(orjson.dumps(body)).hexdigest()[:16]
    raw = orjson.dumps({"version": version, **body})
    return MilePack(line=line, mile=mile, count=len(rows), version=version, raw=raw)


def _context(view: JobView, rows: list[int]) -> list[dict[str, Any]]:
    """Return roads, gates, water and other lines near the rows, cut to their surroundings."""
    lon, lat = view.figures.longitude[rows], view.figures.latitude[rows]
    west, east = float(lon.min()) - _MARGIN_DEG, float(lon.max()) + _MARGIN_DEG
    south, north = float(lat.min()) - _MARGIN_DEG, float(lat.max()) + _MARGIN_DEG
    near = []
    for feature in view.context:
        if feature.restricted or feature.layer in _LEFT_OUT:
            continue
        cut = shapely.clip_by_rect(feature.geometry, west, south, east, north)
        if not cut.is_empty:
            geometry = orjson.loads(
                shapely.to_geojson(shapely.transform(cut, lambda xy: np.round(xy, _DECIMALS)))
            )
            properties = {"layer": feature.layer, "name": feature.name}
            near.append({"type": "Feature", "geometry": geometry, "properties": properties})
    return near


def load_surroundings(database: Database, *, now: dt.datetime) -> Surroundings:
    """Return what the job's other records say of its structures at a moment of the server's clock."""
    with database.reading() as connection:
        listed = list_revisions(connection)
        claims = standing_claims(load_claims(connection), now=now)
        briefings = load_briefings(connection)
    newest: dict[tuple[str, str], dict[str, Any]] = {
        (briefed.line, briefed.structure): {"when": briefed.at.isoformat(), "by": briefed.person_in_charge}
        for briefed in sorted(briefings, key=lambda briefed: briefed.at)
    }
    claimed: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for standing in claims:
        claimed.setdefault(standing.claim.key, []).append(_claim(standing))
    return Surroundings(
        revisions={
            entry.line: entry.label for entry in listed if entry.kind == "structures" and entry.is_current
        },
        claims=claimed,
        briefings=newest,
        tickets={},
    )


def _claim(standing: StandingClaim) -> dict[str, Any]:
    return {
        "id": standing.claim.id,
        "crew": standing.claim.crew,
        "expires_at": standing.claim.ends.isoformat(timespec="minutes"),
        "sentence": standing.sentence,
    }


def wind_limit_mph(database: Database) -> float | None:
    """Return the employer's wind limit as the job's settings have it; None = nobody set one."""
    with database.reading() as connection:
        written = load_job(connection).settings.get("wind_limit_mph")
    return None if written in (None, "") else float(written)
