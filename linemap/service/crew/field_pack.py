"""What a phone takes along: the index of a job, and for each mile everything known of its structures.

A pack's version is a fingerprint of its content, so a phone fetches again only the miles that changed. The
page has no other source while it has no signal: whatever a person must see at a structure is in its pack.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import orjson
import shapely

from linemap.answers import field as answer
from linemap.answers.card import CardBriefing, CardClaim, FieldCard
from linemap.answers.line import Feature
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.claim import StandingClaim, standing_claims
from linemap.service.crew.field_card import Surroundings, design_cards, record_card
from linemap.service.crew.tape_plan import check_plans, plans_of
from linemap.service.view.view import JobView
from linemap.store.crew import load_briefings, load_claims
from linemap.store.database import Database
from linemap.store.states import list_states

#: Degrees around a mile's structures within which context features travel with it, about half a mile.
_MARGIN_DEG = 0.008
#: Decimals of context coordinates, about 0.1 m.
_DECIMALS = 6
#: Layers too coarse to help a crew find its way.
_LEFT_OUT = frozenset({"parcel"})


@dataclass(frozen=True, kw_only=True)
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

    @cached_property
    def packed(self) -> bytes:
        """The answer as it travels, compressed (RFC 1952)."""
        return gzip.compress(self.raw, 6, mtime=0)


class FieldPacks:
    """The packs of a job, made again only for the miles of which something changed.

    Made once for a base version of the job: lists, declarations and surroundings are put together then, and
    records of the field come on top. May be shared between threads.
    """

    def __init__(self, view: JobView) -> None:
        self._base = (view.mark, view.base_version, view.as_of)
        self._design = design_cards(view, range(len(view.figures)))
        self._rows: dict[tuple[str, int], list[int]] = {}
        for row in range(len(view.figures)):
            self._rows.setdefault((view.key(row)[0], self._design[row].mile), []).append(row)
        self._context = {mile: _context(view, rows) for mile, rows in self._rows.items()}
        tapes = {row: card.tape for row, card in enumerate(self._design)}
        self.check_plans = check_plans(plans_of(view, tapes))
        self._holds: tuple[tuple[Hold, ...], Mapping[tuple[str, str], tuple[Hold, ...]]] = ((), {})
        self._kept: dict[tuple[str, int], tuple[list[Any], MilePack]] = {}
        self._lock = threading.Lock()

    def fits(self, view: JobView) -> bool:
        """Say whether these are the packs of a view's lists and declarations."""
        return self._base == (view.mark, view.base_version, view.as_of)

    def packs(self, view: JobView, around: Surroundings) -> tuple[MilePack, ...]:
        """Return the packs of all miles of all lines, in line order."""
        with self._lock:
            if self._holds[0] != view.holds:  # a release changes them, and nothing else of the base
                self._holds = (view.holds, Coverage(view.holds).by_structure(view.row_of))
            return tuple(self._pack(view, around, mile, rows) for mile, rows in self._rows.items())

    def _pack(self, view: JobView, around: Surroundings, mile: tuple[str, int], rows: list[int]) -> MilePack:
        held = self._holds[1]
        recorded = [(held.get(view.key(row)), *_recorded(view, around, row)) for row in rows]
        known = self._kept.get(mile)
        if known is not None and known[0] == recorded:
            return known[1]
        body = answer.MileContent(
            mark=view.mark,
            line=mile[0],
            mile=mile[1],
            structures=[
                FieldCard(**vars(self._design[row]), **vars(record_card(view, around, row))) for row in rows
            ],
            context=self._context[mile],
        )
        content = orjson.dumps(body)
        version = hashlib.sha256(content).hexdigest()[:16]
        raw = b'{"version":"%s",' % version.encode() + content[1:]
        pack = MilePack(line=mile[0], mile=mile[1], count=len(rows), version=version, raw=raw)
        self._kept[mile] = (recorded, pack)
        return pack


def _recorded(view: JobView, around: Surroundings, row: int) -> tuple[Any, ...]:
    """Return what records change of a structure, beside its holds; two equal ones make the same card."""
    key = view.key(row)
    return (
        view.statuses.get(key),
        view.events_by_structure.get(key),
        view.ledger.recorded_at(key),
        around.claims.get(key),
        around.briefings.get(key),
        around.revisions.get(key[0]),
        view.cases.get(key),
    )


def _context(view: JobView, rows: list[int]) -> list[Feature]:
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
            near.append(Feature(type="Feature", geometry=geometry, properties=properties))
    return near


def load_surroundings(database: Database, *, now: dt.datetime) -> Surroundings:
    """Return what the job's other records say of its structures at a moment of the server's clock."""
    with database.reading() as connection:
        listed = list_states(connection)
        claims = standing_claims(load_claims(connection), now=now)
        briefings = load_briefings(connection)
    newest: dict[tuple[str, str], CardBriefing] = {
        (briefed.line, briefed.structure): CardBriefing(
            when=briefed.at.isoformat(), by=briefed.person_in_charge
        )
        for briefed in sorted(briefings, key=lambda briefed: briefed.at)
    }
    claimed: dict[tuple[str, str], list[CardClaim]] = {}
    for standing in claims:
        claimed.setdefault(standing.claim.key, []).append(_claim(standing))
    return Surroundings(
        revisions={
            entry.line: entry.label or date_words(entry.loaded_at.date())
            for entry in listed
            if entry.kind == "structures" and entry.is_current
        },
        claims=claimed,
        briefings=newest,
    )


def _claim(standing: StandingClaim) -> CardClaim:
    return CardClaim(
        id=standing.claim.id,
        crew=standing.claim.crew,
        expires_at=standing.claim.ends.isoformat(timespec="minutes"),
        sentence=standing.sentence,
    )
