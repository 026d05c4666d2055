"""Shapes of the JSON answers, for the OpenAPI document and for tests; units stand in the names or texts."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

__all__ = [
    "Centreline",
    "Centrelines",
    "Feature",
    "FeatureCollection",
    "Health",
    "Job",
    "JobLine",
    "Panel",
    "Structures",
]


class Health(BaseModel):
    """Answer of the monitor's question."""

    status: Literal["up"]
    #: Data version of the job; it grows by one with every change.
    data_version: int


class JobLine(BaseModel):
    """One line of the job. `length` is its horizontal ground length in the job's unit."""

    name: str
    back_end: str
    ahead_end: str
    crs: str
    length: float
    structure_count: int
    pole_a: Literal["left", "right"]


class Stage(BaseModel):
    """One framing stage, in the order they follow each other."""

    code: str
    words: str


class Job(BaseModel):
    """Head of the job: names, counts, dates, caution."""

    name: str
    data_version: int
    as_of: str
    unit: Literal["ft", "m"]
    tile_url: str | None
    tile_attribution: str | None
    caution: str
    lines: list[JobLine]
    stages: list[Stage]
    verdicts: list[str]
    counts: dict[str, dict[str, int]]


class SetPositions(BaseModel):
    """Surveyed poles: row indices, and [longitude, latitude] in 1e-7 degree for poles A, B, C (or null)."""

    index: list[int]
    a: list[list[int] | None]
    b: list[list[int] | None]
    c: list[list[int] | None]


class Structures(BaseModel):
    """All structures in line order, as columns of length `n`.

    `lon` and `lat` are differences of 1/`scale` degrees; `station` is in hundredths of a foot or thousandths
    of a metre; `deflection` is in degrees, right +; `arm` is the true azimuth from A to B in degrees;
    `spacing` is in metres; `hold` is 0 none, 1 conditional, 2 hold.
    """

    version: int
    n: int
    scale: int
    line: list[int]
    number: list[str]
    lon: list[int]
    lat: list[int]
    station: list[int]
    station_text: list[str]
    region: list[int]
    mile: list[int]
    deflection: list[float]
    arm: list[float]
    spacing: list[float | None]
    poles: list[int]
    stage: list[int]
    verdict: list[int]
    reversed: list[int]
    hold: list[int]
    set: SetPositions
    type: list[int]
    types: list[str]
    findings: list[int]


class Tick(BaseModel):
    """A station tick on the centreline; `azimuth` is the true azimuth of the line there, in degrees."""

    lon: float
    lat: float
    text: str
    region: int
    major: bool
    azimuth: float


class Centreline(BaseModel):
    """One centreline; `lon` and `lat` are differences of 1e-7 degrees."""

    name: str
    lon: list[int]
    lat: list[int]
    ticks: list[Tick]


class Centrelines(BaseModel):
    """All centrelines of the job."""

    lines: list[Centreline]


class Feature(BaseModel):
    """A GeoJSON feature of a context layer, in WGS 84 longitude and latitude."""

    type: Literal["Feature"]
    geometry: dict[str, Any]
    properties: dict[str, str]


class FeatureCollection(BaseModel):
    """The context layers as GeoJSON (RFC 7946)."""

    type: Literal["FeatureCollection"]
    features: list[Feature]


class Neighbour(BaseModel):
    """The structure back or ahead, and the span to it."""

    number: str
    span_text: str


class Coordinates(BaseModel):
    """Design centre in grid and in geographic coordinates, as text."""

    grid: str
    lonlat: str


class Number(BaseModel):
    """One measured residual with its standard uncertainty, tolerance and the tolerance's source."""

    name: str
    value_text: str
    sigma_text: str
    tolerance_text: str
    tolerance_source: str


class PanelCause(BaseModel):
    """The likely cause of the structure's exception: a proposal that a named person accepts or rejects."""

    words: str
    #: Cheapest moment still open to put it right.
    moment: str
    #: What to look up before deciding.
    asks_for: str


