"""All declared kinds of lists, by noun and by their code."""

from __future__ import annotations

from typing import Any

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.guy import Guy
from linemap.domain.design.line import StationEquation
from linemap.domain.design.structure import Pole, StructureType
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.design.tolerance import ToleranceEntry
from linemap.domain.framing.framing_type import FramingEntry
from linemap.domain.kind.kind import Cell, Code, Keeps, Kind
from linemap.domain.kind.words import PLACE_WORDS, STRUCTURE_WORDS
from linemap.domain.record.person import Role
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.control import CONTROL_WORDS, DATUM_WORDS, ControlPoint
from linemap.domain.survey.fact import RecordedFact, unneeded
from linemap.kinds.columns import CENTRELINE, RECORDS, SHOTS, STRUCTURES

HOLDS: Kind[Hold] = Kind(
    code="holds",
    record=Hold,
    noun="hold",
    table="hold",
    keeps=Keeps.KEYED,
    key=("id",),
    needs=("activities", "structures | from_structure", "reason | condition | from_date"),
    named_by=("activities", "structures", "from_structure"),
    extra={
        "longitude": Cell("longitude lon lng", way="place"),
        "latitude": Cell("latitude lat", way="place"),
    },
)
TICKETS: Kind[Ticket] = Kind(
    code="tickets",
    record=Ticket,
    noun="ticket",
    table="ticket",
    keeps=Keeps.KEYED,
    key=("number",),
    needs=("number", "structures | from_structure", "expires | life"),
    named_by=("number",),
    public=False,
)
RECEIPTS: Kind[Receipt] = Kind(
    code="receipts",
    record=Receipt,
    noun="receipt of",
    table="receipt",
    keeps=Keeps.KEYED,
    key=("item", "structure"),
    needs=("item", "received | ordered", "due | received_on"),
    named_by=("item",),
    public=False,
    totals=True,
)


EQUATIONS: Kind[StationEquation] = Kind(
    code="equations",
    record=StationEquation,
    noun="station equation",
    table="equation",
    keeps=Keeps.STATE,
    key=("line", "back"),
    needs=("back + ahead | text",),
    loaders=(Role.SURVEYOR,),
    named_by=("back", "ahead", "text"),
    empty="the file holds no station equation",
    of_line=True,
    extra={
        "text": Cell("stationequation equationtext equations"),
        "name": Cell("name equation eq id pi no number pino", compared=True),
    },
)
TYPES: Kind[StructureType] = Kind(
    code="types",
    record=StructureType,
    noun="type",
    table="structure_type",
    keeps=Keeps.STATE,
    key=("code",),
    needs=("code", "words | weight | blocks"),
    named_by=("code",),
    unique=("code", "keep one of them"),
    totals=True,
    # a table that names structures is a structure list
    forbids=("number",),
    extra={"number": Cell(STRUCTURE_WORDS, compared=True)},
)
FRAMING: Kind[FramingEntry] = Kind(
    code="framing",
    record=FramingEntry,
    noun="framing of",
    table="framing",
    keeps=Keeps.STATE,
    key=("code", "dimension"),
    needs=("code", "dimension", "value"),
    named_by=("code", "dimension"),
    unique=("dimension", "keep one of them"),
    totals=True,
    extra={"unit": Cell("unit units")},
)
TOLERANCES: Kind[ToleranceEntry] = Kind(
    code="tolerances",
    record=ToleranceEntry,
    noun="tolerance",
    table="tolerance",
    keeps=Keeps.STATE,
    key=("name",),
    needs=("name", "value"),
    named_by=("value",),
    unique=("name", "keep one of them"),
)
POLES: Kind[Pole] = Kind(
    code="poles",
    record=Pole,
    noun="pole",
    table="pole",
    keeps=Keeps.STATE,
    key=("structure", "letter"),
    needs=("structure", "letter", "length_ft | pole_class | size | ground_elevation"),
    loaders=(Role.SURVEYOR,),
    named_by=("structure",),
    of_line=True,
    extra={
        "size": Cell(
            "heightclass poleheightclass polehtclass htclass size polesize lengthclass polelengthclass"
        )
    },
)
GUYS: Kind[Guy] = Kind(
    code="guys",
    record=Guy,
    noun="guy",
    table="guy",
    keeps=Keeps.STATE,
    key=("structure", "id"),
    needs=("structure", "kind", "lead | height + ratio | azimuth_deg"),
    loaders=(Role.SURVEYOR,),
    named_by=("structure", "kind"),
    unique=("id", "give each guy its own name"),
    part="line",
    totals=True,
)
CONTEXT: Kind[ContextFeature] = Kind(
    code="context",
    record=ContextFeature,
    noun="feature",
    table="context_feature",
    keeps=Keeps.STATE,
    key=("layer", "name"),
    needs=("longitude + latitude | easting + northing | geometry", "layer"),
    loaders=(Role.SURVEYOR,),
    named_by=("layer",),
    part="layer",
    extra={name: Cell(words) for name, words in PLACE_WORDS.items()},
)
CROSSINGS: Kind[Crossing] = Kind(
    code="crossings",
    record=Crossing,
    noun="crossing",
    table="crossing",
    keeps=Keeps.STATE,
    key=("what", "back_structure", "station"),
    needs=("what", "station | true_distance | span | back_structure"),
    named_by=("what",),
    extra={"span": Cell("span where spanstructures betweenstructures between")},
)
#: Points that come later stand beside those there are; a file that names one again measures it anew.
CONTROL: Kind[ControlPoint] = Kind(
    code="control",
    record=ControlPoint,
    noun="control point",
    several="control points",
    table="control_point",
    keeps=Keeps.KEYED,
    key=("name",),
    needs=("name", "easting + northing | longitude + latitude | geometry"),
    # a list of points with heights is as well one of shots
    known_by=f"{CONTROL_WORDS} {DATUM_WORDS}",
    loaders=(Role.SURVEYOR,),
    named_by=("name",),
    unique=("name", "keep one of them"),
    extra={name: Cell(PLACE_WORDS[name], way="place") for name in ("longitude", "latitude")},
)


