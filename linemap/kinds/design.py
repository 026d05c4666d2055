"""Lists of what the owner has drawn; readers of their own turn their cells into lengths and directions."""

from __future__ import annotations

from linemap.domain.design.context import ContextFeature
from linemap.domain.design.crossing import Crossing
from linemap.domain.design.guy import Guy
from linemap.domain.design.structure import Pole
from linemap.domain.design.structure_type import StructureType
from linemap.domain.framing.framing_type import FramingEntry
from linemap.domain.kind.kind import Cell, Keeps, Kind
from linemap.domain.kind.words import PLACE_WORDS, STRUCTURE_WORDS

__all__ = ["CONTEXT", "CROSSINGS", "FRAMING", "GUYS", "POLES", "TYPES"]

TYPES: Kind[StructureType] = Kind(
    code="types",
    record=StructureType,
    noun="type",
    table="structure_type",
    keeps=Keeps.STATE,
    key=("code",),
    needs=("code", "words | weight | blocks"),
    named_by=("code",),
    totals=True,
    # a table that names structures is a structure list
    extra={"number": Cell(STRUCTURE_WORDS)},
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
    totals=True,
    extra={"unit": Cell("unit units")},
)
POLES: Kind[Pole] = Kind(
    code="poles",
    record=Pole,
    noun="pole",
    table="pole",
    keeps=Keeps.STATE,
    key=("structure", "letter"),
    needs=("structure", "letter", "length_ft | pole_class | size | ground_elevation"),
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
    named_by=("structure", "kind"),
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