class PanelEvidence(BaseModel):
    """What second evidence comes to: labels reversed, frame turned, still open or as designed."""

    conclusion: str
    words: str
    #: What each fact says, in the order recorded.
    reasons: list[str]
    #: What to look at next while it is open; "" otherwise.
    asks_for: str


class PanelReading(BaseModel):
    """One plumb or level reading with its verdict, tolerance and where the tolerance comes from."""

    what: str
    words: str
    verdict: str
    tolerance_text: str
    tolerance_source: str
    sigma_text: str
    #: Who, when, and the note.
    seen: str


class PanelAnchor(BaseModel):
    """One scheduled guy with the place of its anchor, and how the surveyed anchor lies."""

    guy: str
    #: What is written on its lath: direction and side.
    label: str
    wanted: str
    verdict: str
    #: Direction, then lead; empty while it is not surveyed.
    words: list[str]
    tolerance_text: str
    tolerance_source: str


class PanelPole(BaseModel):
    """One pole of the schedule."""

    letter: str
    length_text: str
    pole_class: str
    ground_text: str
    ground_wire: bool | None


class PanelStep(BaseModel):
    """One step of the workflow and whether it is recorded."""

    step: str
    done: bool
    when: str
    crew: str
    note: str


class PanelHold(BaseModel):
    """One hold in force, as a sentence."""

    id: str
    sentence: str
    kind: Literal["hold", "conditional"]
    until: str


class PanelHistory(BaseModel):
    """One recorded event."""

    when: str
    text: str


class PanelShot(BaseModel):
    """One survey shot and where it came from."""

    pole: str
    point: str
    file: str
    row: int
    east_text: str
    north_text: str
    sigma_text: str


class PanelCrossing(BaseModel):
    """What the line crosses in a neighbouring span."""

    what: str
    span: str
    rule: str
    caution: str


class PanelMark(BaseModel):
    """One mark on a pole: distances along it from the top and from the butt, on wood and in decimals."""

    name: str
    drop: float
    drop_wood: str
    drop_text: str
    from_butt: float
    butt_wood: str
    butt_text: str
    above_text: str
    drawing: str


class PanelMarkedPole(BaseModel):
    """One pole with its depth, the height of its brand at that depth, and its marks from the top down."""

    letter: str
    length_text: str
    depth: float
    depth_text: str
    depth_wood: str
    least_depth_text: str
    brand: float | None
    brand_text: str
    marks: list[PanelMark]


class PanelMarks(BaseModel):
    """The framing marks of a structure; `unavailable` says what could not be worked out and why."""

    line: str
    number: str
    type: str
    unit: str
    spacing_text: str
    poles: list[PanelMarkedPole]
    sentences: list[str]
    unavailable: list[str]
    drawings: list[str]
    bundle: list[str]
    material: list[str]
    caution: str


class Panel(BaseModel):
    """Everything known of one structure, in the words and numbers a person reads."""

    line: str
    number: str
    station_text: str
    station_region: int | None
    true_distance_text: str
    offset_text: str
    type: str
    type_words: str
    remarks: str
    back: Neighbour | None
    ahead: Neighbour | None
    back_end: str
    ahead_end: str
    #: The span ahead on the grid, on the ground and on the ellipsoid.
    ahead_lengths_text: str
    wind_span_text: str
    #: With what it stands on; "not available: ..." without a declared catenary constant.
    weight_span_text: str
    ruling_span_text: str
    deflection_text: str
    structure_azimuth_text: str
    #: Magnetic azimuth of the arm on the day shown, with its uncertainty; "" outside the model's years.
    arm_magnetic_text: str
    arm_azimuth_text: str
    coordinates: Coordinates
    verdict: str
    reversed: bool
    probability: float | None
    residuals: list[str]
    cause: PanelCause | None
    second_evidence: PanelEvidence | None
    plumb: list[PanelReading]
    anchors: list[PanelAnchor]
    numbers: list[Number]
    landmark: str
    sketch_svg: str
    poles: list[PanelPole]
    marks: PanelMarks
    steps: list[PanelStep]
    holds: list[PanelHold]
    findings: list[str]
    changes: list[str]
    history: list[PanelHistory]
    shots: list[PanelShot]
    crossings: list[PanelCrossing]
    caution: str
