"""The job and its lines: head, structures as columns, centrelines, context layers; units in the names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field


@dataclass(frozen=True, kw_only=True)
class JobLine:
    """One line of the job. `length` is its horizontal ground length in the job's unit."""

    name: str
    back_end: str
    ahead_end: str
    crs: str
    length: float
    structure_count: int
    pole_a: Literal["left", "right"]
    #: Back and ahead station of each station equation, in line order; what lies between has no place or two.
    equations: Sequence[Annotated[Sequence[float], Field(min_length=2, max_length=2)]]


@dataclass(frozen=True, kw_only=True)
class PlaceOnLine:
    """Where a place stands on one line; a place between two legs, or two lines, stands on each."""

    line: str
    #: With its region where the line has station equations.
    station_text: str
    region: int
    #: Ground length off the line, right positive, in the job's unit.
    offset: float
    #: Structures behind and ahead, "" beyond the last one.
    back: str
    ahead: str
    words: str


@dataclass(frozen=True, kw_only=True)
class FoundPlace:
    """One reading of a text as a place, in degrees and in the job's grid."""

    read_as: Literal["structure", "station", "grid", "degrees"]
    longitude: float
    latitude: float
    easting: float
    northing: float
    #: What was taken that is not written ("north first"), "" = nothing.
    note: str
    #: The structure named, else the nearest one beside the place; "" where a job has none.
    line: str
    structure: str
    on_lines: Sequence[PlaceOnLine]
    words: str


@dataclass(frozen=True, kw_only=True)
class Places:
    """What a text may mean as a place: every reading, and why there is none ("" when there is one)."""

    places: Sequence[FoundPlace]
    none: str


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One framing stage, in the order they follow each other."""

    code: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """What is not declared or loaded yet, what waits for it, and the page where it can be given."""

    #: Short names, which say nothing of the job: "lines", "structures", "combined factor".
    what: Sequence[str]
    words: str
    page: str
    link: str


@dataclass(frozen=True, kw_only=True)
class Job:
    """Head of the job: names, counts, dates, caution.

    `identity` is the job's own, its copies' too; `incarnation` changes when it is brought back from a copy;
    `software` is the version of linemap that answers.
    """

    name: str
    identity: str
    incarnation: str
    software: str
    data_version: int
    as_of: str
    #: The other time it is of, in words; "" = now.
    when: str
    unit: Literal["ft", "m"]
    tile_url: str | None
    tile_attribution: str | None
    caution: str
    waits: Sequence[Waiting]
    lines: Sequence[JobLine]
    stages: Sequence[Stage]
    verdicts: Sequence[str]
    #: What the owner calls the poles of a structure of two, and of three, in the order of A, B and C.
    pole_words: Sequence[Sequence[str]]
    counts: Mapping[str, Mapping[str, int]]


@dataclass(frozen=True, kw_only=True)
class SetPositions:
    """Surveyed poles: row indices, and [longitude, latitude] in 1e-7 degree for poles A, B, C (or null)."""

    index: Sequence[int]
    a: Sequence[Sequence[int] | None]
    b: Sequence[Sequence[int] | None]
    c: Sequence[Sequence[int] | None]


@dataclass(frozen=True, kw_only=True)
class StructuresBase:
    """The columns that no record of the field changes, as `Structures` has them."""

    n: int
    scale: int
    line: Sequence[int]
    number: Sequence[str]
    lon: Sequence[int]
    lat: Sequence[int]
    station: Sequence[int]
    station_text: Sequence[str]
    region: Sequence[int]
    mile: Sequence[int]
    deflection: Sequence[float]
    arm: Sequence[float]
    spacing: Sequence[float | None]
    poles: Sequence[int]
    verdict: Sequence[int]
    reversed: Sequence[int]
    hold: Sequence[int]
    set: SetPositions
    type: Sequence[int]
    types: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class StructuresRecord:
    """What changes with every record, in the same order; `version` is the data version."""

    version: int
    stage: Sequence[int]
    #: Highest severity of what there is to look at: 0 nothing, 2 cannot tell, 3 wrong, 4 stops work.
    worst: Sequence[int]
    #: How many findings each has.
    findings: Sequence[int]
    #: How many open cases each has.
    cases: Sequence[int]


@dataclass(frozen=True, kw_only=True)
class Structures(StructuresRecord, StructuresBase):
    """All structures in line order, as columns of length `n`.

    `lon` and `lat` are differences of 1/`scale` degrees; `station` is in hundredths of a foot or thousandths
    of a metre; `deflection` is in degrees, right +; `arm` is the true azimuth from A to B in degrees;
    `spacing` is in metres; `hold` is 0 none, 1 conditional, 2 hold.
    """


@dataclass(frozen=True, kw_only=True)
class Tick:
    """A station tick on the centreline; `azimuth` is the true azimuth of the line there, in degrees."""

    lon: float
    lat: float
    text: str
    region: int
    major: bool
    azimuth: float


@dataclass(frozen=True, kw_only=True)
class Centreline:
    """One centreline; `lon` and `lat` are differences of 1e-7 degrees."""

    name: str
    lon: Sequence[int]
    lat: Sequence[int]
    ticks: Sequence[Tick]


@dataclass(frozen=True, kw_only=True)
class Centrelines:
    """All centrelines of the job."""

    lines: Sequence[Centreline]


@dataclass(frozen=True, kw_only=True)
class Feature:
    """A GeoJSON feature of a context layer, in WGS 84 longitude and latitude."""

    type: Literal["Feature"]
    geometry: Mapping[str, Any]
    properties: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class FeatureCollection:
    """The context layers as GeoJSON (RFC 7946)."""

    type: Literal["FeatureCollection"]
    features: Sequence[Feature]