#: A row of a file may hold several entries of one item: each of its days is one.
PUNCH: Kind[PunchEntry] = Kind(
    code="punch",
    record=PunchEntry,
    noun="punch item",
    table="punch_entry",
    keeps=Keeps.GROWS,
    key=("item", "action", "on"),
    needs=("item", "structure", "opened", "text | severity"),
    loaders=(Role.INSPECTOR,),
    named_by=("item",),
    public=False,
    totals=True,
    refusal="punch entries are only ever added; write a new entry that closes or reopens the item",
    extra={
        "opened": Cell("opened openedon dateopened opendate found foundon", way="day"),
        "closed": Cell("closed closedon dateclosed closedate", way="day"),
        "reopened": Cell("reopened reopenedon datereopened", way="day"),
    },
)
FACTS: Kind[RecordedFact] = Kind(
    code="facts",
    record=RecordedFact,
    noun="fact of",
    table="fact",
    keeps=Keeps.GROWS,
    key=("what", "structure", "pole", "on"),
    needs=(
        "structure",
        "what",
        "pointed_by | face | looking | upper_height | arm_length",
        "who | on",
    ),
    loaders=(Role.SURVEYOR, Role.INSPECTOR),
    named_by=("what", "structure"),
    idle=lambda row: unneeded(row["what"]),
    totals=True,
    refusal="facts are only ever added; record what you see now as a new fact",
)
#: A file holds a row for each week of a baseline. One made anew stands beside those before it.
PLANS: Kind[Baseline] = Kind(
    code="plan",
    record=Baseline,
    noun="baseline plan",
    table="plan",
    keeps=Keeps.GROWS,
    key=("line", "step", "revision"),
    needs=("planned", "week | revision | frozen_on"),
    named_by=("planned",),
    refusal="plans are frozen; give a new plan a revision of its own",
    once=True,
    extra={
        "week": Cell("week weekof weekbeginning weekstarting weekcommencing monday", way="day"),
        "planned": Cell(
            "planned plannedcumulative cumulativeplanned plannedtodate plancumulative target", way="count"
        ),
    },
)


_DESIGN = (CENTRELINE, EQUATIONS, TYPES, FRAMING, TOLERANCES, STRUCTURES, POLES, GUYS)
_WORK = (CONTROL, SHOTS, RECORDS, HOLDS, CROSSINGS, TICKETS, RECEIPTS, PUNCH, FACTS, CONTEXT, PLANS)
#: Code -> kind, in the order in which files of several kinds are stored: lists stand on centrelines.
DECLARED: dict[Code, Kind[Any]] = {kind.code: kind for kind in (*_DESIGN, *_WORK)}
#: Those of them that are kept, compared and shown as they are declared.
KINDS: dict[Code, Kind[Any]] = {code: kind for code, kind in DECLARED.items() if kind.table}
